"""Where each part of a lot stood, and for how long."""

from __future__ import annotations

import datetime as dt

import pytest

from brewlog.domain.places import in_stock, standing, stays, stays_of, stood_in
from brewlog.domain.shipping import take_back
from brewlog.domain.stock import adjust
from brewlog.ledger import on_hand
from brewlog.when import on_day
from tests import factories
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db


@pytest.fixture
def warm_room(operator):
    return factories.location(operator, "Warm room", kind="warm_room")


@pytest.fixture
def cooler(operator):
    return factories.location(operator, "Cooler", is_cold=True)


def told(found):
    """The stays as (place, quantity, since, until), with names and days for short."""
    return [
        (
            str(stay.location or ""),
            stay.quantity,
            stay.since.at.day,
            stay.until.at.day if stay.until else None,
        )
        for stay in found
    ]


def test_a_lot_that_was_never_moved_stands_where_no_move_tells(operator):
    lot = factories.bottles(operator, 100, when=at(20))

    assert told(stays(lot)) == [("", 100, 20, None)]


def test_a_part_moved_to_cold_earlier_has_its_own_warm_hours(operator, warm_room, cooler):
    lot = factories.bottles(operator, 100, when=at(10))
    factories.move(operator, lot, "40", cooler, when=at(13), from_location=warm_room)
    factories.move(operator, lot, "60", cooler, when=at(17))

    assert told(stays(lot)) == [
        ("Warm room", 60, 10, 17),
        ("Warm room", 40, 10, 13),
        ("Cooler", 40, 13, None),
        ("Cooler", 60, 17, None),
    ]


def test_what_came_first_leaves_first(operator, warm_room, cooler):
    lot = factories.bottles(operator, 100, when=at(10))
    factories.move(operator, lot, "40", cooler, when=at(13), from_location=warm_room)
    factories.move(operator, lot, "60", cooler, when=at(17))
    factories.shipment(operator, lot, "50", when=at(18), ship_from=cooler)

    assert told(standing(lot)) == [("Cooler", 50, 17, None)]


def test_a_shipment_without_a_place_leaves_from_where_the_lot_arrived_last(
    operator, warm_room, cooler
):
    lot = factories.bottles(operator, 100, when=at(10))
    factories.move(operator, lot, "40", cooler, when=at(13), from_location=warm_room)

    factories.shipment(operator, lot, "30", when=at(18))

    assert told(standing(lot)) == [("Warm room", 60, 10, None), ("Cooler", 10, 13, None)]


def test_a_shipment_from_a_place_leaves_that_place(operator, warm_room, cooler):
    lot = factories.bottles(operator, 100, when=at(10))
    factories.move(operator, lot, "40", cooler, when=at(13), from_location=warm_room)

    factories.shipment(operator, lot, "30", when=at(18), ship_from=warm_room)

    assert told(standing(lot)) == [("Warm room", 30, 10, None), ("Cooler", 40, 13, None)]


def test_more_than_stood_in_the_named_place_is_taken_from_the_others(operator, warm_room, cooler):
    lot = factories.bottles(operator, 100, when=at(10))
    factories.move(operator, lot, "40", cooler, when=at(13), from_location=warm_room)

    factories.shipment(operator, lot, "50", when=at(18), ship_from=cooler)

    assert told(standing(lot)) == [("Warm room", 50, 10, None)]


def test_a_shipment_known_to_the_day_leaves_after_the_moves_of_that_day(
    operator, warm_room, cooler
):
    lot = factories.bottles(operator, 100, when=at(10))
    factories.move(operator, lot, "40", cooler, when=at(13, 15), from_location=warm_room)

    factories.shipment(operator, lot, "40", when=on_day(dt.date(2026, 3, 13)), ship_from=cooler)

    assert told(standing(lot)) == [("Warm room", 60, 10, None)]


def test_samples_leave_and_returns_come_back_to_no_known_place(operator, cooler):
    lot = factories.bottles(operator, 100, when=at(10))
    factories.move(operator, lot, "100", cooler, when=at(11))
    shop = factories.customer(operator)
    factories.shipment(operator, lot, "20", to=shop, when=at(12))
    adjust(actor=operator, lot=lot, quantity=quantity("5"), why="sample", when=at(13))
    take_back(actor=operator, lot=lot, quantity=quantity("3"), customer=shop, when=at(14))

    assert told(standing(lot)) == [("Cooler", 75, 11, None), ("", 3, 14, None)]


