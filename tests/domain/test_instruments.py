"""Calibrating instruments and looking back."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from brewlog.domain import batches, instruments
from brewlog.domain.instruments import Point, calibration_in_force, readings_in_doubt
from brewlog.models import Calibration, CalibrationPoint, ReviewFlag
from brewlog.recording import Refused
from brewlog.when import on_day
from tests import factories
from tests.factories import at

pytestmark = pytest.mark.django_db


def test_a_calibration_keeps_its_points_and_when_the_next_is_due(operator):
    meter = factories.instrument(operator, calibrate_every_days=7)

    found = instruments.calibrate(
        actor=operator,
        instrument=meter,
        outcome="adjusted",
        when=at(2, 8),
        slope_percent=Decimal("96.5"),
        offset_mv=Decimal("-8.0"),
        buffers="4.01 lot 77, 7.00 lot 12",
        points=[
            Point(Decimal("4.01"), Decimal("4.09"), Decimal("4.01")),
            Point(Decimal("7.00"), Decimal("7.02")),
        ],
    )

    found.refresh_from_db()
    assert (found.due_on, found.slope_percent) == (dt.date(2026, 3, 9), Decimal("96.5"))
    points = [(p.reference, p.found, p.left) for p in found.points.all()]
    assert points == [
        (Decimal("4.01"), Decimal("4.09"), Decimal("4.01")),
        (Decimal("7"), Decimal("7.02"), None),
    ]
    assert found.history.get().history_user == operator


def test_the_next_calibration_is_due_after_this_one(operator):
    meter = factories.instrument(operator)

    with pytest.raises(Refused, match="due after this one"):
        factories.calibration(operator, meter, when=at(2), due_on=dt.date(2026, 3, 2))

    assert Calibration.objects.count() == 0


def test_a_bad_point_leaves_no_calibration_behind(operator):
    meter = factories.instrument(operator)

    with pytest.raises(ValidationError, match="decimal places"):
        factories.calibration(
            operator, meter, points=[Point(Decimal("4.01"), Decimal("4.000000001"))]
        )

    assert Calibration.objects.count() == 0


class TestAPointOfItsOwn:
    def test_finds_its_calibration_by_the_day(self, operator):
        meter = factories.instrument(operator)
        calibration = factories.calibration(operator, meter, when=at(2, 8))

        point = instruments.add_calibration_point(
            actor=operator,
            instrument=meter,
            when=on_day(dt.date(2026, 3, 2)),
            reference=Decimal("4.01"),
            found=Decimal("4.03"),
        )

        assert point.calibration == calibration

    def test_is_refused_where_there_is_no_calibration_or_it_stands_there(self, operator):
        meter = factories.instrument(operator)
        calibration = factories.calibration(operator, meter, when=at(2, 8))
        point = {"actor": operator, "instrument": meter, "found": Decimal("4.03")}
        instruments.add_calibration_point(when=at(2, 8), reference=Decimal("4.01"), **point)

        with pytest.raises(Refused, match="no calibration of 2026-03-03"):
            instruments.add_calibration_point(when=at(3), reference=Decimal("7"), **point)
        with pytest.raises(Refused, match="a point at 4.01 already"):
            instruments.add_calibration_point(when=at(2, 8), reference=Decimal("4.01"), **point)

        assert CalibrationPoint.objects.get().calibration == calibration


def test_the_calibration_in_force_is_the_last_one_before(operator):
    meter = factories.instrument(operator)
    first = factories.calibration(operator, meter, when=at(2))
    second = factories.calibration(operator, meter, "failed", when=at(9))
    other = factories.instrument(operator)
    factories.calibration(operator, other, when=at(5))

    found = [calibration_in_force(meter, when) for when in (at(1), at(2), at(6), at(9), at(20))]

    assert found == [None, first, first, second, second]


class TestFoundOutOfTolerance:
    def test_puts_everything_since_the_last_good_one_in_doubt(self, operator):
        meter = factories.instrument(operator, "Meter A")
        batch, later_batch = factories.batch(operator), factories.batch(operator)
        factories.reading(operator, batch, when=at(4), instrument=meter)
        good = factories.calibration(operator, meter, when=at(5))
        doubtful = [
            factories.reading(operator, batch, when=at(6), instrument=meter),
            factories.reading(operator, batch, when=at(7), instrument=meter),
        ]
        step = batches.record_step(
            actor=operator, lot=later_batch, kind="cool", when=at(8), instrument=meter
        )
        factories.reading(operator, later_batch, when=at(8))

        found_out = factories.calibration(operator, meter, "out", when=at(9))

        factories.reading(operator, batch, when=at(10), instrument=meter)
        doubt = readings_in_doubt(found_out)
        assert doubt.last_good == good
        assert (doubt.readings, doubt.steps) == (doubtful, [step])
        assert [lot.pk for lot in doubt.lots] == [batch.pk, later_batch.pk]

    def test_flags_each_lot_once(self, operator):
        meter = factories.instrument(operator, "Meter A")
        first, second = factories.batch(operator), factories.batch(operator)
        clear = factories.batch(operator)
        for lot in (first, first, second):
            factories.reading(operator, lot, when=at(6), instrument=meter)
        factories.reading(operator, clear, when=at(6))

        factories.calibration(operator, meter, "out", when=at(9))

        flags = ReviewFlag.objects.order_by("id")
        assert [flag.lot_id for flag in flags] == [first.pk, second.pk]
        assert flags[0].text == (
            "2 readings by Meter A since its first reading in doubt: "
            "out of tolerance as found on 2026-03-09 09:00"
        )

    def test_flags_nothing_when_it_was_in_tolerance(self, operator):
        meter = factories.instrument(operator)
        factories.reading(operator, factories.batch(operator), when=at(6), instrument=meter)

        good = factories.calibration(operator, meter, when=at(9))

        assert ReviewFlag.objects.count() == 0
        assert readings_in_doubt(good).readings == []

    def test_flags_a_reading_that_is_written_only_afterwards(self, operator):
        meter = factories.instrument(operator)
        batch = factories.batch(operator)
        factories.calibration(operator, meter, "out", when=at(9))

        factories.reading(operator, batch, when=at(6), instrument=meter)
        factories.reading(operator, batch, when=at(12), instrument=meter)

        flag = ReviewFlag.objects.get()
        assert flag.lot_id == batch.pk
        assert "of 2026-03-06 09:00" in flag.text
