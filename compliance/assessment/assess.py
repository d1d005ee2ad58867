"""Holding lots against the limits in force when they were made."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache

from django.utils import timezone

from brewlog.ledger import with_on_hand
from brewlog.models import Lot, LotKind
from compliance.assessment import (
    ahead,
    instruments,
    laboratory,
    measured,
    observed,
    places,
    trend,
)
from compliance.assessment.facts import Facts, LotRecord, load
from compliance.assessment.finding import Assessment, Awaited, Finding
from compliance.domain.rulesets import in_force
from compliance.models import Limit, LimitKind

Judge = Callable[[Limit, LotRecord, Facts], Iterator[Finding | Awaited]]

JUDGES: dict[str, Judge] = {
    LimitKind.VALUE: measured.value_at_stage,
    LimitKind.BY_DEADLINE: measured.by_deadline,
    LimitKind.PEAK: measured.peak,
    LimitKind.PRESENCE: measured.presence,
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


def assess(lots: Sequence[Lot], at: dt.datetime | None = None) -> Assessment:
    """Hold each lot against the limits that were in force on the day it began.

    Lots that are void are left out. The most urgent findings come first, and of those the
    oldest.
    """
    moment = at or timezone.now()
    living = [lot for lot in lots if not lot.is_void]
    facts = load(living, moment)

    @cache
    def limits_on(day: dt.date) -> list[Limit]:
        return in_force(day)

    outcomes = [
        outcome
        for record in facts.lots.values()
        for limit in limits_on(timezone.localtime(record.began.at).date())
        if limit.lot_kind in ("", record.lot.kind)
        for outcome in JUDGES[limit.kind](limit, record, facts)
    ]
    findings = [each for each in outcomes if isinstance(each, Finding)]
    findings.sort(key=lambda each: (each.urgency, each.since.at, each.lot.pk, each.limit.pk))
    awaited = [each for each in outcomes if isinstance(each, Awaited)]
    awaited.sort(key=lambda each: (each.due, each.lot.pk))
    return Assessment(moment, tuple(findings), tuple(awaited))


def assess_lot(lot: Lot, at: dt.datetime | None = None) -> Assessment:
    """One lot against its limits."""
    return assess([lot], at)


def open_lots() -> Iterable[Lot]:
    """The lots there is still something of: what a finding can keep from going on."""
    living = Lot.objects.live().exclude(kind=LotKind.INGREDIENT)
    return with_on_hand(living).filter(on_hand__gt=0)
