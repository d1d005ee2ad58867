"""Limits on how something was measured: in calibration, at a good temperature, fine enough."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import takewhile
from typing import TypeVar

from brewlog.calculations.records import instrument_uncertainty
from brewlog.models import Checkpoint, Measurand, ProcessStep
from brewlog.units import show_temperature
from compliance.assessment.facts import Facts, LotRecord
from compliance.assessment.finding import Evidence, Finding
from compliance.assessment.judging import (
    evidence_of,
    evidence_of_estimate,
    evidence_of_lab,
    judge_value,
    lab_uncertainty,
    labs_of,
    readings_of,
)
from compliance.decision import Verdict, can_decide, meets
from compliance.models import Limit

_T = TypeVar("_T")


def calibration(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Each reading's instrument had a calibration in force that no later one put in doubt.

    Steps count as readings of temperature. Several are told as one finding.
    """
    doubtful: list[tuple[Evidence, str]] = []
    for each in _read(limit, record):
        why = _why_not(each, facts)
        if why:
            doubtful.append((_evidence(each), why))
    if not doubtful:
        return
    first, why = doubtful[0]
    more = f" (and {len(doubtful) - 1} more)" if len(doubtful) > 1 else ""
    yield Finding(
        record.lot,
        limit,
        Verdict.NEEDS_REVIEW,
        f"{first.text}: {why}{more}",
        first.when,
        tuple(evidence for evidence, _ in doubtful),
    )


def _read(limit: Limit, record: LotRecord) -> list[Checkpoint | ProcessStep]:
    """What was read of the limit's measurand, in the order of time."""
    read: list[Checkpoint | ProcessStep] = [*readings_of(limit, record)]
    if limit.measurand == Measurand.TEMPERATURE:
        read += [step for step in record.steps if step.temperature is not None]
    return sorted(read, key=lambda each: each.happened_at)


def _why_not(read: Checkpoint | ProcessStep, facts: Facts) -> str:
    if read.instrument_id is None:
        return "no instrument is written down"
    return facts.course_of(read.instrument_id).why_not_in_force(read.when)


def _evidence(read: Checkpoint | ProcessStep) -> Evidence:
    if isinstance(read, Checkpoint):
        return evidence_of(read)
    instrument = f" with {read.instrument}" if read.instrument else ""
    text = f"{read.get_kind_display()} at {read.temperature_text}{instrument}"
    return Evidence(text, read.when, f"processstep:{read.pk}")


def sample_temperature(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """The sample stood at a temperature the meter was adjusted for.

    A later reading of a sample that did clears it. Nothing is said of a reading whose
    sample's temperature is not written down.
    """
    told = [each for each in readings_of(limit, record) if each.sample_temperature is not None]
    outside = _since_the_last_good(told, lambda each: _in_range(limit, each))
    if not outside:
        return
    first = outside[0]
    assert first.sample_temperature is not None
    more = f" (and {len(outside) - 1} more)" if len(outside) > 1 else ""
    yield Finding(
        record.lot,
        limit,
        Verdict.NEEDS_REVIEW,
        f"{first.value_text} read at {show_temperature(first.sample_temperature)}{more}; the "
        f"limit is {limit.comparison}",
        first.when,
        tuple(evidence_of(each) for each in outside),
        judge_value(limit, float(first.sample_temperature), 0.0),
        "the sample's temperature as written down, taken as exact",
    )


def _in_range(limit: Limit, reading: Checkpoint) -> bool:
    assert limit.value is not None
    assert reading.sample_temperature is not None
    return meets(reading.sample_temperature, limit.sign, limit.value)


def _since_the_last_good(ordered: Sequence[_T], is_good: Callable[[_T], bool]) -> list[_T]:
    """What follows the last good one; all of it where none is."""
    tail = list(takewhile(lambda each: not is_good(each), reversed(ordered)))
    return tail[::-1]


@dataclass(frozen=True)
class _Look:
    """Something that tells a value, with how finely."""

    evidence: Evidence
    standard_uncertainty: float
    source: str


def instrument(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """The instrument's uncertainty leaves room to decide; the limit's value is the spread,
    how far the values it is to judge usually lie from their limit.

    A later look by what can decide clears it. Estimates of alcohol are looked at as
    readings are, and laboratory results too.
    """
    coarse = _since_the_last_good(_looks(limit, record), lambda look: _decides(limit, look))
    if not coarse:
        return
    first = coarse[0]
    yield Finding(
        record.lot,
        limit,
        Verdict.NEEDS_REVIEW,
        f"{first.evidence.text}: with a standard uncertainty of {first.standard_uncertainty:.2g} "
        "this cannot decide; use a finer instrument or send a sample to a laboratory",
        first.evidence.when,
        tuple(look.evidence for look in coarse),
        uncertainty_source=first.source,
    )


def _decides(limit: Limit, look: _Look) -> bool:
    assert limit.value is not None
    return can_decide(look.standard_uncertainty, float(limit.value), float(limit.risk))


def _looks(limit: Limit, record: LotRecord) -> list[_Look]:
    looks = [
        _Look(evidence_of(reading), *instrument_uncertainty(reading.instrument, reading.measurand))
        for reading in readings_of(limit, record)
    ]
    looks += [
        _Look(evidence_of_lab(result), *lab_uncertainty(result))
        for result in labs_of(limit, record)
    ]
    if limit.measurand == Measurand.ALCOHOL:
        looks += [
            _Look(
                evidence_of_estimate(estimate),
                float(estimate.standard_uncertainty),
                f"of the estimate ({estimate.method})",
            )
            for estimate in record.estimates
        ]
    return sorted(looks, key=lambda look: look.evidence.at)
