"""What there was of lots at each time, from the same entries as the ledger."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from brewlog.domain import lots, stock
from brewlog.ledger import on_hand
from brewlog.models import LotUse
from brewlog.movements import Way, courses
from brewlog.when import When, on_day
from tests import factories as make
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db

KG = 1_000_000


def course(*lots, since=None, until=None):
    ids = [lot.pk for lot in lots]
    found = courses({"all": ids}, since or at(1, 0).at, until or timezone.now(), lots[0].dimension)
    return found["all"]


def told(found) -> list[tuple[str, float]]:
    """How each step came about, and what there was after it in kg (or L)."""
    return [(step.movement.way, step.there / KG) for step in found.steps]


@pytest.fixture
def brew(manager, brewery):
    return make.brew(manager, when=at(1))


def take(manager, lot, into, amount, when, **given) -> LotUse:
    return make.use(manager, lot, into, amount, when, purpose="ingredient", **given)


def test_every_way_in_and_out_is_a_step(manager, brew):
    sugar = make.ingredient_lot(manager, "10 kg", when=at(2))
    take(manager, sugar, brew, "3 kg", at(3))
    stock.adjust(actor=manager, lot=sugar, quantity=quantity("1 kg"), why="spill", when=at(4))
    sent = make.shipment(manager, sugar, "2 kg", when=at(5), already_done=True)

    found = course(sugar)

    assert told(found) == [(Way.MADE, 10), (Way.USED, 7), (Way.ADJUSTED, 6), (Way.SHIPPED, 4)]
    assert (found.opening, found.closing, found.unexplained) == (0, 4 * KG, 0)
    assert [step.movement.other for step in found.steps] == [
        sugar.code,
        brew.code,
        "spill",
        sent.number,
    ]


def test_what_was_there_when_the_time_begins_is_counted(manager, brew):
    sugar = make.ingredient_lot(manager, "10 kg", when=at(2))
    take(manager, sugar, brew, "3 kg", at(3))
    take(manager, sugar, brew, "1 kg", at(8))

    found = course(sugar, since=at(5, 0).at, until=at(7, 0).at)

    assert (found.opening, found.steps, found.closing) == (7 * KG, (), 7 * KG)


def test_what_is_written_late_counts_when_it_happened(manager, brew):
    sugar = make.ingredient_lot(manager, "10 kg", when=at(2))
    take(manager, sugar, brew, "3 kg", at(8))
    take(manager, sugar, brew, "2 kg", at(4), reason="found the note")

    assert told(course(sugar)) == [(Way.MADE, 10), (Way.USED, 8), (Way.USED, 5)]


def test_more_than_was_there_is_unexplained_and_takes_nothing_from_the_others(manager, brew):
    sugar = make.ingredient_lot(manager, "10 kg", when=at(2))
    other = make.ingredient_lot(manager, "5 kg", when=at(2))
    take(manager, sugar, brew, "8 kg", at(3))
    take(manager, sugar, brew, "4 kg", at(4))
    take(manager, sugar, brew, "1 kg", at(5))

    found = course(sugar, other)

    assert [(step.there / KG, step.unexplained / KG) for step in found.steps[2:]] == [
        (7, 0),
        (5, 2),
        (5, 1),
    ]
    assert found.unexplained == 3 * KG


def test_less_too_much_than_anybody_measures_is_a_rounding(manager, brew):
    sugar = make.ingredient_lot(manager, "10 kg", when=at(2))
    take(manager, sugar, brew, "10.0005 kg", at(3))
    take(manager, sugar, brew, "1 g", at(4))

    assert [step.unexplained for step in course(sugar).steps] == [0, 0, 1000]


def test_a_count_that_finds_more_ends_what_was_missing(manager, brew):
    sugar = make.ingredient_lot(manager, "10 kg", when=at(2))
    take(manager, sugar, brew, "12 kg", at(3))
    stock.count_stock(actor=manager, lot=sugar, counted=quantity("1 kg"), when=at(4))

    found = course(sugar)

    assert [step.there / KG for step in found.steps] == [10, 0, 1]
    assert found.closing == on_hand([sugar.pk])[sugar.pk]


def test_a_day_counts_from_its_beginning_for_what_came_and_to_its_end_for_what_left(manager, brew):
    came = make.ingredient_lot(manager, "10 kg", when=at(4, 15))
    take(manager, came, brew, "10 kg", on_day(dt.date(2026, 3, 4)))
    early = make.ingredient_lot(manager, "5 kg", when=on_day(dt.date(2026, 3, 4)))
    take(manager, early, brew, "5 kg", at(4, 1))

    found = course(came, early)

    assert found.unexplained == 0
    assert told(found) == [(Way.MADE, 5), (Way.USED, 0), (Way.MADE, 10), (Way.USED, 0)]


def test_days_of_23_and_25_hours_end_when_they_end(manager, brew):
    # The clocks of Lisbon go forward on 29 March 2026.
    sugar = make.ingredient_lot(manager, "10 kg", when=at(2))
    take(manager, sugar, brew, "1 kg", on_day(dt.date(2026, 3, 29)))
    (_, step) = course(sugar).steps

    local = timezone.localtime(step.movement.at)
    assert (local.date(), local.hour, local.minute) == (dt.date(2026, 3, 29), 23, 59)


def test_voided_entries_count_for_nothing(manager, brew):
    sugar = make.ingredient_lot(manager, "10 kg", when=at(2))
    wrong = take(manager, sugar, brew, "3 kg", at(3))
    lots.void(actor=manager, record=wrong, reason="another bag")

    assert told(course(sugar)) == [(Way.MADE, 10)]


def test_what_is_poured_in_and_added_counts_for_what_it_is_poured_into(manager, brew):
    batch = make.batch(manager, "60 L", when=at(3))
    make.use(manager, make.batch(manager, "40 L"), batch, "20 L", at(6))
    make.bottles(manager, 30, batch, "12 L", at(8))

    assert told(course(batch)) == [(Way.MADE, 60), (Way.ADDED, 80), (Way.USED, 68)]


def test_the_last_figure_is_the_ledgers(manager, brew):
    batch = make.batch(manager, "60 L", when=at(3))
    bottles = make.bottles(manager, 90, batch, "30 L", at(8))
    make.shipment(manager, bottles, "48", when=at(9))
    stock.adjust(actor=manager, lot=bottles, quantity=quantity("2"), why="breakage", when=at(9))
    everything = [batch, bottles, brew, make.culture(manager, "10 L")]

    for lot in everything:
        assert course(lot).closing == on_hand([lot.pk])[lot.pk]


def test_groups_are_asked_together(manager, brew, django_assert_num_queries):
    groups = {}
    for name in ("a", "b", "c"):
        lot = make.ingredient_lot(manager, "10 kg", when=at(2))
        take(manager, lot, brew, "1 kg", at(3))
        groups[name] = [lot.pk]

    with django_assert_num_queries(2):
        found = courses(groups, at(1, 0).at, timezone.now(), "mass")

    assert {name: each.closing for name, each in found.items()} == dict.fromkeys("abc", 9 * KG)


def test_as_much_is_asked_for_many_entries_as_for_few(manager, brew):
    sugar = make.ingredient_lot(manager, "10 kg", when=at(2))
    counted = []
    for more in (1, 5):
        for _ in range(more):
            take(manager, sugar, brew, "100 g", When(at(3).at))
        with CaptureQueriesContext(connection) as queries:
            course(sugar)
        counted.append(len(queries))

    assert counted == [2, 2]
