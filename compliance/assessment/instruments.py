"""Limits on how something was measured: in calibration, at a good temperature, fine enough."""

from __future__ import annotations

from collections.abc import Iterator

from brewlog.calculations.records import instrument_uncertainty
from brewlog.models import Checkpoint, Measurand
from compliance.assessment.facts import Facts, LotRecord
from compliance.assessment.finding import Finding
from compliance.assessment.measured import evidence_of
from compliance.decision import Verdict, can_decide, meets
from compliance.models import Limit


def _readings(limit: Limit, record: LotRecord) -> list[Checkpoint]:
    return [r for r in record.readings if r.measurand == limit.measurand]


def calibration(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Each reading's instrument had a calibration in force; several are told as one finding."""
    doubtful = [
        (reading, why)
        for reading in _readings(limit, record)
        if (why := _why_not_in_force(reading, limit, facts))
    ]
    if not doubtful:
        return
    first, why = doubtful[0]
    more = f" and {len(doubtful) - 1} more" if len(doubtful) > 1 else ""
    text = f"{first.get_measurand_display()} {first.value_text}: {why}{more}"
    evidence = tuple(evidence_of(reading) for reading, _ in doubtful)
    yield Finding(record.lot, limit, Verdict.NEEDS_REVIEW, text, first.when, evidence)


def _why_not_in_force(reading: Checkpoint, limit: Limit, facts: Facts) -> str:
    if reading.instrument_id is None:
        return "no instrument is written down"
    assert reading.instrument is not None
    found = facts.calibration_of(reading.instrument_id, reading.when)
    if found is None:
        return f"{reading.instrument} had no calibration on record"
    if found.outcome == found.Outcome.FAILED:
        return f"{reading.instrument} could not be calibrated on {found.when}"
    if found.due_on and reading.happened_at.date() > found.due_on:
        return f"{reading.instrument} was due on {found.due_on}"
    later = _next_found_out(reading, facts)
    return f"{reading.instrument} was found out of tolerance on {later}" if later else ""


def _next_found_out(reading: Checkpoint, facts: Facts) -> str:
    """The day the instrument was next looked at, where it was found out then."""
    assert reading.instrument_id is not None
    for each in facts.calibrations.get(reading.instrument_id, ()):
        if each.happened_at > reading.happened_at:
            return str(each.when) if each.was_out else ""
    return ""


def sample_temperature(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """The sample stood at a temperature the meter was adjusted for."""
    assert limit.value is not None
    for reading in _readings(limit, record):
        found = reading.sample_temperature
        if found is None or meets(found, limit.sign, limit.value):
            continue
        text = (
            f"{reading.value_text} read at {found.normalize():f} °C; the limit is "
            f"{limit.comparison}"
        )
        evidence = (evidence_of(reading),)
        yield Finding(record.lot, limit, Verdict.NEEDS_REVIEW, text, reading.when, evidence)


def instrument(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """The instrument's uncertainty leaves room to decide; the limit's value is the spread."""
    assert limit.value is not None
    for reading in _readings(limit, record):
        u, source = instrument_uncertainty(reading.instrument, Measurand(reading.measurand))
        if can_decide(u, float(limit.value), float(limit.risk)):
            continue
        name = reading.instrument or "the instrument"
        text = (
            f"{name} (standard uncertainty {u:.3g}) cannot decide this limit; use a finer one "
            "or send a sample to a laboratory"
        )
        evidence = (evidence_of(reading),)
        yield Finding(
            record.lot,
            limit,
            Verdict.NEEDS_REVIEW,
            text,
            reading.when,
            evidence,
            uncertainty_source=source,
        )
        return
