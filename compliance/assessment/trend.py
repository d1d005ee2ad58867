"""Limits on a course of readings: turning back, or standing still."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator

from brewlog.calculations.records import instrument_uncertainty
from brewlog.models import Checkpoint
from compliance.assessment.facts import Facts, LotRecord
from compliance.assessment.finding import Finding
from compliance.assessment.judging import evidence_of, judge_value, readings_of
from compliance.decision import Verdict, meets
from compliance.models import Limit

# Fewer readings than these show no standstill.
_LEAST_FOR_A_STANDSTILL = 3
# A difference of two readings is one where it is beyond twice its standard uncertainty.
_COVERAGE = 2


def trend(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """A course that is unlike a ferment.

    Where the limit has hours: the readings within them do not differ by more than their
    uncertainty, while the latest is still on the wrong side of the limit's value (a pH that
    stands still above 4.2). Without hours: the latest reading has turned back from the best
    by more than the limit's value (a pH that rises again by more than 0.3). Either is
    cleared by a next reading that moves as it should.
    """
    readings = readings_of(limit, record)
    if len(readings) < 2:
        return
    found = _stands_still if limit.within_hours else _turns_back
    yield from found(limit, record, readings)


def _turns_back(limit: Limit, record: LotRecord, readings: list[Checkpoint]) -> Iterator[Finding]:
    assert limit.value is not None
    sign = 1 if limit.sign.is_upper else -1
    best = min(readings, key=lambda each: (sign * each.value, each.happened_at))
    last = readings[-1]
    back = sign * (last.value - best.value)
    allowed = back < limit.value or (back == limit.value and limit.sign.allows_equal)
    u, source = _of_a_difference(best, last)
    if allowed or float(back) <= _COVERAGE * u:
        return
    yield Finding(
        record.lot,
        limit,
        Verdict.NEEDS_REVIEW,
        f"{last.value_text} after {best.value_text}: it turned back by {back.normalize():f}",
        last.when,
        (evidence_of(last), evidence_of(best)),
        judge_value(limit, float(back), u) if limit.sign.is_upper else None,
        source,
    )


def _stands_still(limit: Limit, record: LotRecord, readings: list[Checkpoint]) -> Iterator[Finding]:
    assert limit.value is not None
    last = readings[-1]
    if meets(last.value, limit.sign, limit.value):
        return
    span = dt.timedelta(hours=float(limit.within_hours or 0))
    window = [each for each in readings if last.happened_at - each.happened_at <= span]
    covered = last.happened_at - window[0].happened_at
    if len(window) < _LEAST_FOR_A_STANDSTILL or covered < span / 2:
        return
    lowest, highest = (pick(window, key=lambda each: each.value) for pick in (min, max))
    u, source = _of_a_difference(lowest, highest)
    if float(highest.value - lowest.value) > _COVERAGE * u:
        return
    hours = covered / dt.timedelta(hours=1)
    one, _ = instrument_uncertainty(last.instrument, last.measurand)
    yield Finding(
        record.lot,
        limit,
        Verdict.NEEDS_REVIEW,
        f"no change beyond the instrument's own in {hours:.0f} h, at {last.value_text}; the "
        f"limit is {limit.comparison}",
        last.when,
        tuple(evidence_of(each) for each in reversed(window)),
        judge_value(limit, float(last.value), one),
        source,
    )


def _of_a_difference(one: Checkpoint, other: Checkpoint) -> tuple[float, str]:
    """Standard uncertainty of the difference of two readings, and where it comes from."""
    first, _ = instrument_uncertainty(one.instrument, one.measurand)
    second, source = instrument_uncertainty(other.instrument, other.measurand)
    return math.hypot(first, second), source
