"""The kit of lists: search, filters, sort, pages, and downloads of what is shown."""

from __future__ import annotations

import csv
import datetime as dt
import io
from functools import partial

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from brewlog.domain import checkpoints, holds, line, lots, registers, shipping, stock
from brewlog.domain import ingredients as ingredients_domain
from brewlog.models import Supplier
from brewlog.views.nouns import LISTINGS
from brewlog.when import on_day
from tests import factories as make
from tests.factories import at, quantity
from tests.many import many_more

pytestmark = pytest.mark.django_db

NOUNS = [listing.noun for listing in LISTINGS]


def _adjustment(actor, lot):
    return stock.adjust(actor=actor, lot=lot, quantity=quantity("1"), why="sample", when=at(26))


def _check(actor, lot):
    return checkpoints.check_condition(actor=actor, lot=lot, when=at(11), mould="none")


def _lab_result(actor, lot):
    return checkpoints.record_lab_result(
        actor=actor,
        lot=lot,
        measurand="alcohol",
        value="0.41",
        laboratory="Quay Analytical",
        when=at(21),
    )


def _preparation(actor):
    return ingredients_domain.prepare(
        actor=actor,
        name="Ginger syrup",
        preparation_kind="syrup",
        quantity=quantity("3 L"),
        when=at(5),
    )


def _flag(actor):
    """Taking more than there is puts the lot before a reviewer."""
    lot = make.ingredient_lot(actor, "1 kg")
    make.use(actor, lot, make.brew(actor), "2 kg", purpose="ingredient")


def _kept_bottles(actor):
    lot = make.bottles(actor)
    line.keep_bottles(
        actor=actor, lot=lot, count=2, kept="warm", pull_on=dt.date(2026, 4, 20), when=at(20)
    )


# One more of each noun; what it needs comes with it.
ONE_MORE = {
    "lot": make.ingredient_lot,
    "batch": lambda actor: make.batch(actor, vessel=make.vessel(actor)),
    "bottling": make.bottles,
    "culture": make.culture,
    "brew": lambda actor: make.brew(actor, kettle=make.vessel(actor)),
    "ingredient-lot": make.ingredient_lot,
    "preparation": _preparation,
    "hold": lambda actor: make.hold(actor, make.bottles(actor)),
    "flag": _flag,
    "kept-bottles": _kept_bottles,
    "reading": lambda actor: make.reading(
        actor, make.bottles(actor, when=at(5)), instrument=make.instrument(actor)
    ),
    "condition-check": lambda actor: _check(actor, make.culture(actor)),
    "lab-result": lambda actor: _lab_result(actor, make.bottles(actor)),
    "adjustment": lambda actor: _adjustment(actor, make.bottles(actor)),
    "move": lambda actor: make.move(actor, make.bottles(actor), "5", make.location(actor)),
    "calibration": lambda actor: make.calibration(actor, make.instrument(actor)),
    "usual-run": make.usual_run,
    "shipment": lambda actor: make.shipment(actor, make.bottles(actor)),
    "buffer-bottle": make.buffer_bottle,
    "customer": make.customer,
    "keg": lambda actor: make.keg_event(actor, make.keg(actor), "cleaned"),
    "location": make.location,
    "recipe": make.recipe_version,
    "ingredient": make.ingredient,
    "supplier": make.supplier,
    "vessel": make.vessel,
    "instrument": lambda actor: make.calibration(actor, make.instrument(actor)),
    "culture-line": make.culture_line,
    "flavour": make.flavour,
    "format": make.bottle_format,
    "shared-device": make.shared_device,
    "person": lambda actor: make.person("operator"),
}
# Nine are: session, person, brewery, two for what the person may, the count, the keys of the
# page, its rows, the views kept of the list.
# Batches and bottling lots ask one more: whether limits bind them.
# One more for each choice by a register, for the holds and for what a shipment has in it;
# two for transfers since bought.
QUERIES = dict.fromkeys(NOUNS, 9) | {
    "lot": 10,
    "batch": 12,
    "brew": 10,
    "bottling": 13,
    "culture": 13,
    "ingredient-lot": 11,
    "preparation": 10,
    "reading": 10,
    "move": 10,
    "calibration": 10,
    "shipment": 11,
    "usual-run": 10,
    "vessel": 10,
}


