"""Limits on how long ago a laboratory last looked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from decimal import Decimal

from brewlog.models import LotKind
from compliance.assessment.facts import Facts, LotRecord
from compliance.assessment.finding import Finding
from compliance.assessment.measured import evidence_of_lab
from compliance.decision import Verdict, meets
from compliance.models import Limit


def lab_age(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding]:
    """Days between bottling and the recipe's last laboratory result before or at it.

    A result of the lot itself settles it whenever it was taken.
    """
    assert limit.value is not None
    if record.labs:
        return
    recipes = {
        recipe
        for use in record.uses_in
        if use.source.kind == LotKind.BATCH
        for recipe in facts.batch_recipes.get(use.source_id, ())
    }
    results = [each for recipe in recipes for each in facts.recipe_labs.get(recipe, ())]
    earlier = [each for each in results if each.happened_at <= record.began.ends]
    if not earlier:
        text = f"no laboratory result of this recipe yet; the limit is {limit.comparison}"
        yield Finding(record.lot, limit, Verdict.NEEDS_REVIEW, text, record.began)
        return
    last = max(earlier, key=lambda each: each.happened_at)
    days = (record.began.at - last.happened_at) / dt.timedelta(days=1)
    if meets(Decimal(round(max(days, 0))), limit.sign, limit.value):
        return
    text = f"{days:.0f} days since the last laboratory result; the limit is {limit.comparison}"
    evidence = (evidence_of_lab(last),)
    yield Finding(record.lot, limit, Verdict.NEEDS_REVIEW, text, record.began, evidence)
