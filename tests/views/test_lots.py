"""The page of a lot, and the way there."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from brewlog.domain import batches, cultures, holds, lots
from brewlog.models import LotKind
from brewlog.views.work import NEXT_FOR_LOTS
from tests import factories as make
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db


def _page(lot) -> str:
    return reverse("lot-detail", args=[lot.code])


@pytest.fixture
def story(manager):
    """A starter in a batch, read twice, bottled and shipped."""
    starter = make.culture(manager, "10 L")
    batch = make.batch(manager, "60 L", starter=starter, starter_amount="6 L", when=at(3))
    make.reading(manager, batch, "3.52", at(8), instrument=make.instrument(manager, "Meter A"))
    make.reading(manager, batch, "3.11", at(12))
    bottles = make.bottles(manager, 90, batch, "30 L", at(20))
    make.shipment(manager, bottles, "40", make.customer(manager, "Corner Larder"), at(25))
    return starter, batch, bottles


def test_everything_about_a_batch_is_on_its_page(browse, operator, story):
    starter, batch, bottles = story

    page = browse(operator).open(_page(batch))

    assert page.status == 200
    assert ["On hand", "30 L"] in page.rows
    assert ["Used as drink bottled", "−30 L"] in page.rows
    assert page.links[starter.code] == _page(starter)
    assert page.links[bottles.code] == _page(bottles)
    readings = [row[1:3] for row in page.rows if len(row) > 3 and row[1] == "pH"]
    assert readings == [["pH", "3.52"], ["pH", "3.11"]]
    assert "Meter A" in page.links


@pytest.mark.parametrize("kind", ["batch", "brew"])
def test_what_the_planned_volume_takes_is_on_its_page(browse, operator, manager, kind):
    # Per litre: 5 g of tea, 60 g of sugar, 100 mL of starter, which is not brewed.
    recipe = make.recipe_version(manager)
    begin = {"batch": batches.plan_batch, "brew": batches.start_brew}[kind]
    lot = begin(actor=manager, when=at(3), recipe=recipe, planned=quantity("50 L"))

    rows = [row[:3] for row in browse(operator).open(_page(lot)).rows]

    start = rows.index(["What", "Amount", "Per litre"])
    tea, sugar, _ = (str(line.ingredient) for line in recipe.lines.all())
    takes = [[tea, "250 g", "5 g"], [sugar, "3 kg", "60 g"]]
    if kind == "batch":
        takes.append(["starter", "5 L", "100 mL"])
    assert rows[start + 1 :] == takes


def test_the_account_of_bottles_closes(browse, operator, story):
    page = browse(operator).open(_page(story[2]))

    start = page.rows.index(["Made or received", "90"])
    assert page.rows[start : start + 3] == [
        ["Made or received", "90"],
        ["Shipped", "−40"],
        ["On hand", "50"],
    ]
    assert page.links["Corner Larder"].startswith("/customers/")


def test_more_gone_than_there_was_is_named(browse, operator, manager):
    bottles = make.bottles(manager, 10)
    make.shipment(manager, bottles, "12")

    page = browse(operator).open(_page(bottles))

    assert ["Unexplained: more left than the books had", "2"] in page.rows
    assert ["On hand", "0"] in page.rows
    assert "more gone than the books show" in page.text
    assert "2 more than they show" in page.text


def test_a_list_says_the_same_of_what_is_on_hand_as_the_page_of_the_lot(browse, operator, manager):
    bottles = make.bottles(manager, 10)
    make.shipment(manager, bottles, "12")

    [row] = [r for r in browse(operator).open(reverse("lot-list")).rows if bottles.code in r[0]]

    assert "0, 2 unexplained" in row


def test_a_voided_use_stays_on_both_pages_struck_through(browse, operator, manager):
    tea, brew = make.ingredient_lot(manager, "5 kg"), make.brew(manager)
    use = make.use(manager, tea, brew, "1 kg", purpose="ingredient")
    lots.void(actor=manager, record=use, reason="another lot")

    for lot in (tea, brew):
        page = browse(operator).open(_page(lot))
        assert [row[3] for row in page.rows if row[0].endswith("voided")] == ["1 kg"]
        assert page.response.content.decode().count('class="struck"') == 1
    assert ["On hand", "5 kg"] in browse(operator).open(_page(tea)).rows


def test_amounts_are_read_in_the_units_of_the_reader(browse, operator, story):
    operator.units = "us"
    operator.save()

    page = browse(operator).open(_page(story[1]))

    assert ["On hand", "7.925 gal"] in page.rows


@pytest.mark.parametrize("name", ["lot-detail", "lot-trace", "lot-recall"])
def test_an_unknown_code_suggests_those_near_it(browse, operator, story, name):
    batch = story[1]
    near = batch.code[:-1]

    page = browse(operator).open(reverse(name, args=[near]))

    assert page.status == 404
    assert f"No lot has the code “{near}”" in page.text
    assert page.links[batch.code] == _page(batch)


def test_a_code_with_a_stroke_or_a_space_has_a_page(browse, operator, manager):
    lot = make.ingredient_lot(manager, code="TW/88 B")

    page = browse(operator).open(_page(lot))

    assert page.status == 200
    assert browse(operator).open(reverse("lot-trace", args=[lot.code])).status == 200


def test_a_lot_kept_back_says_why_and_what_to_do(browse, operator, reviewer, story):
    starter, _, bottles = story
    make.hold(reviewer, starter, "mould", why="green spots")

    page = browse(operator).open(_page(bottles))

    assert "Kept back: do not use, bottle, label for sale or ship" in page.text
    assert f"Made from {starter.code}, held: mould or foreign growth" in page.text
    offered = [words for words, url in page.links.items() if "/record/" in url and "?" in url]
    assert offered[0] == "Take a reading"
    assert offered[-3:] == [
        "Send out or sell",
        "Sell at a stall or the door",
        "Something went wrong",
    ]
    assert page.links[starter.code] == _page(starter)
    who_has_it = page.links[f"Who has what was made from {bottles.code}"]
    assert who_has_it == reverse("lot-recall", args=[bottles.code])


def test_warm_bottles_go_to_the_cold_before_they_are_sent_out(browse, operator, manager):
    bottles = make.bottles(operator)
    browser = browse(operator)

    def first():
        page = browser.open(_page(bottles))
        return next(words for words, url in page.links.items() if "/record/" in url and "?" in url)

    assert first() == "Move stock, or put it in the cold"
    make.move(operator, bottles, "1", make.location(manager, "Cooler", is_cold=True))
    assert first() == "Send out or sell"


def test_bottles_are_not_offered_to_brew_with(browse, operator, manager):
    of = make.ingredient(manager, "Bottle 330 mL", kind="packaging", dimension="count")
    lot = make.ingredient_lot(manager, "50", of)

    assert "Brew with it" not in browse(operator).open(_page(lot)).links


def test_a_hold_ended_at_a_lot_is_told_there(browse, operator, reviewer, story):
    starter, _, bottles = story
    hold = make.hold(reviewer, starter, "mould", why="green spots")
    holds.end_hold_at(actor=reviewer, hold=hold, lot=bottles, reason="drawn before the mould")

    page = browse(operator).open(_page(bottles))

    assert "Kept back" not in page.text
    assert "drawn before the mould" in page.text
    assert page.links[str(hold)] == reverse("hold-detail", args=[hold.pk])


def test_a_voided_lot_stays_visible_beside_the_one_that_took_its_code(browse, operator, manager):
    wrong = make.ingredient_lot(manager, code="TW-1")
    lots.void(actor=manager, record=wrong, reason="typed twice")
    right = make.ingredient_lot(manager, code="TW-1")

    page = browse(operator).open(_page(right))
    of_wrong = browse(operator).open(_page(right), entry=wrong.pk)

    assert "typed twice" in page.text
    assert page.links["TW-1"] == f"{_page(right)}?entry={wrong.pk}"
    assert "Voided typed twice" in of_wrong.text
    assert "Kept back" not in of_wrong.text


def test_a_code_only_a_voided_lot_had_leads_to_it(browse, operator, manager):
    wrong = make.ingredient_lot(manager, code="TW-1")
    lots.void(actor=manager, record=wrong, reason="typed twice")

    assert "typed twice" in browse(operator).open(_page(wrong)).text


def test_a_starter_counts_its_transfers(browse, operator, manager, story):
    kept = cultures.keep_back(actor=manager, batch=story[1], when=at(15), quantity=quantity("3 L"))

    assert "Transfers since bought 1" in browse(operator).open(_page(kept)).text


def test_what_makes_sense_next_is_offered_filled_in(browse, operator, manager):
    planned = make.batch(manager)
    waiting = make.ingredient_lot(manager, accepted=False)

    batch_links = browse(operator).open(_page(planned)).links
    delivery_links = browse(operator).open(_page(waiting)).links

    reading = reverse("entry", args=["reading"])
    assert batch_links["Take a reading"] == f"{reading}?lot={planned.code}"
    assert "Add starter" not in batch_links
    assert delivery_links["Accept a delivery"].endswith(f"/accept/?lot={waiting.code}")
    assert "Lift a hold" not in delivery_links


def test_an_inspector_sees_everything_and_no_way_to_write(browse, inspector, story):
    for lot in story:
        page = browse(inspector).open(_page(lot))

        assert page.status == 200
        written = [url for url in page.links.values() if "/record/" in url]
        assert written == []
        assert "Correct or void" not in page.links


def test_a_stranger_is_sent_to_log_in(story):
    response = Client().get(_page(story[0]))

    assert response["Location"].startswith(reverse("login"))


def test_every_kind_has_something_to_record_next():
    assert set(NEXT_FOR_LOTS) == set(LotKind)


def test_a_page_asks_as_much_for_thirty_readings_as_for_one(browse, operator, manager):
    batch = make.batch(manager)
    client = browse(operator).client
    counted = []
    for readings in (2, 28):
        for minute in range(readings):
            make.reading(manager, batch, "3.40", at(10, readings % 20, minute))
        with CaptureQueriesContext(connection) as queries:
            client.get(_page(batch))
        counted.append(len(queries))

    assert counted == [49, 49]
