"""Where something typed is wrong, the page says what has not happened: in words of its own."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests import factories as make

pytestmark = pytest.mark.django_db
RECORDED = "Nothing has been recorded yet."


@pytest.mark.parametrize(
    ("name", "query", "said"),
    [
        ("lot-recall", {"since": "yesterweek"}, "Nothing is marked as drawn before."),
        ("lot-stock", {"since": "yesterweek"}, "The usual period is shown."),
    ],
)
def test_a_page_that_records_nothing_does_not_speak_of_recording(
    browse, operator, manager, name, query, said
):
    page = browse(operator).open(reverse(name, args=[make.batch(manager).code]), **query)

    assert said in page.text
    assert RECORDED not in page.text


def test_a_paper_that_is_not_made_says_so(browse, manager):
    page = browse(manager).open(reverse("binder-pdf"), first="yesterweek")

    assert "No paper was made." in page.text
    assert RECORDED not in page.text


def test_an_entry_that_is_wrong_says_that_nothing_is_recorded(browse, operator):
    page = browse(operator).send(reverse("entry", args=["supplier"]), {"name": ""})

    assert RECORDED in page.text


@pytest.mark.parametrize(("name", "said"), [("void", "voided"), ("correct", "corrected")])
def test_what_is_not_mended_yet_says_so(browse, operator, manager, name, said):
    reading = make.reading(manager, make.batch(manager), "3.31")
    page = browse(operator).send(
        reverse(f"record-{name}", args=["checkpoint", reading.pk]), {"reason": " "}
    )

    assert f"Nothing has been {said} yet." in page.text
