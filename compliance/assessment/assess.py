"""Holding lots against the limits in force when they were made."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils import timezone

from brewlog.ledger import with_on_hand
from brewlog.models import Lot, LotKind
from compliance.assessment import (
    ahead,
    deadlines,
    instruments,
    laboratory,
    measured,
    observed,
    places,
    trend,
)
from compliance.assessment.facts import Facts, LotRecord, load
from compliance.assessment.finding import Assessment, Awaited, Finding, Turn
from compliance.domain.rulesets import Rules, rules
from compliance.models import Limit, LimitKind, RuleSet

Judge = Callable[[Limit, LotRecord, Facts], Iterator[Finding | Awaited | Turn]]
LimitsOf = Callable[[LotRecord], Sequence[Limit]]

JUDGES: dict[str, Judge] = {
    LimitKind.VALUE: measured.value_at_stage,
    LimitKind.BY_DEADLINE: deadlines.by_deadline,
    LimitKind.PEAK: measured.peak,
    LimitKind.PRESENCE: deadlines.presence,
    LimitKind.TREND: trend.trend,
    LimitKind.CALIBRATION: instruments.calibration,
    LimitKind.SAMPLE_TEMPERATURE: instruments.sample_temperature,
    LimitKind.INSTRUMENT: instruments.instrument,
    LimitKind.BALANCE: observed.balance,
    LimitKind.STARTER_SHARE: observed.starter_share,
    LimitKind.STEP_TEMPERATURE: observed.step_temperature,
    LimitKind.GENERATION: observed.generation,
    LimitKind.CULTURE_AGE: observed.culture_age,
    LimitKind.CONDITION: observed.condition,
    LimitKind.LABEL: observed.label,
    LimitKind.SHELF_LIFE: ahead.shelf_life,
    LimitKind.PRESSURE: ahead.pressure,
    LimitKind.PLACE_TEMPERATURE: places.place_temperature,
    LimitKind.LAB_AGE: laboratory.lab_age,
}


def assess(
    lots: Sequence[Lot], at: dt.datetime | None = None, limits: Sequence[Limit] | None = None
) -> Assessment:
    """Hold each lot against the limits that were in force on the day it began.

    With `limits`, against those instead, whenever the lot began. `at` (now, unless given) is
    the clock that deadlines are held against; the records are as they are today. Lots that
    are void are left out. The most urgent findings come first, and of those the oldest.
    """
    if limits is not None:
        return assessment_of(facts_about(lots, at), lambda record: limits)
    bound = rules()
    if not bound.limits:
        return Assessment(at or timezone.now(), (), ())
    facts = facts_about(lots, at)
    return assessment_of(facts, in_force_then(facts, bound))


def assess_lot(lot: Lot, at: dt.datetime | None = None) -> Assessment:
    """One lot against its limits."""
    return assess([lot], at)


def open_lots() -> QuerySet[Lot]:
    """The lots there is still something of: what a finding can keep from going on."""
    living = Lot.objects.live().exclude(kind=LotKind.INGREDIENT)
    return with_on_hand(living).filter(on_hand__gt=0)


@dataclass(frozen=True)
class Change:
    """What would be found under other rules and is not now, and the other way round."""

    gained: tuple[Finding, ...]
    lost: tuple[Finding, ...]


def what_would_change(
    ruleset: RuleSet, lots: Sequence[Lot], at: dt.datetime | None = None
) -> Change:
    """The lots under this rule set, against what bound them of its other editions.

    For a rule set that never bound them in any edition, all that it would find is gained.
    A finding that only grows graver or milder is lost as it was and gained as it would be.
    """
    facts = facts_about(lots, at)
    then = in_force_then(facts, rules())
    before = assessment_of(
        facts,
        lambda record: [limit for limit in then(record) if limit.ruleset.key == ruleset.key],
    )
    own = list(ruleset.limits.live().select_related("ruleset"))
    after = assessment_of(facts, lambda record: own)
    known = {_same(each) for each in before.findings}
    kept = {_same(each) for each in after.findings}
    return Change(
        gained=tuple(each for each in after.findings if _same(each) not in known),
        lost=tuple(each for each in before.findings if _same(each) not in kept),
    )


def _same(finding: Finding) -> tuple[int, str, str]:
    return finding.lot.pk, finding.limit.key, finding.verdict


def facts_about(lots: Sequence[Lot], at: dt.datetime | None) -> Facts:
    return load([lot for lot in lots if not lot.is_void], at or timezone.now())


def in_force_then(facts: Facts, bound: Rules) -> LimitsOf:
    """The limits that were in force on the day each lot began, by the brewery's calendar."""
    days = {pk: timezone.localtime(each.began.at).date() for pk, each in facts.lots.items()}
    by_day = {day: bound.on(day) for day in set(days.values())}
    return lambda record: by_day[days[record.lot.pk]]


def assessment_of(facts: Facts, limits_of: LimitsOf) -> Assessment:
    outcomes = [
        outcome
        for record in facts.lots.values()
        for limit in limits_of(record)
        if limit.lot_kind in ("", record.lot.kind)
        for outcome in JUDGES[limit.kind](limit, record, facts)
    ]
    findings = [each for each in outcomes if isinstance(each, Finding)]
    findings.sort(key=lambda each: each.order)
    awaited = [each for each in outcomes if isinstance(each, Awaited)]
    awaited.sort(key=lambda each: (each.due, each.lot.pk, each.limit.pk))
    turns = tuple(each for each in outcomes if isinstance(each, Turn))
    return Assessment(facts.at, tuple(findings), tuple(awaited), turns)
