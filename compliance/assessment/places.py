"""Limits on where a lot stood: how warm the cold places were while it stood there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from brewlog.domain.places import Stay
from brewlog.models import Checkpoint
from brewlog.when import When
from compliance.assessment.facts import Facts, LotRecord
from compliance.assessment.finding import Finding
from compliance.assessment.judging import Judged, finding_of, judge_reading
from compliance.models import Limit


def place_temperature(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Readings past the limit of the cold places a lot stood in, while it stood there.

    A place that is not kept cold is no matter of this limit: bottles condition warm. A
    reading inside by less than its uncertainty is let be, as a cold store's air swings.
    """
    stood_through = {
        reading.pk: reading
        for stay in record.stays
        if stay.location is not None
        for reading in facts.place_readings_past(limit, stay.location.pk)
        if may_have_stood(stay, reading.when)
    }
    judged = [_judged(limit, reading, facts) for reading in stood_through.values()]
    found = finding_of(limit, record, judged)
    if found:
        yield found


def may_have_stood(stay: Stay, when: When) -> bool:
    """Whether the part cannot be shown to have stood elsewhere at that time."""
    came_later = when.provably_before(stay.since)
    return not came_later and not (stay.until and stay.until.provably_before(when))


def _judged(limit: Limit, reading: Checkpoint, facts: Facts) -> Judged:
    judged = judge_reading(limit, reading, facts)
    return replace(judged, shown=f"{judged.shown} while it stood in {reading.location}")
