"""What the records tell, on the page of a lot and beside the forms about it."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests import factories as make
from tests.factories import at

pytestmark = pytest.mark.django_db


def entry(slug):
    return reverse("entry", args=[slug])


@pytest.fixture
def batch(manager):
    starter = make.culture(manager, "10 L", code="S1")
    make.reading(manager, starter, "3.00", at(2))
    found = make.batch(
        manager, "60 L", starter=starter, code="B7", recipe=make.recipe_version(manager)
    )
    make.reading(manager, found, "4.10", at(4))
    return found


def test_a_lots_page_tells_and_leads_to_the_working(browse, inspector, batch):
    page = browse(inspector).open(reverse("lot-detail", args=["B7"]))

    assert "Starter was 10.0 %: pH 4." in page.text
    address = reverse("calculation", args=["pitched-ph"])
    assert page.links["pH after adding starter"] == f"{address}?for-lot=B7"
    assert page.links["Bottling plan"].endswith("?for-lot=B7")


def test_a_delivery_has_nothing_to_work_out(browse, operator, manager):
    lot = make.ingredient_lot(manager)

    assert "Work out" not in browse(operator).open(reverse("lot-detail", args=[lot.code])).text


@pytest.mark.parametrize(
    ("slug", "query", "told"),
    [
        ("pitch", {"batch": "B7"}, "S1 (pH 3.00): about"),
        ("pitch", {"source": "s1"}, "S1 (pH 3.00): about"),
        ("reading", {"lot": "B7"}, "Read last: pH 4.10"),
        ("bottle", {"source": "B7"}, "60 L on hand; last pH 4.10"),
        ("bottle-one", {"batch": "B7"}, "60 L on hand; last pH 4.10"),
    ],
)
def test_a_form_opened_for_a_lot_tells_what_is_known(browse, operator, batch, slug, query, told):
    page = browse(operator).open(entry(slug), **query)

    assert "From the records of" in page.text
    assert told in page.text


@pytest.mark.parametrize("query", [{}, {"lot": "NOPE"}, {"lot": "  "}])
def test_a_form_about_no_known_lot_tells_nothing(browse, operator, query):
    assert "From the records of" not in browse(operator).open(entry("reading"), **query).text


def test_what_was_typed_before_a_mistake_is_still_told_about(browse, operator, batch):
    form = browse(operator).fill(entry("reading"), lot="B7", value="fifty")

    page = browse(operator).send(entry("reading"), form)

    assert "to mend" in page.text
    assert "Read last: pH 4.10" in page.text


def test_the_planned_amounts_stand_beside_what_went_in(browse, operator, manager):
    recipe = make.recipe_version(manager)
    batch = make.batch(manager, "40 L", recipe=recipe, planned=make.quantity("40 L"))

    rows = browse(operator).open(reverse("lot-detail", args=[batch.code])).rows

    starter = next(row for row in rows if row[0] == "starter")
    assert starter[:4] == ["starter", "4 L", "100 mL", "6 L"]
    assert starter[4].startswith("S")
