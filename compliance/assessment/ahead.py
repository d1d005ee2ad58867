"""Limits on what is still to come: alcohol at the end of shelf life, pressure in the bottle.

Both look at the sugar last measured in the bottles, or in the batch they were drawn from.
They are calculations, so they ask for a look and never show that anything conforms. They
are silent where nothing is left of the lot, and where it was heat treated.
"""

from __future__ import annotations

from collections.abc import Iterator

from django.utils import timezone

from brewlog.calculations.carbonation import bottle_of
from brewlog.calculations.records import brix_as_g_per_l, instrument_uncertainty
from brewlog.models import BottlingLot, Checkpoint, Format, LabResult, Measurand
from brewlog.science.alcohol import potential_alcohol
from brewlog.science.bottle_pressure import Bottle, BottleKind, judge, pressure_if_all_ferments
from brewlog.science.bottle_pressure import Verdict as PressureVerdict
from brewlog.science.uncertainty import Measured
from compliance.assessment.facts import Facts, LotRecord, Sampled
from compliance.assessment.finding import Evidence, Finding
from compliance.assessment.judging import (
    evidence_of,
    evidence_of_estimate,
    evidence_of_lab,
    finding_of,
    judge_lab,
    judge_value,
    lab_uncertainty,
)
from compliance.decision import Verdict
from compliance.models import Limit

# How warm a bottle may get where it is sold or left (common practice).
WARM_C: Measured = (30.0, 1.0)
# Sugar and alcohol beyond what the calculations hold for (40 g/L of CO2) are taken as the
# most they do: far past any limit.
_MOST_SUGAR = 78.0
_MOST_ALCOHOL = 20.0
# No bottle or keg is rated higher, in bar: a larger figure is in another unit.
_MOST_RATING = 50.0


def _sugar(record: LotRecord) -> tuple[Checkpoint, Measured] | None:
    """The latest Brix reading and the sugar it stands for, in g/L with its uncertainty.

    Acids and other solids count as sugar here, so it is rather too much; what flavouring
    added after a batch's reading is not in it.
    """
    own = [each for each in record.readings if each.measurand == Measurand.BRIX]
    readings = own or record.kin_brix
    if not readings or not isinstance(record.detail, BottlingLot):
        return None
    reading = readings[-1]
    u, _ = instrument_uncertainty(reading.instrument, Measurand.BRIX)
    return reading, (min(brix_as_g_per_l(reading.value), _MOST_SUGAR), 10.0 * u)


# Alcohol at the end of shelf life -----------------------------------------------------------