def test_every_list_has_one_more_to_try_it_with():
    assert set(ONE_MORE) == set(NOUNS)


@pytest.mark.parametrize("noun", NOUNS)
def test_a_list_asks_as_much_for_three_hundred_rows_as_for_one(browse, manager, operator, noun):
    browser = browse(operator)
    address = reverse(f"{noun}-list")
    newest = next(each for each in LISTINGS if each.noun == noun).queryset().order_by("pk")
    counted, rows = [], []
    for more in (1, 2, 297):
        if more < 3:
            for _ in range(more):
                ONE_MORE[noun](manager)
        else:
            many_more(manager, newest.last(), more)
        with CaptureQueriesContext(connection) as queries:
            page = browser.open(address)
        counted.append(len(queries))
        rows.append(page.response.context["page"].paginator.count)

    assert counted == [QUERIES[noun]] * 3
    assert rows[1] - rows[0] >= 2
    assert rows[2] >= 300


# Search, filters, sort -------------------------------------------------------------------


@pytest.fixture
def ingredients(manager):
    """Three ingredients, the last no longer in use and the second voided."""
    assam = make.ingredient(manager, "Assam tea", allergens="none", note="second flush")
    wrong = make.ingredient(manager, "Asam tea")
    ginger = make.ingredient(manager, "Ginger", kind="flavouring")
    lots.void(actor=manager, record=wrong, reason="misspelt")
    lots.correct(actor=manager, record=ginger, reason="no longer bought", in_use=False)
    return assam, wrong, ginger


def _names(page) -> list[str]:
    return [row[0] for row in page.rows[1:]]


@pytest.mark.parametrize(
    ("query", "names"),
    [
        ({}, ["Assam tea", "Ginger"]),
        ({"q": "flush second"}, ["Assam tea"]),
        ({"q": "assam ginger"}, []),
        ({"kind": "flavouring"}, ["Ginger"]),
        ({"kind": "no-such-kind"}, ["Assam tea", "Ginger"]),
        ({"in_use": "yes"}, ["Assam tea"]),
        ({"voided": "with"}, ["Asam tea voided", "Assam tea", "Ginger"]),
        ({"voided": "only"}, ["Asam tea voided"]),
        ({"sort": "-name"}, ["Ginger", "Assam tea"]),
        ({"sort": "kind"}, ["Ginger", "Assam tea"]),
        ({"sort": "password"}, ["Assam tea", "Ginger"]),
    ],
)
def test_the_address_says_what_is_shown_and_how(browse, operator, ingredients, query, names):
    page = browse(operator).open(reverse("ingredient-list"), **query)

    assert _names(page) == names


def test_a_phone_without_heads_has_every_order_to_choose_from(browse, operator, ingredients):
    page = browse(operator).open(reverse("ingredient-list"), sort="-name")
    body = page.response.content.decode()

    assert page.fields["sort"] == "-name"
    assert '<option value="name">Name, rising</option>' in body
    assert '<option value="-name" selected>Name, falling</option>' in body


def test_what_was_chosen_stays_chosen_and_sorting_keeps_it(browse, operator, ingredients):
    page = browse(operator).open(
        reverse("ingredient-list"), q="tea", kind="tea", sort="name", page="1"
    )

    assert (page.fields["q"], page.fields["kind"], page.fields["sort"]) == ("tea", "tea", "name")
    assert page.links["Name ↑"] == "?q=tea&kind=tea&sort=-name"
    assert page.links["Kind"] == "?q=tea&kind=tea&sort=kind"
    assert page.links["Show all"] == reverse("ingredient-list")


def test_nothing_that_matches_is_not_an_empty_list(browse, operator, ingredients):
    page = browse(operator).open(reverse("ingredient-list"), q="saffron")

    assert "Nothing matches." in page.text


def test_an_empty_list_says_what_it_is_for_and_starts_the_job(browse, operator, inspector):
    for_operator = browse(operator).open(reverse("ingredient-list"))
    for_inspector = browse(inspector).open(reverse("ingredient-list"))

    assert "what is bought in lots" in for_operator.text
    assert for_operator.links["Add an ingredient"] == reverse("entry", args=["ingredient"])
    assert "what is bought in lots" in for_inspector.text
    assert "Add an ingredient" not in for_inspector.links


