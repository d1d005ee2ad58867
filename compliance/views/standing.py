"""What is found about the open lots, and what limits wait for, for the pages that list it.

Never evidence: verbs, a lot's own page and a release work it out anew. The findings come from
what is kept of them (`domain/keeping.py`); the lots written about since, or whose time has
come, are worked out here, a few hundred at most. Where more may be found otherwise, the list
says as of when it is.
"""

from __future__ import annotations

import datetime as dt
import heapq
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from operator import attrgetter
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone

from brewlog.ledger import ids_in
from brewlog.models import Hold
from compliance.assessment import Awaited, Finding, assess, open_lots
from compliance.assessment.kept import unpacked
from compliance.assessment.touched import newest
from compliance.domain import keeping
from compliance.models import Binding, DeviationLot, KeptFinding, LookAgain


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

    def unanswered(self) -> FindingRows:
        """Those since which nobody held the lot for it or opened a deviation about it."""
        return replace(self, kept=_kept_unanswered(self.kept), fresh=_unanswered(self.fresh))

    @cached_property
    def _total(self) -> int:
        return self.kept.count() + len(self.fresh)

    def __len__(self) -> int:
        return self._total

    def __getitem__(self, part: slice) -> list[Finding]:
        """A part of them, from one place up to another. A kept one moves down by as many
        places as fresh ones go before it: at most all of them."""
        start = part.start or 0
        first = max(0, start - len(self.fresh))
        keys = list(self.kept.values_list("pk", flat=True)[first : part.stop])
        window = _whole(KeptFinding.objects.filter(pk__in=keys)) if keys else ()
        merged = sorted([*map(unpacked, window), *self.fresh], key=attrgetter("order"))
        return merged[start - first : None if part.stop is None else part.stop - first]

    def __iter__(self) -> Iterator[Finding]:
        return heapq.merge(map(unpacked, _whole(self.kept)), self.fresh, key=attrgetter("order"))


def _whole(rows: QuerySet[KeptFinding]) -> QuerySet[KeptFinding]:
    return rows.select_related("lot", "limit__ruleset")


def _kept_unanswered(kept: QuerySet[KeptFinding]) -> QuerySet[KeptFinding]:
    holds = Hold.objects.live().filter(
        lot=OuterRef("lot"), cause=OuterRef("limit__cause"), recorded_at__gt=OuterRef("since")
    )
    deviations = DeviationLot.objects.live().filter(
        lot=OuterRef("lot"), recorded_at__gt=OuterRef("since"), deviation__voided_at__isnull=True
    )
    return kept.filter(~Exists(holds), ~Exists(deviations))


def _unanswered(fresh: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """The same of those just worked out: two queries, however many there are."""
    if not fresh:
        return ()
    lots = ids_in({each.lot.pk for each in fresh})
    holds = Hold.objects.live().filter(lot__in=lots).order_by("recorded_at")
    answered: dict[tuple[int, str], dt.datetime] = {
        (lot, cause): at for lot, cause, at in holds.values_list("lot", "cause", "recorded_at")
    }
    about = DeviationLot.objects.live().filter(lot__in=lots, deviation__voided_at__isnull=True)
    for lot, at in about.order_by("recorded_at").values_list("lot", "recorded_at"):
        answered[lot, ""] = at
    return tuple(
        each
        for each in fresh
        if not any(
            answered.get((each.lot.pk, by), each.since.at) > each.since.at
            for by in (each.limit.cause, "")
        )
    )


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
        coming_open = open_lots().filter(pk__in=coming.values("lot")).order_by("-id")
        lots = list(coming_open[: keeping.MOST_AT_ONCE])
        awaited += assess(lots).awaited if lots else ()
    soon = [each for each in awaited if each.due <= until]
    return sorted(soon, key=lambda each: (each.due, each.lot.pk, each.limit.pk))
