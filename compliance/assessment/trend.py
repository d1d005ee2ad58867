"""Limits on a course of readings: turning back, or standing still."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from brewlog.calculations.records import instrument_uncertainty
from brewlog.models import Checkpoint
from compliance.assessment.facts import Facts, LotRecord
from compliance.assessment.finding import Finding
from compliance.assessment.measured import evidence_of
from compliance.decision import Verdict
from compliance.models import Limit

# Fewer readings than these show no standstill.
_LEAST_FOR_A_STANDSTILL = 3


def trend(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """A course that is unlike a ferment.

    Where the limit has hours: the readings within them do not differ by more than their
    uncertainty, while the latest is still on the wrong side of the limit's value (a pH that
    stands still above 4.2). Without hours: the latest reading has turned back from the best
    by more than the limit's value (a pH that rises again by more than 0.3).
    """
    readings = [
        each
        for each in record.readings
        if each.measurand == limit.measurand and limit.stage in ("", each.stage)
    ]
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
    u, source = instrument_uncertainty(last.instrument, last.measurand)
    if back <= limit.value or float(back) <= 2 * u:
        return
    yield Finding(
        record.lot,
        limit,
        Verdict.NEEDS_REVIEW,
        f"{last.value_text} after {best.value_text}: it turned back by {back.normalize():f}",
        last.when,
        (evidence_of(best), evidence_of(last)),
        uncertainty_source=source,
    )


def _stands_still(limit: Limit, record: LotRecord, readings: list[Checkpoint]) -> Iterator[Finding]:
    assert limit.value is not None
    last = readings[-1]
    sign = 1 if limit.sign.is_upper else -1
    if sign * (last.value - limit.value) <= 0:
        return
    span = dt.timedelta(hours=float(limit.within_hours or 0))
    window = [each for each in readings if last.happened_at - each.happened_at <= span]
    covered = last.happened_at - window[0].happened_at
    if len(window) < _LEAST_FOR_A_STANDSTILL or covered < span / 2:
        return
    u, source = instrument_uncertainty(last.instrument, last.measurand)
    values = [each.value for each in window]
    if float(max(values) - min(values)) > 2 * u:
        return
    hours = covered / dt.timedelta(hours=1)
    yield Finding(
        record.lot,
        limit,
        Verdict.NEEDS_REVIEW,
        f"no change beyond the instrument's own in {hours:.0f} h, at {last.value_text}",
        last.when,
        tuple(evidence_of(each) for each in window),
        uncertainty_source=source,
    )
