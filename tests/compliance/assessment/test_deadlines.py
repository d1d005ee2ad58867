"""Limits with a clock: reached in time, read in time."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.utils import timezone

from brewlog.domain import batches
from brewlog.domain.checkpoints import record_reading
from brewlog.domain.lots import void
from brewlog.when import When, on_day
from compliance.decision import Verdict
from tests import factories
from tests.compliance.assessment import helpers

pytestmark = pytest.mark.django_db

FAILS, REVIEW, CLEAR = Verdict.FAILS, Verdict.NEEDS_REVIEW, None
at = factories.at
WEEK = {
    "lot_kind": "batch",
    "measurand": "ph",
    "operator": "<=",
    "value": "4.2",
    "within_hours": "168",
    "since": "pitched",
}
LATER = at(20)  # long after the deadline of a batch pitched on the 3rd, due on the 10th at 9:00


@pytest.fixture
def batch(manager, brewery):
    """Pitched on 3 March at 9:00."""
    return factories.batch(manager)


def read(actor, batch, *looks: tuple[When, str], **fields):
    for when, said in looks:
        factories.reading(actor, batch, said, when=when, **fields)


class TestByDeadline:
    # Readings (day, hour, pH) by a meter of u = 0.0119; the deadline is 10 March, 9:00.
    @pytest.mark.parametrize(
        ("looks", "found"),
        [
            ([(5, 9, "4.1")], CLEAR),
            ([(5, 9, "4.5"), (10, 9, "4.18")], CLEAR),  # on the deadline itself
            ([(5, 9, "4.5"), (10, 9, "4.20")], REVIEW),  # on the line: too close to tell
            ([(5, 9, "4.5"), (10, 9, "4.22")], FAILS),
            ([(5, 9, "4.5"), (9, 9, "4.3"), (11, 9, "4.1")], FAILS),  # a day before speaks for it
            ([(5, 9, "4.1"), (8, 9, "4.4")], CLEAR),  # reached: turning back is another limit
            ([(5, 9, "4.19"), (11, 9, "3.9")], REVIEW),
            ([(5, 9, "4.19"), (11, 9, "4.4")], FAILS),  # still outside after it
            ([(5, 9, "4.5"), (12, 9, "3.6")], REVIEW),  # not read shortly before it
            ([(5, 9, "4.5")], FAILS),  # and never again
            ([(5, 9, "4.5"), (12, 9, "4.19"), (14, 9, "3.6")], REVIEW),
            ([(12, 9, "3.6")], REVIEW),  # no reading by then
            ([(12, 9, "4.4"), (14, 9, "3.6")], FAILS),
            ([], REVIEW),
        ],
    )  # fmt: skip
    def test_is_judged_by_the_readings_there_were(self, manager, batch, looks, found):
        helpers.limit(manager, "by_deadline", **WEEK)
        meter = helpers.meter(manager)
        for day, hour, said in looks:
            factories.reading(manager, batch, said, when=at(day, hour), instrument=meter)

        assert helpers.verdict(batch, LATER) is found

    # The same line from below, for a temperature that must be down in two hours, and so on.
    @pytest.mark.parametrize(
        ("sign", "line", "measurand", "inside", "outside"),
        [
            ("<=", "21", "temperature", "68 °F", "75 °F"), ("<", "21", "temperature", "20", "21"),
            (">=", "4", "total_acidity", "4.6", "3.2"), (">", "4", "total_acidity", "4.6", "4"),
        ],
    )  # fmt: skip
    def test_holds_for_each_sign_and_unit(
        self, manager, batch, sign, line, measurand, inside, outside
    ):
        helpers.limit(
            manager, "by_deadline",
            **{**WEEK, "measurand": measurand, "operator": sign, "value": line},
        )  # fmt: skip
        read(manager, batch, (at(9, 20), outside), measurand=measurand)
        assert helpers.verdict(batch, LATER) is FAILS

        read(manager, batch, (at(9, 21), inside), measurand=measurand)
        assert helpers.verdict(batch, LATER) is CLEAR

    # u = 0.05 where the meter is not known: 4.12 is too close at 4.2, by a meter it is not.
    @pytest.mark.parametrize(("known", "found"), [(True, CLEAR), (False, REVIEW)])
    def test_asks_for_more_room_of_an_unknown_meter(self, manager, batch, known, found):
        helpers.limit(manager, "by_deadline", **WEEK)
        meter = helpers.meter(manager) if known else None
        read(manager, batch, (at(9), "4.12"), instrument=meter)

        assert helpers.verdict(batch, LATER) is found

    def test_is_awaited_until_the_deadline(self, manager, batch):
        helpers.limit(manager, "by_deadline", **WEEK)
        read(manager, batch, (at(5), "4.6"))

        assert helpers.findings(batch, at(10, 8, 59)) == ()
        (due,) = helpers.awaited(batch, at(10, 8, 59))
        assert (due.text, due.due) == ("The limit: reading due", at(10).at)
        assert helpers.verdict(batch, at(10, 9)) is FAILS
        assert helpers.awaited(batch, at(10, 9)) == ()

    def test_says_how_it_was_missed(self, manager, batch):
        helpers.limit(manager, "by_deadline", **WEEK)
        read(manager, batch, (at(9), "4.4"), (at(12), "3.9"))

        found = helpers.finding(batch, LATER)
        assert found.text == (
            "not reached by the deadline: 4.4 pH on 2026-03-09 09:00; the limit is ≤ 4.2 pH"
        )
        assert found.since == at(10)
        assert [each.text for each in found.evidence] == ["pH 4.4", "pH 3.9"]
        assert found.decision.margin == pytest.approx(-0.2)

    def test_counts_a_reading_by_when_it_was_taken(self, manager, batch):
        helpers.limit(manager, "by_deadline", **WEEK)
        late = factories.reading(manager, batch, "3.9", when=at(9))

        assert late.is_late
        assert helpers.verdict(batch, LATER) is CLEAR

    def test_ignores_a_voided_reading(self, manager, batch):
        helpers.limit(manager, "by_deadline", **WEEK)
        wrong = factories.reading(manager, batch, "3.9", when=at(9))
        void(actor=manager, record=wrong, reason="of another jar")

        assert helpers.verdict(batch, LATER) is REVIEW

    def test_needs_replicates_of_one_minute_to_agree(self, manager, batch):
        helpers.limit(manager, "by_deadline", **WEEK)
        read(manager, batch, (at(9), "3.9"), (at(9), "4.5"))
        assert helpers.verdict(batch, LATER) is FAILS

        read(manager, batch, (at(9, 9, 30), "3.9"))
        assert helpers.verdict(batch, LATER) is CLEAR

    def test_is_not_reached_by_a_reading_in_doubt(self, manager, batch):
        helpers.limit(manager, "by_deadline", **WEEK)
        meter = helpers.meter(manager, name="PM 2")
        factories.calibration(manager, meter, when=at(2))
        factories.calibration(manager, meter, "out", when=at(9))
        read(manager, batch, (at(8), "3.9"), instrument=meter)

        found = helpers.finding(batch, LATER)
        assert found.verdict is REVIEW
        assert "PM 2 was found out of tolerance on 2026-03-09 09:00" in found.text

    def test_is_reached_by_a_laboratory_too(self, manager, batch):
        helpers.limit(manager, "by_deadline", **WEEK)
        factories.lab_result(manager, batch, "3.9", when=at(9), measurand="ph")

        assert helpers.verdict(batch, LATER) is CLEAR

    def test_does_not_count_the_tea_before_the_starter(self, manager, brewery):
        helpers.limit(manager, "by_deadline", **WEEK)
        begun = batches.plan_batch(actor=manager, when=at(3))
        record_reading(
            actor=manager, lot=begun, measurand="ph", value="4.0", when=at(3, 10), stage="sweet_tea"
        )
        assert helpers.findings(begun, LATER) == ()  # its clock has not started
        starter = factories.culture(manager)
        batches.pitch(
            actor=manager, batch=begun, when=at(3, 12), quantity=factories.quantity("60 L"),
            lines=[batches.Draw(starter, factories.quantity("6 L"), "starter")],
        )  # fmt: skip

        assert helpers.verdict(begun, LATER) is REVIEW


class TestWhereOnlyTheDayIsKnown:
    """Pitched some time on 3 March: the week is over between 10 March 0:00 and 11 March 0:00."""

    @pytest.fixture
    def batch(self, manager, brewery):
        return factories.batch(manager, when=on_day(dt.date(2026, 3, 3)))

    @pytest.mark.parametrize(
        ("taken", "found"),
        [
            (at(9, 23), CLEAR),
            (at(10, 0, 0), CLEAR),
            (at(10, 9), REVIEW),  # in time if it was pitched after nine
            (at(11, 0, 0), REVIEW),
            (at(11, 0, 1), REVIEW),  # late for certain: there was no reading by the deadline
            (on_day(dt.date(2026, 3, 9)), CLEAR),
            (on_day(dt.date(2026, 3, 10)), REVIEW),
            (on_day(dt.date(2026, 3, 12)), REVIEW),
        ],
    )
    def test_the_deadline_counts_from_the_end_of_the_day(self, manager, batch, taken, found):
        helpers.limit(manager, "by_deadline", **WEEK)
        read(manager, batch, (taken, "3.9"))

        assert helpers.verdict(batch, LATER) is found

    def test_an_inspector_sees_what_was_in_time_only_because_of_that(self, manager, batch):
        helpers.limit(manager, "by_deadline", **WEEK)
        read(manager, batch, (at(10, 9), "3.9"))

        assert helpers.finding(batch, LATER).text == (
            "3.9 pH on 2026-03-10 09:00: in time only as far as the days written down tell, "
            "counted from the end of 2026-03-03 as the time of day is not known; the limit is "
            "≤ 4.2 pH"
        )

    def test_it_is_not_missed_before_the_last_moment_it_can_have_been(self, manager, batch):
        helpers.limit(manager, "by_deadline", **WEEK)

        (due,) = helpers.awaited(batch, at(10, 23, 59))
        assert due.due == at(11, 0, 0).at
        assert "counted from the end of 2026-03-03" in due.text
        assert helpers.verdict(batch, at(11, 0, 0)) is REVIEW


# Clocks changed: Lisbon on 29 March 2026 and 25 October 2026 (EU summer time), New York on
# 8 March 2026 (US), Lord Howe by half an hour on 5 April 2026; Kathmandu never (tz database).
@pytest.mark.parametrize(
    ("zone", "pitched", "deadline"),
    [
        ("Europe/Lisbon", "2026-03-25 10:00", "2026-04-01 11:00"),
        ("Europe/Lisbon", "2026-10-22 10:00", "2026-10-29 09:00"),
        ("America/New_York", "2026-03-05 10:00", "2026-03-12 11:00"),
        ("Australia/Lord_Howe", "2026-04-02 10:00", "2026-04-09 09:30"),
        ("Asia/Kathmandu", "2026-03-25 10:00", "2026-04-01 10:00"),
    ],
)
@pytest.mark.parametrize(("minutes", "found"), [(0, CLEAR), (1, REVIEW)])
def test_a_week_is_168_real_hours_whatever_the_clocks_do(
    manager, zone, pitched, deadline, minutes, found
):
    place = ZoneInfo(zone)
    local = lambda text: When(dt.datetime.fromisoformat(text).replace(tzinfo=place))  # noqa: E731
    factories.brewery(manager, zone)
    with timezone.override(place):
        batch = factories.batch(manager, when=local(pitched))
        helpers.limit(manager, "by_deadline", **WEEK)
        taken = When(local(deadline).at.astimezone(dt.UTC) + dt.timedelta(minutes=minutes))
        read(manager, batch, (taken, "3.9"))

        assert helpers.verdict(batch, factories.now()) is found


@pytest.mark.parametrize(
    ("zone", "day", "over"),
    [
        # 3 April ends at midnight by either clock; in Santiago summer time ends that night,
        # on 5 April 0:00 (tz database), so that 4 April has 25 hours.
        ("Europe/Lisbon", dt.date(2026, 3, 28), "2026-04-05T01:00:00+01:00"),
        ("America/Santiago", dt.date(2026, 4, 4), "2026-04-12T00:00:00-04:00"),
    ],
)
def test_a_day_ends_by_the_clock_of_the_brewery(manager, zone, day, over):
    factories.brewery(manager, zone)
    with timezone.override(ZoneInfo(zone)):
        batch = factories.batch(manager, when=on_day(day))
        helpers.limit(manager, "by_deadline", **WEEK)

        end = dt.datetime.fromisoformat(over)
        (due,) = helpers.awaited(batch, When(end - dt.timedelta(hours=1)))
        assert due.due == end


class TestPresence:
    FIRST_DAY = {"measurand": "ph", "within_hours": "24", "since": "pitched"}

    @pytest.mark.parametrize(
        ("taken", "found"),
        [
            (at(3, 9), CLEAR), (at(4, 8, 59), CLEAR), (at(4, 9), CLEAR), (at(4, 9, 1), REVIEW),
            (on_day(dt.date(2026, 3, 3)), CLEAR), (on_day(dt.date(2026, 3, 4)), CLEAR),
            (on_day(dt.date(2026, 3, 5)), REVIEW),
        ],
    )  # fmt: skip
    def test_a_reading_is_there_in_time_or_late(self, manager, batch, taken, found):
        helpers.limit(manager, "presence", **self.FIRST_DAY)
        read(manager, batch, (taken, "4.5"))

        assert helpers.verdict(batch, LATER) is found

    def test_it_is_awaited_then_missing_then_late(self, manager, batch):
        helpers.limit(manager, "presence", **self.FIRST_DAY)
        (due,) = helpers.awaited(batch, at(4, 8))
        assert due.due == at(4).at
        assert helpers.finding(batch, at(4, 9)).text == "not taken; due by 2026-03-04 09:00"

        read(manager, batch, (at(6), "4.4"))
        assert helpers.finding(batch, LATER).text == (
            "taken late, on 2026-03-06 09:00; due by 2026-03-04 09:00"
        )

    def test_a_voided_reading_and_one_of_another_stage_are_not_there(self, manager, batch):
        helpers.limit(manager, "presence", stage="ferment", **self.FIRST_DAY)
        read(manager, batch, (at(3, 9, 30), "4.5"), stage="pitch")
        wrong = factories.reading(manager, batch, "4.5", when=at(3, 12), stage="ferment")
        void(actor=manager, record=wrong, reason="of another jar")

        assert helpers.verdict(batch, LATER) is REVIEW

    def test_the_tea_before_the_starter_is_not_the_batch_after_it(self, manager, brewery):
        helpers.limit(manager, "presence", **self.FIRST_DAY)
        begun = batches.plan_batch(actor=manager, when=at(3))
        read(manager, begun, (at(3, 10), "6.5"))
        starter = factories.culture(manager)
        batches.pitch(
            actor=manager, batch=begun, when=at(3, 12), quantity=factories.quantity("60 L"),
            lines=[batches.Draw(starter, factories.quantity("6 L"), "starter")],
        )  # fmt: skip

        assert helpers.verdict(begun, LATER) is REVIEW

    def test_a_laboratory_result_is_a_reading(self, manager, brewery):
        helpers.limit(manager, "presence", measurand="alcohol", within_hours="240", since="bottled")
        bottles = factories.bottles(manager, when=at(5))
        batch = factories.batch(manager)
        assert helpers.verdict(bottles, LATER) is REVIEW
        assert helpers.verdict(batch, LATER) is CLEAR  # a batch is not bottled itself

        factories.lab_result(manager, bottles, when=at(9))
        assert helpers.verdict(bottles, LATER) is CLEAR


class TestOneAfterTheOther:
    DAILY = {"lot_kind": "batch", "measurand": "ph", "within_hours": "26", "since": "last"}

    def test_is_due_again_after_each(self, manager, batch):
        helpers.limit(manager, "presence", **self.DAILY)
        read(manager, batch, (at(4), "4.5"), (at(5, 11), "4.3"))

        (due,) = helpers.awaited(batch, at(6, 12))
        assert due.due == at(6, 13).at
        assert helpers.findings(batch, at(6, 12)) == ()

    def test_tells_the_gaps_and_what_is_overdue_now(self, manager, batch):
        helpers.limit(manager, "presence", **self.DAILY)
        read(manager, batch, (at(4), "4.5"), (at(6), "4.1"))

        assert helpers.finding(batch, at(8)).text == (
            "none from 2026-03-04 09:00 to 2026-03-06 09:00, from 2026-03-06 09:00 to now; one "
            "is due every 26 h"
        )

    def test_ends_when_nothing_of_the_lot_is_left(self, manager, batch):
        helpers.limit(manager, "presence", **self.DAILY)
        read(manager, batch, (at(4), "4.5"))
        factories.bottles(manager, count=180, batch=batch, drawn="60 L", when=at(5))

        assert helpers.findings(batch, LATER) == ()
        assert helpers.awaited(batch, LATER) == ()


def test_without_a_given_moment_the_clock_is_now(manager, batch):
    helpers.limit(manager, "by_deadline", **WEEK)

    with time_machine.travel(at(10, 8).at):
        assert helpers.findings(batch) == ()
    with time_machine.travel(at(10, 10).at):
        assert helpers.verdict(batch) is REVIEW
