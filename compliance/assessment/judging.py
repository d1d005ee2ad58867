"""One record against a limit: the value, its uncertainty, and whether it can be leaned on.

A reading by an instrument that was later found out shows nothing good: it is *needs
review* at best. Outside it is outside, whatever the instrument, until it is voided.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from brewlog.calculations.records import DEFAULT_UNCERTAINTY, instrument_uncertainty
from brewlog.models import (
    AlcoholEstimate,
    Checkpoint,
    LabResult,
    Measurand,
    ProcessStep,
    Stage,
)
from brewlog.units import show_temperature
from brewlog.when import When
from compliance.assessment.facts import Facts, LotRecord
from compliance.assessment.finding import Evidence, Finding
from compliance.decision import Decision, Verdict, decide
from compliance.models import Limit

# Standard uncertainty of a laboratory's alcohol result that states none: 6 % reproducibility
# (AOAC SMPR 2016.001) of the value, at least of 0.5 % vol.
_LAB_RELATIVE = 0.06
_LAB_LEAST_OF = 0.5
_EXACT = "counted or worked out from the records, taken as exact"

# A limit on the finished drink holds for it in storage and for shelf-life samples; one at
# bottling for the flavoured drink before and after the cap.
_STAGES: dict[str, tuple[str, ...]] = {
    Stage.FINISHED: (Stage.FINISHED, Stage.SHELF, Stage.STORAGE),
    Stage.BOTTLING: (Stage.BOTTLING, Stage.FLAVOURED, Stage.CONDITIONING),
}
# A laboratory's sample has no stage: it is of the drink as it is sold.
_LAB_SPEAKS_FOR = ("", Stage.FINISHED, Stage.SHELF)
# Of the same minute, the laboratory's word comes after the brewery's own.
_LAB_ORDER = 1_000_000

_RANK = {Verdict.FAILS: 0, Verdict.NEEDS_REVIEW: 1, Verdict.CONFORMS: 2}


@dataclass(frozen=True)
class Judged:
    """A record and what it says about a limit.

    `order` tells replicates of one time apart; `source` is where the uncertainty comes
    from; `doubt` why the instrument cannot be leaned on, or nothing.
    """

    when: When
    order: tuple[int, int]
    shown: str
    evidence: Evidence
    decision: Decision
    source: str
    doubt: str = ""

    @property
    def verdict(self) -> Verdict:
        if self.doubt and self.decision.verdict is Verdict.CONFORMS:
            return Verdict.NEEDS_REVIEW
        return self.decision.verdict

    @property
    def conforms(self) -> bool:
        return self.verdict is Verdict.CONFORMS

    @property
    def fails(self) -> bool:
        return self.verdict is Verdict.FAILS

    def is_later_than(self, other: Judged) -> bool:
        """Certainly later, or of the same time and written or repeated after it."""
        if self.when == other.when:
            return self.order > other.order
        return other.when.provably_before(self.when)


# What speaks ------------------------------------------------------------------------------


def stages_of(limit: Limit) -> tuple[str, ...]:
    """The stages whose readings a limit at a stage is about."""
    return _STAGES.get(limit.stage, (limit.stage,))


def readings_of(limit: Limit, record: LotRecord) -> list[Checkpoint]:
    """The lot's readings that the limit is about, in the order of time."""
    return [reading for reading in record.readings if is_about(limit, reading)]


def is_about(limit: Limit, reading: Checkpoint) -> bool:
    """Whether the limit looks at what was measured, and at that stage."""
    stages = stages_of(limit)
    return reading.measurand == limit.measurand and (not limit.stage or reading.stage in stages)


def labs_of(limit: Limit, record: LotRecord) -> list[LabResult]:
    """The lot's laboratory results that the limit is about, in the order of time."""
    if limit.stage not in _LAB_SPEAKS_FOR:
        return []
    return [result for result in record.labs if result.measurand == limit.measurand]


def judged_of(limit: Limit, record: LotRecord, facts: Facts) -> list[Judged]:
    """Every reading and laboratory result the limit is about, judged, by time."""
    judged = [judge_reading(limit, reading, facts) for reading in readings_of(limit, record)]
    judged += [judge_lab(limit, result) for result in labs_of(limit, record)]
    return sorted(judged, key=lambda each: (each.when.at, each.order))


# Judging one ------------------------------------------------------------------------------


def evidence_of(reading: Checkpoint) -> Evidence:
    """A reading as a person reads it."""
    instrument = f" with {reading.instrument}" if reading.instrument else ""
    return Evidence(
        f"{reading.get_measurand_display()} {reading.value_text}{instrument}",
        reading.when,
        f"checkpoint:{reading.pk}",
    )


def evidence_of_lab(result: LabResult) -> Evidence:
    """A laboratory result as a person reads it."""
    text = f"{result.get_measurand_display()} {result.value_text}, {result.laboratory}"
    return Evidence(text, result.when, f"labresult:{result.pk}")


def evidence_of_estimate(estimate: AlcoholEstimate) -> Evidence:
    """An estimate as a person reads it."""
    return Evidence(str(estimate), estimate.when, f"alcoholestimate:{estimate.pk}")


def judge_value(limit: Limit, value: float, standard_uncertainty: float) -> Decision:
    """A bare value against the limit's own."""
    assert limit.value is not None
    return decide(value, standard_uncertainty, limit.sign, float(limit.value), float(limit.risk))


