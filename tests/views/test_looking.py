"""The look at a jar on a phone: what is told of each is tapped, the rest is folded away."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from brewlog.models import ConditionCheck
from tests import factories as make
from tests.factories import now

pytestmark = pytest.mark.django_db

LOOK = reverse("entry", args=["condition"])


@pytest.fixture
def jar(manager):
    return make.culture(manager, when=now(-5))


def folded(page) -> str:
    """What stands in the part that opens on demand."""
    return page.response.content.decode().partition('<details class="more"')[2]


def test_a_look_is_two_taps_and_the_button(browse, operator, jar):
    browser = browse(operator)
    page = browser.open(LOOK, lot=jar.code)

    assert page.fields["lot"] == jar.code
    assert "mould" not in page.fields
    browser.send(LOOK, page.fields | {"mould": "unsure", "verdict": "wait"})

    check = ConditionCheck.objects.get()
    assert (check.mould, check.verdict) == ("unsure", "wait")


def test_what_is_seen_now_and_then_is_folded_away_and_named(browse, operator, jar):
    page = browse(operator).open(LOOK, lot=jar.code)

    assert "10 more, where they apply Smell, Colour and film, Taste, When…" in page.text
    assert 'name="photo"' not in folded(page)
    assert 'name="flies"' in folded(page)


def test_nothing_wrong_is_hidden_in_the_fold(browse, operator, jar):
    browser = browse(operator)

    page = browser.send(LOOK, browser.fill(LOOK, lot=jar.code, smell="x" * 121))

    assert folded(page).startswith(" open>")
    assert not ConditionCheck.objects.exists()


def test_whether_there_is_mould_is_asked_and_led_to_where_it_is_not_said(browse, operator, jar):
    browser = browse(operator)

    page = browser.send(LOOK, browser.fill(LOOK, lot=jar.code, verdict="ready"))

    assert page.links["Mould"] == "#id_mould_0"
    assert not ConditionCheck.objects.exists()


def test_no_verdict_has_to_be_tapped_and_no_blank_one_is_offered(browse, operator, jar):
    browser = browse(operator)
    page = browser.open(LOOK, lot=jar.code)

    assert "verdict" not in page.fields
    assert "—" not in page.text.partition("Verdict")[2].partition("Photo")[0]
    browser.send(LOOK, page.fields | {"mould": "none"})
    assert ConditionCheck.objects.get().verdict == ConditionCheck.Verdict.WAIT


def test_a_wrong_answer_leads_to_the_first_of_those_to_be_tapped(browse, operator, jar):
    browser = browse(operator)

    page = browser.send(LOOK, browser.fill(LOOK, lot=jar.code, mould="blue"))

    assert "#id_mould_0" in page.links.values()
    assert "id_mould_0" in page.ids


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("film.heic", b"\0\0\0\x18ftypheic", "Let the phone's camera save JPEG"),
        ("film.jpg", b"\xff\xd8\xff torn off", "That picture cannot be opened"),
        ("film.jpg", b"", "That file is empty."),
        ("film.jpg", b"\xff\xd8\xff" + b"0" * (10 * 1024 * 1024), "at most 10 MB are kept"),
    ],
    ids=["a phone's own kind", "damaged", "empty", "too large"],
)
def test_a_photo_that_cannot_be_kept_is_told_once_and_what_was_tapped_stays(
    browse, operator, jar, name, content, said
):
    browser = browse(operator)
    typed = browser.fill(LOOK, lot=jar.code, smell="vinegar") | {"mould": "none"}

    page = browser.send(LOOK, typed | {"photo": SimpleUploadedFile(name, content)})

    # In the list on top and at the field, and no second time.
    assert page.text.count(said) == 2
    assert (page.fields["smell"], page.fields["mould"]) == ("vinegar", "none")
    assert not ConditionCheck.objects.exists()
