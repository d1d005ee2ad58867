"""Limits on how long ago a laboratory last looked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from django.utils import timezone

from brewlog.models import LabResult
from compliance.assessment.facts import Facts, LotRecord
from compliance.assessment.finding import Finding
from compliance.assessment.judging import evidence_of_lab, exact_finding
from compliance.decision import Verdict
from compliance.models import Limit


def lab_age(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Days between bottling and the nearest laboratory result of the same recipe.

    Days by the brewery's calendar. A result of the lot itself settles it whenever the sample
    was taken, and a later one of the recipe makes up for a missing earlier one.
    """
    if any(result.measurand == limit.measurand for result in record.labs):
        return
    results = [
        each.result
        for each in facts.sampled
        if each.result.measurand == limit.measurand and each.recipes & record.recipes
    ]
    if not results:
        text = f"no laboratory result of its recipe; the limit is {limit.comparison}"
        yield Finding(record.lot, limit, Verdict.NEEDS_REVIEW, text, record.began)
        return
    nearest = min(results, key=lambda each: abs(_days(record, each)))
    days = _days(record, nearest)
    text = f"{abs(days)} days {'since' if days >= 0 else 'to'} the nearest laboratory result"
    evidence = (evidence_of_lab(nearest),)
    found = exact_finding(limit, record, abs(days), text, record.began, evidence)
    if found:
        yield found


def _days(record: LotRecord, result: LabResult) -> int:
    """Days from the sample to bottling, less than nothing where it was taken after."""
    return (_day(record.began.at) - _day(result.happened_at)).days


def _day(moment: dt.datetime) -> dt.date:
    return timezone.localtime(moment).date()
