"""Limits on a course of readings: turning back, standing still."""

from __future__ import annotations

import pytest

from brewlog.domain.lots import void
from compliance.decision import Verdict
from tests import factories
from tests.compliance.assessment import helpers

pytestmark = pytest.mark.django_db

REVIEW, CLEAR = Verdict.NEEDS_REVIEW, None
at = factories.at


@pytest.fixture
def batch(manager, brewery):
    return factories.batch(manager)


def read(actor, batch, instrument, *values: str, every_h: int = 24, **fields):
    """Readings from 4 March on, one after the other."""
    for number, said in enumerate(values):
        day, hour = divmod(number * every_h, 24)
        factories.reading(
            actor, batch, said, when=at(4 + day, hour), instrument=instrument, **fields
        )


class TestTurningBack:
    @pytest.mark.parametrize(
        ("sign", "line", "values", "found"),
        [
            ("<=", "0.3", ("4.4", "3.9", "3.6"), CLEAR),
            ("<=", "0.3", ("3.6", "3.8"), CLEAR),
            ("<=", "0.3", ("3.6", "3.9"), CLEAR),  # by the limit itself
            ("<", "0.3", ("3.6", "3.9"), REVIEW),
            ("<=", "0.3", ("3.6", "3.91"), REVIEW),
            ("<=", "0.3", ("4.4", "3.6", "4.0"), REVIEW),
            ("<=", "0.3", ("3.6", "4.0", "3.7"), CLEAR),  # the next reading clears it
            ("<=", "0.02", ("3.60", "3.63"), CLEAR),  # within twice the u of a difference: 0.034
            ("<=", "0.02", ("3.60", "3.64"), REVIEW),
            (">=", "0.3", ("3.6", "3.9", "4.4"), CLEAR),  # what should rise
            (">=", "0.3", ("4.4", "4.0"), REVIEW),
            ("<=", "0.3", ("4.4",), CLEAR),
        ],
    )
    def test_is_from_the_best_to_the_latest(self, manager, batch, sign, line, values, found):
        helpers.limit(manager, "trend", measurand="ph", operator=sign, value=line)
        read(manager, batch, helpers.meter(manager), *values)

        assert helpers.verdict(batch) is found

    # Without a known meter u is 0.05, of a difference 0.071: 0.14 may be nothing.
    @pytest.mark.parametrize(("last", "found"), [("3.74", CLEAR), ("3.75", REVIEW)])
    def test_is_more_than_an_unknown_meter_may_be_wrong_by(self, manager, batch, last, found):
        helpers.limit(manager, "trend", measurand="ph", operator="<=", value="0.1")
        read(manager, batch, None, "3.6", last)

        assert helpers.verdict(batch) is found

    def test_tells_both_readings_and_forgets_voided_ones(self, manager, batch):
        helpers.limit(manager, "trend", measurand="ph", operator="<=", value="0.3", unit="pH")
        read(manager, batch, helpers.meter(manager), "3.6", "4.1")

        found = helpers.finding(batch)
        assert found.text == "4.1 after 3.6: it turned back by 0.5"
        assert found.decision.margin == pytest.approx(-0.2)
        void(actor=manager, record=batch.readings.last(), reason="another jar")
        assert helpers.verdict(batch) is CLEAR


class TestStandingStill:
    STILL = {"measurand": "ph", "stage": "ferment", "value": "4.2", "within_hours": "72"}

    @pytest.mark.parametrize(
        ("sign", "values", "every_h", "found"),
        [
            ("<=", ("4.50", "4.50", "4.50"), 24, REVIEW),
            ("<=", ("4.50", "4.49", "4.48"), 24, REVIEW),  # within 0.034
            ("<=", ("4.50", "4.48", "4.46"), 24, CLEAR),  # it moves, slowly
            ("<=", ("4.50", "4.50"), 24, CLEAR),  # two show nothing
            ("<=", ("4.50", "4.50", "4.50"), 17, CLEAR),  # less than half of the hours
            ("<=", ("4.50", "4.50", "4.50"), 18, REVIEW),
            ("<=", ("4.10", "4.10", "4.10"), 24, CLEAR),  # it is where it should be
            ("<=", ("4.20", "4.20", "4.20"), 24, CLEAR),
            ("<", ("4.20", "4.20", "4.20"), 24, REVIEW),
            ("<=", ("4.90", "4.50", "4.50", "4.50"), 30, REVIEW),  # 4.90 is out of the window
            ("<=", ("4.50", "4.50", "4.50", "4.30"), 24, CLEAR),
            (">=", ("3.10", "3.10", "3.10"), 24, REVIEW),
        ],
    )
    def test_is_no_change_on_the_wrong_side(self, manager, batch, sign, values, every_h, found):
        helpers.limit(manager, "trend", operator=sign, **self.STILL)
        read(manager, batch, helpers.meter(manager), *values, every_h=every_h, stage="ferment")

        assert helpers.verdict(batch) is found

    def test_of_another_stage_does_not_count(self, manager, batch):
        helpers.limit(manager, "trend", operator="<=", **self.STILL)
        read(manager, batch, helpers.meter(manager), "4.5", "4.5", "4.5", stage="sweet_tea")

        assert helpers.verdict(batch) is CLEAR

    def test_tells_for_how_long(self, manager, batch):
        helpers.limit(manager, "trend", operator="<=", unit="pH", **self.STILL)
        read(manager, batch, helpers.meter(manager), "4.5", "4.5", "4.5", stage="ferment")

        found = helpers.finding(batch)
        assert found.text == (
            "no change beyond the instrument's own in 48 h, at 4.5; the limit is ≤ 4.2 pH"
        )
        assert len(found.evidence) == 3
