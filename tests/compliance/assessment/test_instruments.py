"""Limits on how something was measured."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.conf import settings
from django.utils import timezone

from brewlog.domain.batches import record_step
from brewlog.domain.checkpoints import record_alcohol_estimate
from brewlog.domain.instruments import Point, doubt_about, readings_in_doubt
from brewlog.domain.lots import void
from brewlog.models import Calibration
from brewlog.when import on_day
from compliance.assessment import assess
from compliance.assessment.calibrations import Course
from compliance.decision import Verdict
from compliance.domain import rulesets
from compliance.models import Limit
from tests import factories
from tests.compliance.assessment import helpers

pytestmark = pytest.mark.django_db

REVIEW, CLEAR = Verdict.NEEDS_REVIEW, None
at = factories.at


@pytest.fixture
def batch(manager, brewery):
    return factories.batch(manager)


class TestCalibration:
    @pytest.fixture
    def meter(self, manager, batch):
        helpers.limit(manager, "calibration", measurand="ph")
        return helpers.meter(manager, name="PM 1")

    def test_none_on_record(self, manager, batch, meter):
        factories.reading(manager, batch, "3.5", when=at(10), instrument=meter)

        assert helpers.finding(batch).text == (
            "pH 3.5 with PM 1: its instrument had no calibration on record"
        )

    def test_no_instrument_written_down(self, manager, batch, meter):
        factories.reading(manager, batch, "3.5", when=at(10))

        assert "no instrument is written down" in helpers.finding(batch).text

    # Calibrated on the 5th at 9:00, due on the 12th: good for all of that day in Lisbon.
    @pytest.mark.parametrize(
        ("taken", "found"),
        [
            (at(5, 8, 59), REVIEW), (at(5), CLEAR), (at(12, 23, 59), CLEAR),
            (at(13, 0, 0), REVIEW), (on_day(dt.date(2026, 3, 5)), CLEAR),
            (on_day(dt.date(2026, 3, 4)), REVIEW), (on_day(dt.date(2026, 3, 13)), REVIEW),
        ],
    )  # fmt: skip
    def test_in_force_from_its_time_to_the_day_it_is_due(self, manager, batch, meter, taken, found):
        factories.calibration(manager, meter, when=at(5), due_on=dt.date(2026, 3, 12))
        factories.reading(manager, batch, "3.5", when=taken, instrument=meter)

        assert helpers.verdict(batch) is found

    def test_done_in_a_buffer_past_its_date(self, manager, batch, meter):
        old = factories.buffer_bottle(manager, until="2026-02-28")
        point = Point(Decimal("4.01"), Decimal("4.02"), None, old)
        factories.calibration(manager, meter, when=at(1), points=[point])
        factories.reading(manager, batch, "3.5", when=at(5), instrument=meter)

        told = f"in a buffer past its date ({old.name}, good until 2026-02-28)"
        assert told in helpers.finding(batch).text

    def test_due_by_the_calendar_of_the_brewery(self, manager):
        """Midnight in Auckland is noon in UTC: 13 March there is still 12 March elsewhere."""
        factories.brewery(manager, "Pacific/Auckland")
        with timezone.override(ZoneInfo("Pacific/Auckland")):
            batch = factories.batch(manager)
            helpers.limit(manager, "calibration", measurand="ph")
            meter = helpers.meter(manager)
            factories.calibration(manager, meter, when=at(5), due_on=dt.date(2026, 3, 12))
            factories.reading(manager, batch, "3.5", when=at(12, 10, 59), instrument=meter)
            assert helpers.verdict(batch) is CLEAR

            factories.reading(manager, batch, "3.5", when=at(12, 11), instrument=meter)
            assert helpers.verdict(batch) is REVIEW

    @pytest.mark.parametrize("outcome", ["out", "failed"])
    def test_looks_back_from_one_that_found_it_out(self, manager, batch, meter, outcome):
        factories.calibration(manager, meter, when=at(5))
        for day in (4, 6, 8):
            factories.reading(manager, batch, "3.5", when=at(day), instrument=meter)
        factories.calibration(manager, meter, outcome, when=at(9))

        found = helpers.finding(batch)
        assert [each.when for each in found.evidence] == [at(4), at(6), at(8)]
        assert found.verdict is REVIEW

    def test_what_was_read_before_the_last_good_one_is_not_in_doubt(self, manager, batch, meter):
        factories.calibration(manager, meter, when=at(3))
        factories.reading(manager, batch, "3.5", when=at(4), instrument=meter)
        factories.calibration(manager, meter, when=at(5))
        factories.calibration(manager, meter, "out", when=at(9))

        assert helpers.verdict(batch) is CLEAR

    @pytest.mark.parametrize(("outcome", "found"), [("out", CLEAR), ("failed", REVIEW)])
    def test_after_it_was_found_out_only_a_failed_one_leaves_doubt(
        self, manager, batch, meter, outcome, found
    ):
        factories.calibration(manager, meter, outcome, when=at(5))
        factories.reading(manager, batch, "3.5", when=at(6), instrument=meter)

        assert helpers.verdict(batch) is found

    def test_a_voided_calibration_says_nothing(self, manager, batch, meter):
        factories.calibration(manager, meter, when=at(5))
        factories.reading(manager, batch, "3.5", when=at(6), instrument=meter)
        wrong = factories.calibration(manager, meter, "out", when=at(9))
        void(actor=manager, record=wrong, reason="the other meter")

        assert helpers.verdict(batch) is CLEAR

    def test_steps_are_readings_of_temperature(self, manager, brewery):
        helpers.limit(manager, "calibration", measurand="temperature")
        probe = factories.instrument(manager, kind="thermometer", name="Probe")
        brew = factories.brew(manager)
        record_step(
            actor=manager, lot=brew, kind="steep", when=at(2), temperature=Decimal(90),
            temperature_text="90 °C", instrument=probe,
        )  # fmt: skip

        assert helpers.finding(brew).text == (
            "tea steeped at 90 °C with Probe: its instrument had no calibration on record"
        )


def test_doubt_is_the_same_as_the_one_the_verbs_tell(manager, batch):
    """Against the look-back of the instruments' own module, day and minute mixed."""
    meter = helpers.meter(manager)
    days = {7: "in", 9: "out", 12: "out", 15: "adjusted", 16: "failed", 18: "in", 20: "out"}
    for day, outcome in days.items():
        moment = at(day) if day % 2 else on_day(dt.date(2026, 3, day))
        factories.calibration(manager, meter, outcome, when=moment)
    times = [at(day, hour) for day in range(5, 22) for hour in (0, 9, 23)]
    times += [on_day(dt.date(2026, 3, day)) for day in range(5, 22)]
    readings = [
        factories.reading(manager, batch, "3.5", when=when, instrument=meter) for when in times
    ]
    calibrations = list(Calibration.objects.order_by("happened_at", "id"))
    course = Course(calibrations)
    looked_back = {each.pk for found in calibrations for each in readings_in_doubt(found).readings}

    for reading in readings:
        doubted = course.doubt(reading.when) is not None
        known = reading.pk in looked_back or doubt_about(meter, reading.when) is not None
        assert doubted == known, reading.when