def shelf_life(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Alcohol at the end of shelf life: by a laboratory's result of then, or by calculation.

    A result of the lot's own bottles from their best-before day on tells. Failing that, the
    latest such result of the same recipe and flavour: where it conforms the process has been
    shown, where it does not, this lot has to be looked at. Failing that, the alcohol if all
    the sugar left ferments.
    """
    bottles = record.detail
    if not isinstance(bottles, BottlingLot):
        return
    own = [each for each in facts.sampled if each.result.lot_id == record.lot.pk]
    at_the_end = [each for each in own if _at_the_end(limit, each)]
    if at_the_end:
        judged = [judge_lab(limit, each.result) for each in at_the_end]
        found = finding_of(limit, record, [each for each in judged if not each.conforms])
    elif record.is_gone or record.heated:
        return
    else:
        found = _as_the_others(limit, record, facts)
    if found:
        yield found


def _at_the_end(limit: Limit, sampled: Sampled) -> bool:
    if sampled.best_before is None or sampled.result.measurand != limit.measurand:
        return False
    return timezone.localtime(sampled.result.happened_at).date() >= sampled.best_before


def _as_the_others(limit: Limit, record: LotRecord, facts: Facts) -> Finding | None:
    alike = [
        each
        for each in facts.sampled
        if each.flavour == record.detail.flavour_id
        and each.recipes & record.recipes
        and _at_the_end(limit, each)
    ]
    if not alike:
        return _if_all_ferments(limit, record)
    judged = judge_lab(limit, alike[-1].result)
    if judged.conforms:
        return None
    text = f"{judged.shown} in {alike[-1].result.lot} at the end of its shelf life"
    return Finding(
        record.lot,
        limit,
        Verdict.NEEDS_REVIEW,
        f"{text}; the limit is {limit.comparison}",
        judged.when,
        (judged.evidence,),
        judged.decision,
        judged.source,
    )


def _if_all_ferments(limit: Limit, record: LotRecord) -> Finding | None:
    found = _sugar(record)
    if found is None:
        return None
    reading, sugar = found
    evidence, alcohol = _alcohol_now(record)
    ahead = potential_alcohol(alcohol, sugar)
    decision = judge_value(limit, ahead.value, ahead.standard_uncertainty or 0.0)
    if decision.verdict is Verdict.CONFORMS:
        return None
    return Finding(
        record.lot,
        limit,
        Verdict.NEEDS_REVIEW,
        f"up to {ahead.value:.2f} % vol if all the sugar left ferments, and no bottle of its "
        f"kind was tested at the end of its shelf life; the limit is {limit.comparison}",
        reading.when,
        (evidence_of(reading), *evidence),
        decision,
        "sugar by Brix, alcohol as last stated, or none; a calculation, not evidence",
    )


def _alcohol_now(record: LotRecord) -> tuple[tuple[Evidence, ...], Measured]:
    """Alcohol last found or estimated; none where neither is known, the least it can be."""
    results = [each for each in record.labs if each.measurand == Measurand.ALCOHOL]
    if results:
        return (evidence_of_lab(results[-1]),), _measured(results[-1])
    if record.estimates:
        kept = record.estimates[-1]
        value = min(float(kept.value), _MOST_ALCOHOL)
        return (evidence_of_estimate(kept),), (value, float(kept.standard_uncertainty))
    return (), (0.0, 0.0)


def _measured(result: LabResult) -> Measured:
    u, _ = lab_uncertainty(result)
    return min(float(result.value), _MOST_ALCOHOL), u


# Pressure ------------------------------------------------------------------------------------


def pressure(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Pressure if all the sugar left ferments warm, against the bottle's rating.

    Only while bottles are there. Bottles of unknown strength, decorative and reused ones
    never pass, sugar or not. Rated ones are let be while all of them stand cold. A drink
    called still works on in the bottle as any live one does.
    """
    bottles = record.detail
    if not isinstance(bottles, BottlingLot) or record.is_gone or record.heated:
        return
    bottle = _bottle(bottles.format)
    if bottle.kind is not BottleKind.RATED:
        text = f"{bottles.format}: {bottle.kind.value}, so there is no rating to compare with"
        yield Finding(record.lot, limit, Verdict.NEEDS_REVIEW, text, record.began)
        return
    found = _sugar(record)
    if found is None or _all_stand_cold(record):
        return
    reading, sugar = found
    judged = judge(pressure_if_all_ferments(sugar, WARM_C), bottle)
    if judged.verdict is PressureVerdict.BELOW_RATING:
        return
    yield Finding(
        record.lot,
        limit,
        Verdict.NEEDS_REVIEW,
        f"{judged.verdict}: {judged.gauge_bar:.1f} bar at {WARM_C[0]:.0f} °C. {judged.reason}",
        reading.when,
        (evidence_of(reading),),
        uncertainty_source="sugar by Brix, all of it fermented warm; a calculation",
    )


def _bottle(format: Format) -> Bottle:
    """What is known of its strength. A keg is made to come back: its rating holds."""
    rated = float(format.rated_bar) if format.rated_bar is not None else None
    if rated is not None and rated > _MOST_RATING:
        return Bottle(BottleKind.UNKNOWN)
    if format.container == Format.Container.KEG and format.rating == Format.Rating.RATED:
        return Bottle(BottleKind.RATED, rated)
    return bottle_of(format)


def _all_stand_cold(record: LotRecord) -> bool:
    standing = [stay for stay in record.stays if stay.until is None]
    return bool(standing) and all(stay.location and stay.location.is_cold for stay in standing)