def test_fifty_rows_a_page(browse, operator, manager):
    for number in range(51):
        make.supplier(manager, f"Supplier {number:02}")

    first = browse(operator).open(reverse("supplier-list"), q="supplier")
    second = browse(operator).open(reverse("supplier-list"), q="supplier", page=2)

    assert (len(_names(first)), _names(second)) == (50, ["Supplier 50"])
    assert "1 to 50 of 51" in first.text
    assert first.links["Next page"] == "?q=supplier&page=2"
    assert second.links["Earlier page"] == "?q=supplier&page=1"


def test_an_amount_on_hand_can_be_asked_for_and_sorted_by(browse, operator, manager):
    emptied, little, much = (make.ingredient_lot(manager, f"{kg} kg") for kg in (1, 2, 30))
    make.use(manager, emptied, make.brew(manager), "1 kg", purpose="ingredient")
    address = reverse("ingredient-lot-list")

    some = browse(operator).open(address, stock="yes", sort="-on_hand")
    none = browse(operator).open(address, stock="no")

    assert _names(some) == [much.code, little.code]
    assert _names(none) == [emptied.code]


def test_a_shipment_is_found_once_by_the_code_of_a_lot_in_it(browse, operator, manager):
    bottles = make.bottles(manager, 90)
    sent = make.shipment(manager, bottles, "40")
    shipping.add_shipment_line(actor=manager, shipment=sent, lot=bottles, quantity=quantity("12"))
    make.shipment(manager, make.bottles(manager))

    page = browse(operator).open(reverse("shipment-list"), q=bottles.code.lower())

    assert [row[0] for row in page.rows[1:]] == [sent.number]
    assert page.rows[1][4] == "2"


def test_the_last_of_something_is_told_as_closely_as_it_is_known(browse, operator, manager):
    shop = make.customer(manager)
    bottles = make.bottles(manager, 90)
    make.shipment(manager, bottles, "4", shop, at(25))
    make.shipment(manager, bottles, "5", shop, on_day(at(26).at.date()))

    (_, row) = browse(operator).open(reverse("customer-list")).rows

    assert row[-1] == "26 Mar 2026"


def test_what_a_hold_reaches_is_marked_in_the_lists(browse, operator, reviewer, manager):
    starter = make.culture(manager)
    batch = make.batch(manager, starter=starter)
    free = make.batch(manager)
    make.hold(reviewer, starter, "mould", why="green spots")

    batches = {row[0]: row[3] for row in browse(operator).open(reverse("batch-list")).rows[1:]}
    starters = {row[0]: row[3] for row in browse(operator).open(reverse("culture-list")).rows[1:]}

    assert batches == {batch.code: "kept back with its source", free.code: "fermenting"}
    assert starters[starter.code] == "held: mould or foreign growth"


def test_a_hold_ended_at_one_lot_no_longer_marks_it(browse, operator, reviewer, manager):
    starter = make.culture(manager)
    batch = make.batch(manager, starter=starter)
    freed, still = (make.bottles(manager, 10, batch, "4 L") for _ in range(2))
    hold = make.hold(reviewer, starter, "mould", why="green spots")
    holds.end_hold_at(actor=reviewer, hold=hold, lot=freed, reason="drawn before")

    page = browse(operator).open(reverse("bottling-list"))

    assert {row[0]: row[3] for row in page.rows[1:]} == {
        freed.code: "on hand",
        still.code: "kept back with its source",
    }


def test_lists_are_for_those_who_may_read(browse, operator, db):
    nobody = make.person("operator")
    nobody.groups.clear()

    refused = browse(nobody).client.get(reverse("batch-list"))

    assert refused.status_code == 403
    assert "Your account has no role yet" in refused.content.decode()
    assert browse(nobody).client.get(reverse("batch-download", args=["csv"])).status_code == 403


# Downloads -------------------------------------------------------------------------------


def _csv_rows(response) -> list[list[str]]:
    return list(csv.reader(io.StringIO(response.content.decode("utf-8-sig"))))