class TestSampleTemperature:
    @pytest.mark.parametrize(
        ("sign", "sample", "found"),
        [
            ("<=", "29.9", CLEAR), ("<=", "30", CLEAR), ("<=", "30.1", REVIEW), ("<", "30", REVIEW),
            (">=", "30", CLEAR), (">=", "29.9", REVIEW), (">", "30", REVIEW), (">", "30.1", CLEAR),
        ],
    )  # fmt: skip
    def test_is_in_the_range(self, manager, batch, sign, sample, found):
        helpers.limit(
            manager, "sample_temperature", measurand="ph", operator=sign, value="30", unit="°C"
        )
        factories.reading(manager, batch, when=at(10), sample_temperature=Decimal(sample))

        assert helpers.verdict(batch) is found

    def test_is_cleared_by_a_later_sample_and_not_by_an_earlier_one(self, manager, batch):
        helpers.limit(
            manager, "sample_temperature", measurand="ph", operator="<=", value="30", unit="°C"
        )
        for day, sample in ((9, "22"), (10, "34"), (11, "35")):
            factories.reading(
                manager, batch, "3.50", when=at(day), sample_temperature=Decimal(sample)
            )
        assert helpers.finding(batch).text == (
            "3.50 read at 34.0 °C (and 1 more); the limit is ≤ 30 °C"
        )

        factories.reading(manager, batch, when=at(12), sample_temperature=Decimal(25))
        assert helpers.verdict(batch) is CLEAR

    def test_says_nothing_where_it_is_not_written_down(self, manager, batch):
        helpers.limit(manager, "sample_temperature", measurand="ph", operator="<=", value="30")
        factories.reading(manager, batch, when=at(10))

        assert helpers.verdict(batch) is CLEAR


