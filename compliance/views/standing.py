"""What is found about the open lots, and which reviews are due, for the pages that list it.

Never evidence: verbs, a lot's own page and a release work it out anew. The findings come from
what is kept of them (`domain/keeping.py`); the lots written about since, or whose time has
come, are worked out here, a few hundred at most. Where more may be found otherwise, the list
says as of when it is.
"""

from __future__ import annotations

import datetime as dt
import heapq
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from operator import attrgetter
from typing import Any

from django.db import connection
from django.db.models import QuerySet
from django.utils import timezone

from brewlog.ledger import ids_in
from compliance.assessment import Awaited, Finding, assess, open_lots
from compliance.assessment.kept import unpacked
from compliance.assessment.touched import Newest, newest
from compliance.domain import keeping
from compliance.domain.releases import ReviewDue, reviews_due
from compliance.models import Binding, KeptFinding, LookAgain


@dataclass(frozen=True)
class FindingRows:
    """Findings in the order of a list: those kept, and among them those just worked out."""

    kept: QuerySet[KeptFinding]
    fresh: tuple[Finding, ...] = ()

    def among(self, path: str, values: set[Any]) -> FindingRows:
        """Those of which what is at the path ("limit__ruleset_id") is one of the values."""
        read = attrgetter(path.replace("__", "."))
        chosen = tuple(each for each in self.fresh if read(each) in values)
        among = ids_in(values) if path == "lot__pk" else values
        return replace(self, kept=self.kept.filter(**{f"{path}__in": among}), fresh=chosen)

    @cached_property
    def _total(self) -> int:
        return self.kept.count() + len(self.fresh)

    def __len__(self) -> int:
        return self._total

    def __getitem__(self, part: slice) -> list[Finding]:
        """A part of them, from one place up to another. A kept one moves down by as many
        places as fresh ones go before it: at most all of them."""
        first = max(0, part.start - len(self.fresh))
        keys = list(self.kept.values_list("pk", flat=True)[first : part.stop])
        window = map(unpacked, _whole(KeptFinding.objects.filter(pk__in=keys)))
        merged = sorted([*window, *self.fresh], key=attrgetter("order"))
        return merged[part.start - first : part.stop - first]

    def __iter__(self) -> Iterator[Finding]:
        return heapq.merge(map(unpacked, _whole(self.kept)), self.fresh, key=attrgetter("order"))


def _whole(rows: QuerySet[KeptFinding]) -> QuerySet[KeptFinding]:
    return rows.select_related("lot", "limit__ruleset")


@dataclass(frozen=True)
class OpenFindings:
    """What was found about the open lots.

    `at` is as of when; `is_old` where more was written since than could be looked at here;
    `is_part` where only the newest lots were, as nothing was ever kept. `awaited` is what
    limits wait for of the lots worked out here: those `looked_at`, or all there are for None.
    """

    rows: FindingRows
    at: dt.datetime
    is_old: bool = False
    is_part: bool = False
    awaited: tuple[Awaited, ...] = ()
    looked_at: frozenset[int] | None = None


def open_findings() -> OpenFindings:
    """What needs a look among the lots there is still something of, the most urgent first."""
    if not Binding.objects.live().exists():
        return OpenFindings(FindingRows(KeptFinding.objects.none()), timezone.now())
    kept = keeping.kept_up_to()
    if kept is None:
        return _of_the_newest()
    since = keeping.waiting(kept, newest())
    if since.everything and keeping.are_few():
        return _of_the_newest()
    is_old = since.everything or len(since.lots) > keeping.MOST_AT_ONCE
    at = kept.at if is_old else timezone.now()
    rows = FindingRows(KeptFinding.objects.filter(of_open_lot=True))
    if 0 < len(since.lots) <= keeping.MOST_AT_ONCE:
        return _with_fresh(rows, since.lots, OpenFindings(rows, at, is_old))
    return OpenFindings(rows, at, is_old, looked_at=frozenset())


def _with_fresh(rows: FindingRows, lots: set[int], found: OpenFindings) -> OpenFindings:
    """Some lots as they are found at this moment, in place of what is kept of them."""
    fresh = assess(list(open_lots().filter(pk__in=ids_in(lots))))
    rows = FindingRows(rows.kept.exclude(lot__in=ids_in(lots)), fresh.findings)
    return replace(found, rows=rows, awaited=fresh.awaited, looked_at=frozenset(lots))


def _of_the_newest() -> OpenFindings:
    """Worked out here, of as many of the newest lots as can be."""
    lots = list(open_lots().order_by("-id")[: keeping.MOST_AT_ONCE])
    found = assess(lots)
    rows = FindingRows(KeptFinding.objects.none(), found.findings)
    is_part = len(lots) == keeping.MOST_AT_ONCE
    return OpenFindings(rows, found.at, is_part=is_part, awaited=found.awaited)


def checks_awaited(found: OpenFindings, until: dt.datetime) -> list[Awaited]:
    """What limits wait for up to a moment, the first due first: of the lots worked out for the
    findings, and of those that will be found otherwise by then."""
    awaited = list(found.awaited)
    if found.looked_at is not None:
        coming = LookAgain.objects.filter(due__lte=until).exclude(lot__in=found.looked_at)
        lots = open_lots().filter(pk__in=coming.values("lot")).order_by("-id")
        awaited += assess(list(lots[: keeping.MOST_AT_ONCE])).awaited
    soon = [each for each in awaited if each.due <= until]
    return sorted(soon, key=lambda each: (each.due, each.lot.pk, each.limit.pk))


# Reviews -----------------------------------------------------------------------------------

LONGEST = dt.timedelta(minutes=5)
# Beyond so many seconds it is not done again after each write.
QUICK = 0.5


@dataclass(frozen=True)
class _Due:
    newest: Newest
    seconds: float
    until: dt.datetime
    reviews: list[ReviewDue]


_last: list[_Due] = []


def due_reviews() -> list[ReviewDue]:
    """The lots with readings nobody has reviewed, as of the last thing written."""
    if connection.in_atomic_block:
        # What may still be rolled back is never kept.
        return reviews_due()
    now_newest, now = newest(), timezone.now()
    last = _last[0] if _last else None
    outdated = last is not None and last.newest != now_newest and last.seconds < QUICK
    if last is None or now >= last.until or outdated:
        begun = time.monotonic()
        reviews = reviews_due()
        last = _Due(now_newest, time.monotonic() - begun, now + LONGEST, reviews)
        _last[:] = [last]
    return last.reviews
