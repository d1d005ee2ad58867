"""What is found about the open lots, and which reviews are due, kept for the pages that list it.

Never evidence: verbs, a lot's own page and a release work it out anew. What is kept serves
until anything is written, a deadline passes or a few minutes are over. Where working it out
takes long, as with very many open lots, only the minutes count; the list says as of when.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, cast

from django.db import connection
from django.utils import timezone

from brewlog.verify import recorded_models
from compliance.assessment import Assessment, assess, open_lots
from compliance.domain.releases import ReviewDue, reviews_due
from compliance.models import Binding

LONGEST = dt.timedelta(minutes=5)
# Beyond so many seconds it is not done again after each write.
QUICK = 0.5


@dataclass(frozen=True)
class _Kept:
    newest: int
    seconds: float
    until: dt.datetime
    value: Any


_kept: dict[str, _Kept] = {}


def open_assessment() -> Assessment:
    """The open lots against their limits, at most a few minutes old."""
    return _keep("findings", _assess_open_lots, _next_deadline)


def _assess_open_lots() -> Assessment:
    if not Binding.objects.live().exists():
        return Assessment(timezone.now(), (), ())
    return assess(list(open_lots()))


def due_reviews() -> list[ReviewDue]:
    """The lots with readings nobody has reviewed, as of the last thing written."""
    return _keep("reviews", reviews_due, lambda due: None)


def forget() -> None:
    """Work everything out anew the next time."""
    _kept.clear()


def _keep(name: str, make: Callable[[], Any], until: Callable[[Any], dt.datetime | None]) -> Any:
    if connection.in_atomic_block:
        # What may still be rolled back is never kept.
        return make()
    newest, now = _newest(), timezone.now()
    found = _kept.get(name)
    if found is None or now >= found.until or (found.newest != newest and found.seconds < QUICK):
        begun = time.monotonic()
        value = make()
        ends = [now + LONGEST, until(value) or now + LONGEST]
        found = _kept[name] = _Kept(newest, time.monotonic() - begun, min(ends), value)
    return found.value


def _next_deadline(found: Assessment) -> dt.datetime | None:
    return min((each.due for each in found.awaited if each.due > found.at), default=None)


def _newest() -> int:
    """A number that grows with everything written: the last history keys, summed."""
    tables = [cast(Any, model).history.model._meta.db_table for model in recorded_models()]
    parts = " UNION ALL ".join(
        f"SELECT MAX(history_id) AS newest FROM {connection.ops.quote_name(table)}"
        for table in tables
    )
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT SUM(newest) FROM ({parts}) AS each_table")
        return int(cursor.fetchone()[0] or 0)