def test_stays_are_told_as_they_were_at_a_time(operator, warm_room, cooler):
    lot = factories.bottles(operator, 100, when=at(10))
    factories.move(operator, lot, "40", cooler, when=at(13), from_location=warm_room)

    assert told(standing(lot, at(12))) == [("Warm room", 100, 10, None)]
    assert [each[1] for each in told(standing(lot, at(13)))] == [60, 40]


class TestWhatIsStock:
    """What stands there and is stock adds up to what is on hand, whatever was written."""

    def _adds_up(self, lot):
        there = sum(stay.quantity for stay in in_stock(stays(lot)))
        assert there == max(0, on_hand([lot.pk])[lot.pk])
        return there

    def test_is_not_what_was_carried_beyond_the_books(self, operator, warm_room):
        lot = factories.bottles(operator, 100, when=at(10))
        factories.shipment(operator, lot, "30", when=at(12))

        factories.move(operator, lot, "100", warm_room, when=at(13))

        assert self._adds_up(lot) == 70
        assert told(standing(lot)) == [("Warm room", 70, 13, None), ("Warm room", 30, 13, None)]

    def test_goes_before_what_was_carried_beyond_the_books(self, operator, warm_room, cooler):
        lot = factories.bottles(operator, 100, when=at(10))
        factories.move(operator, lot, "120", cooler, when=at(12))
        factories.move(operator, lot, "100", warm_room, when=at(13), from_location=cooler)

        factories.shipment(operator, lot, "30", when=at(14), ship_from=cooler)

        assert self._adds_up(lot) == 70

    def test_makes_up_first_for_what_had_left_before_the_books_had_it(self, operator):
        lot = factories.bottles(operator, 100, when=at(10))
        shop = factories.customer(operator)
        factories.shipment(operator, lot, "120", to=shop, when=at(12))

        take_back(actor=operator, lot=lot, quantity=quantity("30"), customer=shop, when=at(13))

        assert self._adds_up(lot) == 10

    def test_is_nothing_where_more_left_than_there_was(self, operator, cooler):
        lot = factories.bottles(operator, 100, when=at(10))
        factories.shipment(operator, lot, "120", when=at(12))
        factories.move(operator, lot, "50", cooler, when=at(13))

        assert self._adds_up(lot) == 0
        assert told(standing(lot)) == [("Cooler", 50, 13, None)]


class TestWhatStoodInAPlace:
    def test_on_a_warm_weekend_is_listed_with_its_hours(self, operator, warm_room, cooler):
        there_before = factories.bottles(operator, 100, when=at(10))
        left_during = factories.bottles(operator, 50, when=at(10))
        left_before = factories.bottles(operator, 30, when=at(10))
        came_after = factories.bottles(operator, 20, when=at(10))
        for lot in (there_before, left_during, left_before):
            factories.move(operator, lot, str(lot.made), cooler, when=at(11))
        factories.move(operator, came_after, "20", cooler, when=at(20))
        factories.shipment(operator, left_before, "30", when=at(13))
        factories.shipment(operator, left_during, "20", when=at(15, 6), ship_from=cooler)

        found = stood_in(cooler, at(14), at(16))

        assert [
            (stood.stay.lot.pk, stood.stay.quantity, stood.duration.total_seconds() / 3600)
            for stood in found
        ] == [(there_before.pk, 100, 48), (left_during.pk, 30, 48), (left_during.pk, 20, 21)]

    def test_still_stands_there_until_now_where_no_end_is_given(self, operator, cooler):
        lot = factories.bottles(operator, 100, when=at(10))
        factories.move(operator, lot, "100", cooler, when=at(11))

        [stood] = stood_in(cooler, at(14))

        assert stood.since == at(14).at
        assert stood.duration > dt.timedelta(days=200)


@pytest.mark.parametrize("number", [1, 3])
def test_stays_of_many_lots_take_the_same_queries(
    operator, cooler, django_assert_num_queries, number
):
    lots = [factories.bottles(operator, 10, when=at(10)) for _ in range(number)]
    for lot in lots:
        factories.move(operator, lot, "10", cooler, when=at(11))

    with django_assert_num_queries(7):
        found = stays_of([lot.pk for lot in lots])

    assert {pk: len(each) for pk, each in found.items()} == {lot.pk: 2 for lot in lots}
