"""Limits on what is still to come: alcohol at the end of shelf life, pressure in the bottle.

Both look at the sugar last measured. They are calculations, so they ask for a look and
never show that anything conforms.
"""

from __future__ import annotations

from collections.abc import Iterator

from brewlog.calculations.carbonation import bottle_of
from brewlog.calculations.records import brix_as_g_per_l, instrument_uncertainty
from brewlog.models import BottlingLot, Checkpoint, Measurand
from brewlog.science.alcohol import potential_alcohol
from brewlog.science.bottle_pressure import Verdict as PressureVerdict
from brewlog.science.bottle_pressure import judge, pressure_if_all_ferments
from brewlog.science.uncertainty import Measured
from compliance.assessment.facts import Facts, LotRecord
from compliance.assessment.finding import Evidence, Finding
from compliance.assessment.measured import evidence_of, judge_lab
from compliance.decision import Verdict, decide
from compliance.models import Limit

# How warm a bottle may get where it is sold or left (common practice).
WARM_C: Measured = (30.0, 1.0)
# Sugar beyond what the calculations hold for is taken as the most they do.
_MOST_SUGAR = 80.0


def _sugar(record: LotRecord) -> tuple[Checkpoint, Measured] | None:
    """The latest Brix reading and the sugar it stands for, in g/L with its uncertainty.

    Acids and other solids count as sugar here, so it is rather too much.
    """
    readings = [each for each in record.readings if each.measurand == Measurand.BRIX]
    if not readings:
        return None
    reading = readings[-1]
    u, _ = instrument_uncertainty(reading.instrument, Measurand.BRIX)
    return reading, (min(brix_as_g_per_l(reading.value), _MOST_SUGAR), 10.0 * u)


def shelf_life(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Alcohol if all the sugar left ferments, from the latest result or estimate of it."""
    found = _sugar(record)
    now = _alcohol_now(limit, record)
    if found is None or now is None or limit.value is None:
        return
    reading, sugar = found
    evidence, abv = now
    ahead = potential_alcohol(abv, sugar)
    u = ahead.standard_uncertainty or 0.0
    decision = decide(ahead.value, u, limit.sign, float(limit.value), float(limit.risk))
    if decision.verdict is Verdict.CONFORMS:
        return
    yield Finding(
        record.lot,
        limit,
        Verdict.NEEDS_REVIEW,
        f"up to {ahead.value:.2f} % vol if all the sugar left ferments; the limit is "
        f"{limit.comparison}",
        reading.when,
        (evidence, evidence_of(reading)),
        decision,
        "sugar by Brix, alcohol as stated; a calculation, not evidence",
    )


def _alcohol_now(limit: Limit, record: LotRecord) -> tuple[Evidence, Measured] | None:
    results = [each for each in record.labs if each.measurand == Measurand.ALCOHOL]
    if results:
        last = results[-1]
        decision, _ = judge_lab(limit, last)
        text = f"{last.get_measurand_display()} {last.value_text}, {last.laboratory}"
        evidence = Evidence(text, last.when, f"labresult:{last.pk}")
        return evidence, (decision.value, decision.standard_uncertainty)
    if record.estimates:
        kept = record.estimates[-1]
        evidence = Evidence(str(kept), kept.when, f"alcoholestimate:{kept.pk}")
        return evidence, (float(kept.value), float(kept.standard_uncertainty))
    return None


def pressure(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Pressure if all the sugar left ferments warm, against the bottle's rating.

    Only while bottles are there. Unknown, decorative and reused bottles never pass.
    """
    detail = record.detail
    found = _sugar(record)
    if not isinstance(detail, BottlingLot) or found is None:
        return
    if detail.carbonation == BottlingLot.Carbonation.STILL:
        return
    if record.balance is not None and record.balance.on_hand == 0:
        return
    reading, sugar = found
    judged = judge(pressure_if_all_ferments(sugar, WARM_C), bottle_of(detail.format))
    if judged.verdict is PressureVerdict.BELOW_RATING:
        return
    yield Finding(
        record.lot,
        limit,
        Verdict.NEEDS_REVIEW,
        f"{judged.verdict}: {judged.gauge_bar:.1f} bar at {WARM_C[0]:.0f} °C. {judged.reason}",
        reading.when,
        (evidence_of(reading),),
        uncertainty_source="sugar by Brix, all of it fermented warm",
    )
