"""Limits on where a lot stood: how warm, and for how long."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from brewlog.models import Checkpoint
from brewlog.units import show_temperature
from brewlog.when import When
from compliance.assessment.facts import Facts, LotRecord
from compliance.assessment.finding import Finding
from compliance.assessment.measured import evidence_of, judge_reading
from compliance.decision import Verdict
from compliance.models import Limit


def place_temperature(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Readings of the cold places a lot stood in, while it stood there, told as one finding.

    A place that is not kept cold is no matter of this limit: bottles condition warm.
    """
    warm: list[tuple[Checkpoint, Verdict]] = []
    for stay in facts.stays.get(record.lot.pk, ()):
        if stay.location is None or not stay.location.is_cold:
            continue
        until = stay.until.ends if stay.until else facts.at
        for reading in facts.place_readings.get(stay.location.pk, ()):
            if not stay.since.at <= reading.happened_at <= until:
                continue
            decision, _ = judge_reading(limit, reading)
            if decision.verdict is Verdict.FAILS:
                warm.append((reading, decision.verdict))
    if not warm:
        return
    readings = sorted({reading.pk: reading for reading, _ in warm}.values(), key=_time)
    highest = max(readings, key=lambda each: each.value)
    yield Finding(
        record.lot,
        limit,
        Verdict.FAILS,
        f"{len(readings)} readings outside while it stood in {highest.location}, up to "
        f"{show_temperature(highest.value)}; the limit is {limit.comparison}",
        When(readings[0].happened_at),
        tuple(evidence_of(each) for each in readings),
    )


def _time(reading: Checkpoint) -> dt.datetime:
    return reading.happened_at