def _xlsx_rows(response) -> list[list[str]]:
    sheet = load_workbook(io.BytesIO(response.content)).active
    return [[str(cell) for cell in row] for row in sheet.iter_rows(values_only=True)]


@pytest.mark.parametrize("noun", NOUNS)
def test_a_download_has_what_is_shown(browse, operator, manager, noun):
    for _ in range(2):
        ONE_MORE[noun](manager)
    browser = browse(operator)
    sort = next(c.name for each in LISTINGS if each.noun == noun for c in each.columns if c.order)

    shown = browser.open(reverse(f"{noun}-list"), sort=f"-{sort}").rows
    sheets = {
        ending: browser.client.get(reverse(f"{noun}-download", args=[ending]), {"sort": f"-{sort}"})
        for ending in ("csv", "xlsx")
    }

    shown[0] = [title.removesuffix(" ↓") for title in shown[0]]
    assert _csv_rows(sheets["csv"]) == shown
    assert _xlsx_rows(sheets["xlsx"]) == shown


def test_a_download_has_every_page_of_what_was_narrowed(browse, operator, manager):
    for number in range(52):
        make.supplier(manager, f"Supplier {number:02}")
    make.supplier(manager, "Granite Sugar")

    response = browse(operator).client.get(
        reverse("supplier-download", args=["csv"]), {"q": "supplier", "page": "2"}
    )

    assert [row[0] for row in _csv_rows(response)[1:]] == [f"Supplier {n:02}" for n in range(52)]
    assert response["Content-Disposition"].startswith('attachment; filename="suppliers-')


def test_a_text_like_a_formula_stays_text_in_a_sheet(browse, operator, manager):
    make.supplier(manager, '=HYPERLINK("https://example.com")')
    client = browse(operator).client

    rows = _csv_rows(client.get(reverse("supplier-download", args=["csv"])))
    book = load_workbook(
        io.BytesIO(client.get(reverse("supplier-download", args=["xlsx"])).content)
    )

    assert rows[1][0] == '\'=HYPERLINK("https://example.com")'
    assert book.active["A2"].data_type == "s"


def test_a_workbook_holds_what_was_pasted_from_anywhere(browse, operator, manager):
    add = partial(registers.add, actor=manager, model=Supplier)
    add(name="Hill\x0b Farm")
    add(name=" =1+1", contact="+351 555 0188", phone="-2+3")
    client = browse(operator).client

    sheet = _xlsx_rows(client.get(reverse("supplier-download", args=["xlsx"])))
    rows = _csv_rows(client.get(reverse("supplier-download", args=["csv"])))

    assert "Hill  Farm" in [row[0] for row in sheet]
    assert rows[1][:3] == ["' =1+1", "+351 555 0188", "'-2+3"]


def test_no_other_format_is_downloaded(browse, operator):
    assert browse(operator).open(reverse("batch-download", args=["exe"])).status == 404


def test_bottles_kept_back_are_listed_by_their_day_and_led_to_their_opening(browse, operator):
    today = timezone.localdate()
    made = {}
    for days in (5, -1, 0):
        made[days] = make.bottles(operator, when=make.now(-9))
        line.keep_bottles(
            actor=operator,
            lot=made[days],
            count=2,
            kept="cold",
            pull_on=today + dt.timedelta(days=days),
            when=make.now(-9),
        )
    browser = browse(operator)

    page = browser.open(reverse("kept-bottles-list"))

    assert [row[1] for row in page.rows[1:]] == [made[days].code for days in (-1, 0, 5)]
    assert [row[5] for row in page.rows[1:]] == ["1 day overdue", "today", "in 5 days"]
    assert f"?lot={made[5].code}&amp;kept=cold" in page.response.content.decode()
    due = browser.open(reverse("kept-bottles-list"), open="due")
    assert [row[1] for row in due.rows[1:]] == [made[-1].code, made[0].code]
    line.pull_bottles(actor=operator, lot=made[0], finding="clear, dry", when=make.now())
    opened = browser.open(reverse("kept-bottles-list"), open="opened")
    assert [(row[1], row[5], row[8]) for row in opened.rows[1:]] == [
        (made[0].code, "opened", "clear, dry")
    ]