def judge_reading(limit: Limit, reading: Checkpoint, facts: Facts) -> Judged:
    """One reading, with the instrument's uncertainty or the usual one."""
    u, source = instrument_uncertainty(reading.instrument, reading.measurand)
    return Judged(
        reading.when,
        (reading.replicate, reading.pk),
        shown(limit, reading.value),
        evidence_of(reading),
        judge_value(limit, float(reading.value), u),
        source,
        facts.course_of(reading.instrument_id).why_doubted(reading.when),
    )


def judge_lab(limit: Limit, result: LabResult) -> Judged:
    """One laboratory result, with the uncertainty it states or the usual one."""
    u, source = lab_uncertainty(result)
    return Judged(
        result.when,
        (_LAB_ORDER, result.pk),
        shown(limit, result.value),
        evidence_of_lab(result),
        judge_value(limit, float(result.value), u),
        source,
    )


def lab_uncertainty(result: LabResult) -> tuple[float, str]:
    """Standard uncertainty of a laboratory result, and where it comes from."""
    if result.standard_uncertainty is not None:
        return float(result.standard_uncertainty), f"stated by {result.laboratory}"
    if result.measurand != Measurand.ALCOHOL:
        usual = DEFAULT_UNCERTAINTY[Measurand(result.measurand)]
        return usual, "a usual value; the laboratory states none"
    return (
        _LAB_RELATIVE * max(float(result.value), _LAB_LEAST_OF),
        "6 % of the result, the reproducibility asked of methods (AOAC SMPR 2016.001)",
    )


def judge_estimate(limit: Limit, estimate: AlcoholEstimate) -> Judged:
    """One estimate of alcohol, with its own uncertainty. It shows nothing good."""
    return Judged(
        estimate.when,
        (0, estimate.pk),
        shown(limit, estimate.value),
        evidence_of_estimate(estimate),
        judge_value(limit, float(estimate.value), float(estimate.standard_uncertainty)),
        f"of the estimate ({estimate.method})",
        "an estimate is not evidence",
    )


def judge_step(limit: Limit, step: ProcessStep, facts: Facts) -> Judged:
    """The temperature written with a step."""
    assert step.temperature is not None
    u, source = instrument_uncertainty(step.instrument, Measurand.TEMPERATURE)
    instrument = f" with {step.instrument}" if step.instrument else ""
    told = step.temperature_text or show_temperature(step.temperature)
    return Judged(
        step.when,
        (0, step.pk),
        show_temperature(step.temperature),
        Evidence(
            f"{step.get_kind_display()} at {told}{instrument}", step.when, f"processstep:{step.pk}"
        ),
        judge_value(limit, float(step.temperature), u),
        source,
        facts.course_of(step.instrument_id).why_doubted(step.when),
    )


def shown(limit: Limit, value: Decimal) -> str:
    """The value as it stands beside the limit."""
    if limit.measurand == Measurand.TEMPERATURE:
        return show_temperature(value)
    return f"{value.normalize():f} {limit.unit}".strip()


# What is left open ------------------------------------------------------------------------


def worst(judged: Iterable[Judged]) -> Judged:
    """The one that conforms least: outside before too close, then the least probable.

    Far outside, where no probability can be told from nothing, the farthest.
    """
    return min(
        judged,
        key=lambda each: (
            _RANK[each.verdict],
            each.decision.probability,
            each.decision.margin,
        ),
    )


def still_open(judged: list[Judged]) -> list[Judged]:
    """Those that do not conform and that no later one has cleared.

    Too close is cleared by a later one that conforms; outside by nothing but a void, with
    its reason, or someone's decision about the lot.
    """
    conforming = [each for each in judged if each.conforms]
    return [
        each
        for each in judged
        if not each.conforms
        and (each.fails or not any(later.is_later_than(each) for later in conforming))
    ]


def finding_of(
    limit: Limit, record: LotRecord, judged: list[Judged], lead: str = ""
) -> Finding | None:
    """One finding for all that is open, told by the worst of it; None where nothing is."""
    if not judged:
        return None
    telling = worst(judged)
    rest = [each for each in judged if each is not telling]
    more = f" (and {len(rest)} more)" if rest else ""
    doubt = f"; {telling.doubt}" if telling.doubt else ""
    return Finding(
        lot=record.lot,
        limit=limit,
        verdict=telling.verdict,
        text=f"{lead}{telling.shown}{more}{doubt}; the limit is {limit.comparison}",
        since=max(each.when for each in judged if each.verdict is telling.verdict),
        evidence=(telling.evidence, *(each.evidence for each in rest)),
        decision=telling.decision,
        uncertainty_source=telling.source,
    )


def exact_finding(
    limit: Limit,
    record: LotRecord,
    value: Decimal | float,
    text: str,
    since: When,
    evidence: tuple[Evidence, ...] = (),
) -> Finding | None:
    """A counted or computed value that is outside; None where it conforms."""
    decision = judge_value(limit, float(value), 0.0)
    if decision.verdict is Verdict.CONFORMS:
        return None
    return Finding(
        record.lot,
        limit,
        decision.verdict,
        f"{text}; the limit is {limit.comparison}",
        since,
        evidence,
        decision,
        _EXACT,
    )
