"""Bottles of pH buffer, and the calibrations done in them."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from brewlog.domain.buffers import NewBottle
from brewlog.domain.instruments import Point
from brewlog.domain.lots import correct
from brewlog.models import BufferBottle, Calibration, CalibrationPoint
from brewlog.recording import Refused
from tests import factories
from tests.factories import at

pytestmark = pytest.mark.django_db


def calibrated_in(actor, bottle, reference="4.01"):
    meter = factories.instrument(actor)
    point = Point(Decimal(reference), Decimal("4.03"), None, bottle)
    return factories.calibration(actor, meter, when=at(10), points=[point])


def expired(calibration) -> str | None:
    return Calibration.objects.with_expired_buffer().get(pk=calibration.pk).expired_buffer


def test_a_bottle_is_chosen_for_a_point(operator):
    bottle = factories.buffer_bottle(operator)

    calibration = calibrated_in(operator, bottle)

    assert CalibrationPoint.objects.get().bottle == bottle
    assert expired(calibration) is None


def test_a_new_one_is_put_on_the_shelf_as_it_is_first_used(operator):
    calibrated_in(operator, NewBottle(Decimal("4.01"), "BF-7", dt.date(2026, 12, 31)))

    bottle = BufferBottle.objects.get()
    assert (bottle.name, bottle.maker_lot) == ("pH 4.01 lot BF-7", "BF-7")
    assert bottle.points.count() == 1


def test_the_wrong_bottle_is_noticed_and_nothing_is_kept(operator):
    with pytest.raises(Refused, match=r"is of pH 7; the reference says 4\.01"):
        calibrated_in(operator, factories.buffer_bottle(operator, "7.00"))

    assert not Calibration.objects.exists()


def test_a_bottle_opened_after_its_date_is_refused(operator):
    with pytest.raises(Refused, match="opened after its date"):
        factories.buffer_bottle(operator, until="2026-01-31", opened_on=dt.date(2026, 2, 1))


@pytest.mark.parametrize(("until", "is_past"), [("2026-03-09", True), ("2026-03-10", False)])
def test_a_bottle_is_good_to_the_end_of_its_day(operator, until, is_past):
    bottle = factories.buffer_bottle(operator, until=until)

    told = expired(calibrated_in(operator, bottle))

    assert told == (f"{bottle.name}, good until {until}" if is_past else None)


def test_a_date_mended_afterwards_clears_it(operator):
    bottle = factories.buffer_bottle(operator, until="2026-03-01")
    calibration = calibrated_in(operator, bottle)

    correct(actor=operator, record=bottle, reason="misread", expires_on=dt.date(2026, 8, 1))

    assert expired(calibration) is None
