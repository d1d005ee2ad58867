"""Limits on measured values: at a stage, by a deadline, at the peak, present in time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from brewlog.calculations.records import DEFAULT_UNCERTAINTY, instrument_uncertainty
from brewlog.models import Checkpoint, LabResult, Measurand
from brewlog.units import show_temperature
from brewlog.when import When
from compliance.assessment.facts import Facts, LotRecord
from compliance.assessment.finding import Awaited, Evidence, Finding
from compliance.decision import Decision, Verdict, decide
from compliance.models import Limit

# Standard uncertainty of a laboratory's alcohol result that states none: 6 % reproducibility
# (AOAC SMPR 2016.001) of the value, at least of 0.5 % vol.
_LAB_RELATIVE = 0.06
_LAB_LEAST_OF = 0.5


def evidence_of(reading: Checkpoint) -> Evidence:
    instrument = f" with {reading.instrument}" if reading.instrument else ""
    return Evidence(
        f"{reading.get_measurand_display()} {reading.value_text}{instrument}",
        reading.when,
        f"checkpoint:{reading.pk}",
    )


def evidence_of_lab(result: LabResult) -> Evidence:
    text = f"{result.get_measurand_display()} {result.value_text}, {result.laboratory}"
    return Evidence(text, result.when, f"labresult:{result.pk}")


def judge_reading(limit: Limit, reading: Checkpoint) -> tuple[Decision, str]:
    """One reading against the limit's value, and where its uncertainty comes from."""
    u, source = instrument_uncertainty(reading.instrument, reading.measurand)
    assert limit.value is not None
    decision = decide(float(reading.value), u, limit.sign, float(limit.value), float(limit.risk))
    return decision, source


def judge_lab(limit: Limit, result: LabResult) -> tuple[Decision, str]:
    """One laboratory result against the limit's value."""
    if result.standard_uncertainty is not None:
        u, source = float(result.standard_uncertainty), f"stated by {result.laboratory}"
    else:
        u = _LAB_RELATIVE * max(float(result.value), _LAB_LEAST_OF)
        source = "6 % of the result, the reproducibility asked of methods (AOAC SMPR 2016.001)"
        if result.measurand != Measurand.ALCOHOL:
            u = DEFAULT_UNCERTAINTY[Measurand(result.measurand)]
            source = "a usual value; the laboratory states none"
    assert limit.value is not None
    decision = decide(float(result.value), u, limit.sign, float(limit.value), float(limit.risk))
    return decision, source


def _readings(limit: Limit, record: LotRecord) -> list[Checkpoint]:
    return [
        reading
        for reading in record.readings
        if reading.measurand == limit.measurand and limit.stage in ("", reading.stage)
    ]


def _shown(limit: Limit, value: float) -> str:
    if limit.measurand == Measurand.TEMPERATURE:
        return show_temperature(value)  # type: ignore[arg-type]
    return f"{value:g} {limit.unit}".strip()


def value_at_stage(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Each reading of the stage, and each laboratory result of the same thing.

    A reading that is only too close is cleared by a later one that conforms; one that is
    outside stays until it is voided with a reason or someone decides about the lot.
    """
    judged = [
        (reading.when, evidence_of(reading), *judge_reading(limit, reading))
        for reading in _readings(limit, record)
    ]
    judged += [
        (result.when, evidence_of_lab(result), *judge_lab(limit, result))
        for result in record.labs
        if result.measurand == limit.measurand and not limit.stage
    ]
    judged.sort(key=lambda row: row[0].at)
    conforming = [when for when, _, d, _ in judged if d.verdict is Verdict.CONFORMS]
    for when, evidence, decision, source in judged:
        if decision.verdict is Verdict.CONFORMS:
            continue
        if decision.verdict is Verdict.NEEDS_REVIEW and any(c.at > when.at for c in conforming):
            continue
        text = f"{_shown(limit, decision.value)}; the limit is {limit.comparison}"
        yield Finding(
            record.lot, limit, decision.verdict, text, when, (evidence,), decision, source
        )


def peak(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """The worst laboratory result at any time: later ones do not make up for it."""
    results = [each for each in record.labs if each.measurand == limit.measurand]
    if not results:
        return
    worst = (max if limit.sign.is_upper else min)(results, key=lambda each: each.value)
    decision, source = judge_lab(limit, worst)
    if decision.verdict is Verdict.CONFORMS:
        return
    text = f"{worst.value_text} found; the limit at any time is {limit.comparison}"
    yield Finding(
        record.lot,
        limit,
        decision.verdict,
        text,
        worst.when,
        (evidence_of_lab(worst),),
        decision,
        source,
    )


def starts(limit: Limit, record: LotRecord) -> When | None:
    """The event the limit's clock starts from; None where it has not happened."""
    if limit.since == Limit.Since.PITCHED:
        return record.pitched
    return record.began


def by_deadline(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding | Awaited]:
    """The value must have been reached by a reading within so many hours of an event.

    Before the deadline nothing is wrong: it is awaited. A reading that reached it and
    was taken in time settles it. Elapsed hours are real ones, whatever the clocks did.
    """
    begun = starts(limit, record)
    if begun is None:
        return
    assert limit.within_hours is not None
    deadline = begun.ends + dt.timedelta(hours=float(limit.within_hours))
    judged = [
        (reading, *judge_reading(limit, reading))
        for reading in _readings(limit, record)
        if not reading.when.provably_before(begun)
    ]
    in_time = [row for row in judged if row[0].happened_at <= deadline]
    if any(decision.verdict is Verdict.CONFORMS for _, decision, _ in in_time):
        return
    if facts.at < deadline:
        yield Awaited(record.lot, limit, f"{limit.title}: reading due", deadline)
        return
    yield _missed(limit, record, deadline, in_time, judged)


def _missed(
    limit: Limit,
    record: LotRecord,
    deadline: dt.datetime,
    in_time: list[tuple[Checkpoint, Decision, str]],
    judged: list[tuple[Checkpoint, Decision, str]],
) -> Finding:
    since = When(deadline)
    if not in_time:
        later = judged[:1]
        text = f"no reading by the deadline; the limit is {limit.comparison}"
        evidence = tuple(evidence_of(reading) for reading, _, _ in later)
        return Finding(record.lot, limit, Verdict.NEEDS_REVIEW, text, since, evidence)
    reading, decision, source = in_time[-1]
    close = decision.verdict is Verdict.NEEDS_REVIEW
    words = "too close to tell" if close else "not reached"
    text = (
        f"{words} by the deadline: {_shown(limit, decision.value)} at the last reading in time; "
        f"the limit is {limit.comparison}"
    )
    after = next((r for r, d, _ in judged if d.verdict is Verdict.CONFORMS), None)
    evidence = (evidence_of(reading), *((evidence_of(after),) if after else ()))
    return Finding(record.lot, limit, decision.verdict, text, since, evidence, decision, source)


def presence(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding | Awaited]:
    """A reading of the kind and stage must be there within so many hours of an event."""
    begun = starts(limit, record)
    if begun is None or limit.within_hours is None:
        return
    due = begun.ends + dt.timedelta(hours=float(limit.within_hours))
    if any(reading.happened_at <= due for reading in _readings(limit, record)):
        return
    if facts.at < due:
        yield Awaited(record.lot, limit, limit.title, due)
        return
    late = _readings(limit, record)[:1]
    text = "taken late" if late else "not taken"
    evidence = tuple(evidence_of(reading) for reading in late)
    yield Finding(record.lot, limit, Verdict.NEEDS_REVIEW, text, When(due), evidence)
