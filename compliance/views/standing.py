"""What is found about the open lots, kept for the pages that list it.

Never evidence: verbs, a lot's own page and a release hold the lots against the limits anew.
What is kept serves until anything is written, a deadline passes or a few minutes are over.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db import connection
from django.utils import timezone

from brewlog.verify import recorded_models
from compliance.assessment import Assessment, assess, open_lots

LONGEST = dt.timedelta(minutes=5)


@dataclass(frozen=True)
class _Kept:
    newest: int
    until: dt.datetime
    assessment: Assessment


_kept: _Kept | None = None


def open_assessment() -> Assessment:
    """The open lots against their limits, at most a few minutes old."""
    global _kept
    if connection.in_atomic_block:
        # What may still be rolled back is never kept.
        return assess(list(open_lots()))
    newest, now = _newest(), timezone.now()
    if _kept is None or _kept.newest != newest or now >= _kept.until:
        found = assess(list(open_lots()))
        due = [each.due for each in found.awaited if each.due > now]
        _kept = _Kept(newest, min([*due, now + LONGEST]), found)
    return _kept.assessment


def forget() -> None:
    """Work it out anew the next time."""
    global _kept
    _kept = None


def _newest() -> int:
    """A number that grows with everything written: the last history keys, summed."""
    tables = [model.history.model._meta.db_table for model in recorded_models()]
    parts = " UNION ALL ".join(
        f"SELECT MAX(history_id) AS newest FROM {connection.ops.quote_name(table)}"
        for table in tables
    )
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT SUM(newest) FROM ({parts}) AS each_table")
        return int(cursor.fetchone()[0] or 0)
