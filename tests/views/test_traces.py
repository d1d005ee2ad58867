"""Trace and recall as pages: the same numbers as the trace itself, in words."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests import factories as make
from tests.factories import at

pytestmark = pytest.mark.django_db


@pytest.fixture
def vessel(manager):
    """60 L in a vessel, 40 L drawn to A, then 40 L of a blend added, then 30 L to B."""
    batch = make.batch(manager, "60 L", when=at(3))
    first = make.bottles(manager, 100, batch, "40 L", at(10))
    blend = make.batch(manager, "40 L", when=at(4))
    make.use(manager, blend, batch, "40 L", at(12))
    second = make.bottles(manager, 90, batch, "30 L", at(14))
    shop = make.customer(
        manager, "Corner Larder", contact="Rui Pestana", phone="555-0113", email="rui@example.com"
    )
    stall = make.customer(manager, "Saturday market", kind="public")
    make.shipment(manager, first, "60", shop, at(16))
    make.shipment(manager, second, "20", stall, at(17))
    return batch, blend, first, second


def _rows(page, code: str) -> list[list[str]]:
    # The picture's own table has three columns.
    return [row for row in page.rows if row[0].split()[0] == code and len(row) > 3]


def test_the_trace_says_how_much_of_a_lot_is_where(browse, operator, vessel):
    _, blend, first, second = vessel

    page = browse(operator).open(reverse("lot-trace", args=[blend.code]))

    # Of 60 L in the vessel 40 L are blend; 30 L of it hold 20 L, 90 bottles 222.2 mL each.
    (row,) = _rows(page, second.code)
    assert row[3:] == ["2", "20 L", "222.2 mL", "4.444 L", "15.56 L"]
    (earlier,) = _rows(page, first.code)
    assert "drawn before" in earlier[1]
    assert "on 10 Mar 2026 09:00, which the suspect lot reached on 12 Mar 2026 09:00" in earlier[1]
    assert ["All of it", "40 L"] in page.rows


def test_the_trace_goes_back_to_what_went_in(browse, operator, vessel):
    batch, blend, _, second = vessel

    page = browse(operator).open(reverse("lot-trace", args=[second.code]))

    (row,) = _rows(page, blend.code)
    assert row[3:6] == ["2", "20 L", "222.2 mL"]
    (direct,) = _rows(page, batch.code)
    assert direct[3:6] == ["1", "30 L", "333.3 mL"]
    assert "Nothing has been made from it." in page.text


def test_the_recall_names_who_has_how_many(browse, operator, vessel):
    _, blend, first, second = vessel

    page = browse(operator).open(reverse("lot-recall", args=[blend.code]))

    assert "Bottling lots 2" in page.text
    assert "Filled 190" in page.text
    assert "Shipped 80" in page.text
    assert "On hand 110" in page.text
    assert "Customers 2" in page.text
    assert page.links["555-0113"] == "tel:555-0113"
    assert page.links["rui@example.com"] == "mailto:rui@example.com"
    assert "sold to the public: nobody to telephone" in page.text
    assert "1 of the lots (100 filled) were drawn before" in page.text
    had = {row[0]: row[1] for row in page.rows if len(row) == 5}
    assert had == {"Lot": "Had", f"{first.code} drawn before": "60", second.code: "20"}


def test_suspect_only_since_a_time_marks_more_and_leaves_nothing_out(browse, operator, vessel):
    batch, _, _, second = vessel
    address = reverse("lot-recall", args=[batch.code])

    always = browse(operator).open(address)
    since = browse(operator).open(address, since="2026-03-13T08:00")

    assert "were drawn before" not in always.text
    assert "1 of the lots (100 filled) were drawn before" in since.text
    assert "Filled 190" in since.text
    assert since.fields["since"] == "2026-03-13T08:00"
    assert "drawn before" not in _rows(since, second.code)[0][0]


def test_a_time_that_cannot_be_read_is_said_and_nothing_is_marked(browse, operator, vessel):
    page = browse(operator).open(reverse("lot-recall", args=[vessel[0].code]), since="last week")

    assert page.links["Suspect only since"] == "#id_since"
    assert "were drawn before" not in page.text


def test_what_is_not_bottled_is_still_found(browse, operator, vessel):
    batch = vessel[0]

    page = browse(operator).open(reverse("lot-recall", args=[batch.code]))

    assert _rows(page, batch.code)[0][1:2] == ["batch"]
    assert _rows(page, batch.code)[0][3] == "30 L"


def test_a_lot_nothing_was_made_from_has_a_trace(browse, inspector, manager):
    tea = make.ingredient_lot(manager)

    page = browse(inspector).open(reverse("lot-trace", args=[tea.code]))
    recall = browse(inspector).open(reverse("lot-recall", args=[tea.code]))

    assert "Nothing has been made from it." in page.text
    assert "Nothing is written that went into it." in page.text
    assert "None of it was shipped." in recall.text


def test_a_long_trace_says_what_it_leaves_out(browse, operator, manager, monkeypatch):
    monkeypatch.setattr("brewlog.views.traces.MOST_OF_A_KIND", 2)
    batch = make.batch(manager)
    for _ in range(3):
        make.bottles(manager, 10, batch, "4 L", at(10))
    address = reverse("lot-trace", args=[batch.code])

    short = browse(operator).open(address)
    whole = browse(operator).open(address, all=1)

    assert "1 more are not shown here." in short.text
    assert short.links["Show all 3"] == "?all=1"
    assert len([row for row in short.rows if row[0].startswith("L")]) == 4
    assert len([row for row in whole.rows if row[0].startswith("L")]) == 5
    assert "not shown here" not in whole.text


def test_a_long_recall_says_what_it_leaves_out_and_counts_all_of_it(
    browse, operator, manager, monkeypatch
):
    monkeypatch.setattr("brewlog.views.traces.MOST_OF_A_KIND", 2)
    monkeypatch.setattr("brewlog.views.traces.MOST_OF_A_CUSTOMER", 1)
    batch = make.batch(manager)
    shop, other = make.customer(manager, "Corner Shop"), make.customer(manager, "Hill Café")
    for _ in range(3):
        lot = make.bottles(manager, 10, batch, "4 L", at(10))
        make.shipment(manager, lot, "4", when=at(22), to=shop)
    make.shipment(manager, lot, "2", when=at(22), to=other)
    browser, address = browse(operator), reverse("lot-recall", args=[batch.code])

    short = browser.open(address)

    assert "12 bottles of 3 lots, 0 brought back." in short.text
    assert "2 of the 3 lots they had are not shown here." in short.text
    assert "1 more are not shown here." in short.text
    whole = browser.open(address + short.links["Show all 3 bottling lots"])
    assert "more are not shown here" not in whole.text
    assert len([row for row in whole.rows if len(row) == 10]) == 4
    of_shop = browser.open(address + short.links["Show all 3 of Corner Shop"])
    assert "Hill Café" not in of_shop.text
    assert "Customers 2" in of_shop.text
    assert len([row for row in of_shop.rows if len(row) == 5 and row[0].startswith("L2")]) == 3
