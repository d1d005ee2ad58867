"""Limits on measured values: at a stage, and the most there was at any time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from brewlog.models import Measurand
from compliance.assessment.facts import Facts, LotRecord
from compliance.assessment.finding import Finding
from compliance.assessment.judging import (
    Judged,
    finding_of,
    judge_estimate,
    judge_lab,
    judge_reading,
    judged_of,
    labs_of,
    readings_of,
    still_open,
)
from compliance.decision import Verdict
from compliance.models import Limit


def value_at_stage(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Each reading of the stage, and each laboratory result of the same thing.

    A reading that is only too close is cleared by a later one that conforms; one that is
    outside stays until it is voided with a reason or someone decides about the lot.
    """
    found = finding_of(limit, record, still_open(judged_of(limit, record, facts)))
    if found:
        yield found


def peak(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """The worst laboratory result at any time: later ones do not make up for it.

    What only points at the lot never shows it to be outside, but asks for a look: a result
    of the bottles drawn from a batch, or of the batch that bottles were drawn from; an
    estimate or the brewery's own reading that is past the line.
    """
    own = [judge_lab(limit, result) for result in labs_of(limit, record)]
    found = finding_of(limit, record, [each for each in own if not each.conforms])
    if found:
        yield found
        return
    pointing = [*_of_kin(limit, record), *_not_evidence(limit, record, facts, own)]
    found = finding_of(limit, record, pointing, "not shown for this lot itself: ")
    if found:
        yield replace(found, verdict=Verdict.NEEDS_REVIEW)


def _of_kin(limit: Limit, record: LotRecord) -> list[Judged]:
    results = [each for each in record.kin_labs if each.measurand == limit.measurand]
    judged = [(judge_lab(limit, result), result) for result in results]
    return [
        replace(each, shown=f"{each.shown} in {result.lot}")
        for each, result in judged
        if not each.conforms
    ]


def _not_evidence(
    limit: Limit, record: LotRecord, facts: Facts, results: list[Judged]
) -> list[Judged]:
    """Estimates and own readings past the line; a laboratory result of then or later answers."""
    judged = [judge_reading(limit, each, facts) for each in readings_of(limit, record)]
    if limit.measurand == Measurand.ALCOHOL:
        judged += [judge_estimate(limit, each) for each in record.estimates]
    return [
        each
        for each in judged
        if each.fails and not any(result.is_later_than(each) for result in results)
    ]
