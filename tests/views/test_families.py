"""A culture line as a family, and the way of a lot, as pictures on their pages."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from brewlog.domain import cultures, stock
from tests import factories as make
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db


def _family(line, **query) -> str:
    return reverse("family", args=[line.pk], query=query)


def _picture(page) -> str:
    return re.search(r"<svg.*?</svg>", page.response.content.decode(), re.DOTALL)[0]


def _keep_back(manager, starter, day: int):
    """A batch from the starter, and starter kept back from that."""
    batch = make.batch(manager, starter=starter, starter_amount="500 mL", when=at(day))
    kept = cultures.keep_back(
        actor=manager, batch=batch, when=at(day, 12), quantity=quantity("2 L")
    )
    return batch, kept


@pytest.fixture
def line(manager):
    return make.culture_line(manager, "Estuary")


def test_the_family_shows_whence_each_starter_came_and_how_it_stands(
    browse, inspector, manager, reviewer, line
):
    bought = make.culture(manager, "10 L", line=line)
    fed = cultures.feed(
        actor=manager,
        culture=bought,
        taken=quantity("10 L"),
        quantity=quantity("8 L"),
        when=at(3),
    )
    first, kept = _keep_back(manager, fed, 5)
    second, again = _keep_back(manager, kept, 9)
    cultures.retire(actor=manager, culture=kept, retire_reason="slow")
    make.hold(reviewer, again, "mould")

    page = browse(inspector).open(_family(line, lot=kept.code))

    told = {row[0]: row[1:4] + row[5:] for row in page.rows[1:]}
    assert told == {
        bought.code: ["0", "bought as a culture", "", "used up", "none"],
        fed.code: ["0", "fed or topped up", bought.code, "in use", f"1: {first.code}"],
        kept.code: [
            "1",
            "kept back from a batch",
            f"{fed.code} by batch {first.code}",
            "retired",
            f"1: {second.code}",
        ],
        again.code: [
            "2",
            "kept back from a batch",
            f"{kept.code} by batch {second.code}",
            "held: mould or foreign growth",
            "none",
        ],
    }
    drawn = _picture(page)
    assert drawn.count("<path") == 3
    assert all(f">{code}<" in drawn for code in told)
    # The batches in between: a dot each, with the code.
    assert drawn.count("<circle") == 2
    assert all(f">{batch.code}<" in drawn for batch in (first, second))
    assert drawn.count('stroke-width="2"') == 1  # the one it was opened from
    assert ">2 transfers since bought<" in drawn


def test_a_starter_thrown_away_is_told_as_discarded(browse, operator, manager, line):
    culture = make.culture(manager, "10 L", line=line)
    stock.adjust(
        actor=manager,
        lot=culture,
        quantity=quantity("10 L"),
        why="destroyed",
        when=at(9),
        witness="Nell",
    )

    page = browse(operator).open(_family(line))

    assert [row[5] for row in page.rows[1:]] == ["discarded"]


def test_a_line_without_a_starter_says_so(browse, operator, line):
    page = browse(operator).open(_family(line))

    assert "No starter of this line yet" in page.text
    assert "<svg" not in page.response.content.decode()


def test_of_a_large_family_the_newest_are_drawn(browse, operator, manager, line, monkeypatch):
    monkeypatch.setattr("brewlog.views.families.MOST_BOXES", 2)
    starters = [make.culture(manager, line=line, when=at(day)) for day in (1, 2, 3)]

    page = browse(operator).open(_family(line))

    assert "The newest 2 starters of the line are drawn" in page.text
    assert [row[0] for row in page.rows[1:]] == [each.code for each in starters[1:]]


def test_the_family_is_reached_from_its_line_and_from_a_starter(browse, operator, manager, line):
    culture = make.culture(manager, line=line)

    of_line = browse(operator).open(reverse("culture-line-detail", args=[line.pk]))
    of_lot = browse(operator).open(reverse("lot-detail", args=[culture.code]))

    assert of_line.links["a picture by generation"] == _family(line)
    assert of_lot.links["a picture by generation"] == _family(line, lot=culture.code)


def test_a_family_asks_as_much_for_many_as_for_few(browse, operator, manager, line):
    starter = make.culture(manager, "10 L", line=line)
    client = browse(operator).client
    counted = []
    for days in ((2, 3), (4, 5, 6, 7)):
        for day in days:
            _, starter = _keep_back(manager, starter, day)
        with CaptureQueriesContext(connection) as queries:
            client.get(_family(line))
        counted.append(len(queries))

    assert counted == [12, 12]


def test_the_way_of_a_lot_is_drawn_both_ways_with_amounts(browse, operator, manager):
    starter = make.culture(manager, "10 L")
    batch = make.batch(manager, "60 L", starter=starter, starter_amount="6 L", when=at(3))
    bottles = make.bottles(manager, 90, batch, "30 L", at(10))

    page = browse(operator).open(reverse("lot-trace", args=[batch.code]))

    start = page.rows.index(["From", "Into", "Amount"])
    assert page.rows[start + 1 : start + 3] == [
        [starter.code, batch.code, "6 L"],
        [batch.code, bottles.code, "30 L"],
    ]
    drawn = _picture(page)
    assert drawn.count("<path") == 2
    assert ">6 L<" in drawn
    assert ">30 L<" in drawn


def test_of_a_long_way_the_nearest_lots_are_drawn_and_the_rest_is_said(browse, operator, manager):
    starter = make.culture(manager, "10 L")
    for day in range(2, 10):
        _, starter = _keep_back(manager, starter, day)

    page = browse(operator).open(reverse("lot-trace", args=[starter.code]))

    assert "The nearest 7 of 17 lots; the tables have all." in page.text
    assert _picture(page).count("<path") == 6


def test_too_many_neighbours_are_left_to_the_tables(browse, operator, manager, monkeypatch):
    monkeypatch.setattr("brewlog.charts.traces.MOST_BOXES", 3)
    batch = make.batch(manager)
    for _ in range(3):
        make.bottles(manager, 10, batch, "4 L", at(10))

    page = browse(operator).open(reverse("lot-trace", args=[batch.code]))

    assert "5 lots are too many to be read as a picture" in page.text
    assert "<svg" not in page.response.content.decode()


def test_a_lot_by_itself_has_no_way(browse, operator, manager):
    page = browse(operator).open(reverse("lot-trace", args=[make.ingredient_lot(manager).code]))

    assert "The way it went" not in page.text
