"""What each limit says of one reading by itself: for the person who has just taken it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from brewlog.models import Checkpoint, Lot
from compliance.assessment.assess import assessment_of, facts_about, in_force_then
from compliance.assessment.facts import Facts
from compliance.assessment.finding import Finding
from compliance.assessment.judging import Judged, is_about, judge_reading
from compliance.domain.rulesets import rules
from compliance.models import Limit, LimitKind

_OF_VALUES = (LimitKind.VALUE, LimitKind.BY_DEADLINE)


@dataclass(frozen=True)
class Heard:
    """One limit and one reading.

    `judged` is the reading by itself, None where the limit is not about its value. `finding` is
    what was found of the lot that stands on the reading. `due` is until when the limit waits
    for a reading that conforms, None where it waits for none.
    """

    limit: Limit
    judged: Judged | None
    finding: Finding | None
    due: dt.datetime | None


def holds_values(limit: Limit, lot: Lot, measurand: str) -> bool:
    """Whether the value of a reading of that lot is held against the limit."""
    return (
        limit.kind in _OF_VALUES
        and limit.lot_kind in ("", lot.kind)
        and limit.measurand == measurand
    )


def hear(readings: Sequence[Checkpoint], at: dt.datetime | None = None) -> dict[int, list[Heard]]:
    """Readings of lots against the limits in force, by the reading's key.

    A fixed number of queries, however many readings.
    """
    bound = rules()
    if not bound.limits:
        return {}
    lots = {each.lot.pk: each.lot for each in readings if each.lot is not None}
    facts = facts_about(list(lots.values()), at)
    limits_of = in_force_then(facts, bound)
    found = assessment_of(facts, limits_of)
    findings = _by_reading(found.findings)
    awaited = {(each.lot.pk, each.limit.pk): each.due for each in found.awaited}
    heard: dict[int, list[Heard]] = {}
    for reading in readings:
        record = facts.lots.get(reading.lot_id or 0)
        heard[reading.pk] = [
            said
            for limit in (limits_of(record) if record else ())
            if (said := _heard(limit, reading, facts, findings, awaited))
        ]
    return heard


def _by_reading(findings: Iterable[Finding]) -> dict[tuple[str, int], Finding]:
    """The findings by each record they stand on, and their limit."""
    found: dict[tuple[str, int], Finding] = {}
    for finding in findings:
        for evidence in finding.evidence:
            found[evidence.record, finding.limit.pk] = finding
    return found


def _heard(
    limit: Limit,
    reading: Checkpoint,
    facts: Facts,
    findings: dict[tuple[str, int], Finding],
    awaited: dict[tuple[int, int], dt.datetime],
) -> Heard | None:
    """None where the limit has nothing to say of the reading."""
    assert reading.lot is not None
    finding = findings.get((f"checkpoint:{reading.pk}", limit.pk))
    if holds_values(limit, reading.lot, reading.measurand) and is_about(limit, reading):
        due = awaited.get((reading.lot.pk, limit.pk))
        return Heard(limit, judge_reading(limit, reading, facts), finding, due)
    return Heard(limit, None, finding, None) if finding else None
