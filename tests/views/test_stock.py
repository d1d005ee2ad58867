"""Stock over time, of an ingredient, a lot and a flavour's bottles."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re

import openpyxl
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from brewlog.domain import batches, ingredients, lots
from brewlog.when import on_day
from tests import factories as make
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db

MARCH = {"since": "2026-03-01", "until": "2026-03-31"}


def _ingredient(ingredient, **query) -> str:
    return reverse("ingredient-stock", args=[ingredient.pk], query=query)


def _table(page) -> list[list[str]]:
    return [row for row in page.rows if len(row) > 4]


@pytest.fixture
def sugar(manager, brewery):
    return make.ingredient(manager, "Cane sugar", kind="sugar")


@pytest.fixture
def deliveries(manager, sugar):
    """Two deliveries and what was taken of them, more of the first than there was."""
    first = make.ingredient_lot(manager, "10 kg", of=sugar, when=at(2), code="R-1")
    second = make.ingredient_lot(manager, "5 kg", of=sugar, when=at(4), code="R-2")
    brew = make.brew(manager, when=at(3), code="K-1")
    make.use(manager, first, brew, "8 kg", at(3), purpose="ingredient")
    make.use(manager, first, brew, "4 kg", at(6), purpose="ingredient")
    return first, second


def test_all_deliveries_together_with_what_nobody_explained(browse, inspector, sugar, deliveries):
    page = browse(inspector).open(_ingredient(sugar, **MARCH))

    assert "0 kg at the beginning, 5 kg at the end." in page.text
    assert "Unexplained: 2 kg more left than the books had. Count what is there." in page.text
    assert _table(page) == [
        ["When", "Lot", "What", "Change", "On hand then", "Unexplained"],
        ["2 Mar 2026 09:00", "R-1", "came into the books", "10 kg", "10 kg", "—"],
        ["3 Mar 2026 09:00", "R-1", "used in K-1", "−8 kg", "2 kg", "—"],
        ["4 Mar 2026 09:00", "R-2", "came into the books", "5 kg", "7 kg", "—"],
        ["6 Mar 2026 09:00", "R-1", "used in K-1", "−4 kg", "5 kg", "2 kg"],
    ]
    drawn = re.search(r"<svg.*?</svg>", page.response.content.decode(), re.DOTALL)[0]
    assert ">more left than was there: 2 kg<" in drawn


def _csv(sent) -> list[list[str]]:
    return list(csv.reader(io.StringIO(sent.content.decode("utf-8-sig"))))


def test_the_rows_are_downloaded_as_they_are_shown(browse, inspector, sugar, deliveries):
    page = browse(inspector).open(_ingredient(sugar, **MARCH))

    sent = browse(inspector).client.get(page.links["CSV of On hand"])
    book = browse(inspector).client.get(page.links["XLSX of On hand"])

    assert _csv(sent) == _table(page)
    sheet = openpyxl.load_workbook(io.BytesIO(book.content)).active
    assert [[str(cell) for cell in row] for row in sheet.values] == _table(page)
    assert sent["Content-Disposition"].startswith('attachment; filename="stock-cane-sugar-on-hand-')


def test_what_is_no_picture_or_no_kind_of_file_is_not_downloaded(browse, inspector, deliveries):
    client = browse(inspector).client

    for ending, picture in (("pdf", ""), ("csv", "other")):
        address = reverse("lot-stock-download", args=["R-2", ending], query={"picture": picture})
        assert client.get(address).status_code == 404


def test_a_lot_by_itself(browse, inspector, deliveries):
    page = browse(inspector).open(reverse("lot-stock", args=["R-2"]))

    assert [row[2:5] for row in _table(page)[1:]] == [["came into the books", "5 kg", "5 kg"]]


def test_a_rejected_delivery_is_left_out_and_that_is_said(browse, inspector, manager, sugar):
    make.ingredient_lot(manager, "10 kg", of=sugar, when=at(2))
    refused = make.ingredient_lot(manager, "7 kg", of=sugar, when=at(2))
    ingredients.reject(actor=manager, lot=refused, reason="wet")

    page = browse(inspector).open(_ingredient(sugar, **MARCH))

    assert "10 kg at the end" in page.text
    assert "Rejected deliveries are not counted: 1." in page.text


@pytest.mark.parametrize(
    ("planned", "words"),
    [
        ("60 L", "What is planned ({}) would leave 6.4 kg."),
        ("200 L", "What is planned ({}) takes 2 kg more than there is."),
    ],
)
def test_what_planned_batches_would_leave(browse, inspector, manager, sugar, planned, words):
    version = make.recipe_version(manager)
    line = version.lines.filter(role="sugar").get()
    make.ingredient_lot(manager, "10 kg", of=line.ingredient, when=at(2))
    batch = batches.plan_batch(
        actor=manager, when=at(20), recipe=version, planned=quantity(planned)
    )

    page = browse(inspector).open(_ingredient(line.ingredient, since="2026-03-01"))
    then = browse(inspector).open(_ingredient(line.ingredient, **MARCH))

    assert words.format(batch.code) in page.text
    assert ">planned: " in page.response.content.decode()
    assert "planned" not in then.text  # only of what is still to come


def test_nothing_planned_is_nothing_drawn_ahead(browse, inspector, sugar, deliveries):
    assert "planned" not in browse(inspector).open(_ingredient(sugar)).text


def test_bottles_of_a_flavour_each_format_for_itself(browse, inspector, manager, brewery):
    ginger = make.flavour(manager, "Ginger")
    small, large = make.bottle_format(manager, "Small"), make.bottle_format(manager, "Large")
    batch = make.batch(manager)
    lot = make.bottles(manager, 20, batch, "8 L", at(10), flavour=ginger, format=small)
    make.bottles(manager, 10, batch, "8 L", at(10), flavour=ginger, format=large)
    make.shipment(manager, lot, "12", when=at(12))

    page = browse(inspector).open(reverse("flavour-stock", args=[ginger.pk], query=MARCH))

    assert "Large 0 at the beginning, 10 at the end." in page.text
    assert "Small 0 at the beginning, 8 at the end." in page.text

    sent = browse(inspector).client.get(page.links["CSV of Small"])
    assert [row[3] for row in _csv(sent)] == ["Change", "20", "−12"]


def test_bottles_long_past_their_date_are_left_out(browse, inspector, manager, brewery):
    ginger = make.flavour(manager, "Ginger")
    for year in (2024, 2026):
        make.bottles(
            manager,
            10,
            when=on_day(dt.date(year, 3, 10)),
            flavour=ginger,
            best_before=dt.date(year, 6, 1),
            format=make.bottle_format(manager, f"Of {year}"),
        )

    page = browse(inspector).open(reverse("flavour-stock", args=[ginger.pk], query=MARCH))

    assert "Of 2026" in page.text
    assert "Of 2024" not in page.text
    assert (
        "Bottles more than 400 days past their date when this time began are left out" in page.text
    )


def test_a_flavour_never_filled_says_so(browse, inspector, manager, brewery):
    page = browse(inspector).open(reverse("flavour-stock", args=[make.flavour(manager).pk]))

    assert "None of it was ever filled." in page.text


def test_a_time_without_anything_says_so(browse, inspector, sugar, deliveries):
    page = browse(inspector).open(_ingredient(sugar, since="2025-01-01", until="2025-02-01"))

    assert "There was nothing of it in this time, and nothing moved." in page.text
    assert "<svg" not in page.response.content.decode()


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"since": "2026-03-09", "until": "2026-03-01"}, "This is before the first day."),
        ({"since": "yesterday"}, "'yesterday' is not a date"),
        ({"until": "2026-02-30"}, "is not a day in the calendar"),
    ],
)
def test_days_that_cannot_be_are_said_and_kept(browse, inspector, sugar, deliveries, query, words):
    page = browse(inspector).open(_ingredient(sugar, **query))

    assert page.status == 200
    assert words in page.text
    for name, typed in query.items():
        assert page.fields[name] == typed


def test_a_voided_lot_says_so(browse, inspector, manager, sugar):
    wrong = make.ingredient_lot(manager, "10 kg", of=sugar, when=at(2))
    lots.void(actor=manager, record=wrong, reason="typed twice")

    page = browse(inspector).open(reverse("lot-stock", args=[wrong.code]), entry=wrong.pk)

    assert "This lot is voided" in page.text


def test_the_pages_are_reached_from_ingredient_flavour_and_lot(
    browse, inspector, manager, sugar, deliveries
):
    ginger = make.flavour(manager)
    ways = {
        reverse("ingredient-detail", args=[sugar.pk]): ("a picture", _ingredient(sugar)),
        reverse("flavour-detail", args=[ginger.pk]): (
            "a picture",
            reverse("flavour-stock", args=[ginger.pk]),
        ),
        reverse("lot-detail", args=["R-1"]): (
            "Stock over time",
            reverse("lot-stock", args=["R-1"]),
        ),
    }
    for page, (words, there) in ways.items():
        assert browse(inspector).open(page).links[words] == there


def test_an_unknown_code_suggests_those_near_it(browse, inspector, deliveries):
    page = browse(inspector).open(reverse("lot-stock", args=["R-"]))

    assert (page.status, "R-1" in page.links) == (404, True)


def test_no_more_is_asked_for_many_lots_than_for_one(browse, inspector, manager, sugar):
    client = browse(inspector).client
    brew = make.brew(manager, when=at(3))
    counted = []
    for more in (1, 2, 10):
        for _ in range(more):
            lot = make.ingredient_lot(manager, "10 kg", of=sugar, when=at(2))
            make.use(manager, lot, brew, "1 kg", at(3), purpose="ingredient")
        with CaptureQueriesContext(connection) as queries:
            client.get(_ingredient(sugar))
        counted.append(len(queries))

    assert counted == [11, 11, 11]