class TestInstrument:
    # A third of 0.25 is 0.0833; 1.645 u with u the resolution over the root of 12.
    @pytest.mark.parametrize(
        ("resolution", "found"),
        [("0.01", CLEAR), ("0.1", CLEAR), ("0.17", CLEAR), ("0.18", REVIEW), ("0.5", REVIEW)],
    )
    def test_is_fine_enough_for_the_spread(self, manager, batch, resolution, found):
        helpers.limit(manager, "instrument", measurand="ph", operator="<=", value="0.25")
        strips = factories.instrument(manager, kind="ph_strip", resolution=resolution)
        factories.reading(manager, batch, when=at(10), instrument=strips)

        assert helpers.verdict(batch) is found

    def test_is_cleared_by_a_later_look_that_can_decide(self, manager, batch):
        helpers.limit(manager, "instrument", measurand="ph", operator="<=", value="0.25")
        strips = factories.instrument(manager, kind="ph_strip", resolution="0.5")
        factories.reading(manager, batch, when=at(9), instrument=helpers.meter(manager))
        factories.reading(manager, batch, when=at(10), instrument=strips)
        assert helpers.verdict(batch) is REVIEW

        factories.reading(manager, batch, when=at(11), instrument=helpers.meter(manager))
        assert helpers.verdict(batch) is CLEAR

    def test_a_hydrometer_cannot_decide_an_alcohol_line_and_a_laboratory_can(self, manager, batch):
        # 0.001 of specific gravity is about 0.13 % vol (factor 131.25); spread 0.5.
        helpers.limit(manager, "instrument", measurand="alcohol", operator="<=", value="0.5")
        record_alcohol_estimate(
            actor=manager, lot=batch, value=Decimal("0.3"), method="by gravity",
            standard_uncertainty=Decimal("0.13"), inputs="1.040 to 1.038", when=at(10),
        )  # fmt: skip

        found = helpers.finding(batch)
        assert "with a standard uncertainty of 0.13 this cannot decide" in found.text
        assert "send a sample to a laboratory" in found.text
        factories.lab_result(manager, batch, "0.3", when=at(11))
        assert helpers.verdict(batch) is CLEAR

    # Strips show steps of 0.2 to 0.5; a meter of which nothing is known has u = 0.05.
    @pytest.mark.parametrize(
        ("kind", "resolution", "found"),
        [("ph_strip", "0.2", REVIEW), ("ph_strip", "0.5", REVIEW), ("ph_meter", None, CLEAR)],
    )
    def test_the_habits_shipped_turn_strips_down_and_meters_not(
        self, manager, batch, kind, resolution, found
    ):
        rulesets.read_rulesets(actor=manager, folder=settings.BASE_DIR / "fixtures" / "rulesets")
        tool = factories.instrument(manager, kind=kind, resolution=resolution)
        factories.reading(manager, batch, when=at(10), instrument=tool)
        strips = Limit.objects.filter(ruleset__key="house-template", key="strips")

        findings = assess([batch], limits=list(strips)).findings
        assert [each.verdict for each in findings] == ([found] if found else [])
