"""Which records are handed over: those of one lot's trace, or of all lots, within a period."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet

from brewlog.ledger import ids_in
from brewlog.models import Lot
from brewlog.trace import ancestor_ids, descendant_ids
from brewlog.when import on_day

BOTH, FORWARD, BACKWARD = "", "forward", "backward"
WAYS = {
    BOTH: "what it was made from and what was made from it",
    FORWARD: "what was made from it",
    BACKWARD: "what it was made from",
}


@dataclass(frozen=True)
class Period:
    """From a first to a last day, both in it; open where one is None. Days are the brewery's."""

    first: dt.date | None = None
    last: dt.date | None = None

    def __str__(self) -> str:
        if self.first and self.last:
            return f"{self.first} to {self.last}"
        if self.first:
            return f"{self.first} on"
        return f"up to {self.last}" if self.last else "all time"

    @property
    def starts(self) -> dt.datetime | None:
        return on_day(self.first).at if self.first else None

    @property
    def ends(self) -> dt.datetime | None:
        """The moment after its last day."""
        return on_day(self.last + dt.timedelta(days=1)).at if self.last else None

    def has(self, at: dt.datetime) -> bool:
        return not (
            (self.starts is not None and at < self.starts)
            or (self.ends is not None and at >= self.ends)
        )

    def during(self, field: str = "happened_at") -> Q:
        """The condition that a time of a row lies in the period."""
        found = Q()
        if self.starts is not None:
            found &= Q(**{f"{field}__gte": self.starts})
        if self.ends is not None:
            found &= Q(**{f"{field}__lt": self.ends})
        return found


@dataclass(frozen=True)
class Scope:
    """A lot and which way from it, or all lots; and a period."""

    lot: Lot | None = None
    way: str = BOTH
    period: Period = Period()

    def __str__(self) -> str:
        lots = f"lot {self.lot.code} and {WAYS[self.way]}" if self.lot else "all lots"
        return f"{lots}; {self.period}"

    def lot_ids(self) -> set[int] | None:
        """The lots of the trace; None for all."""
        if self.lot is None:
            return None
        found: set[int] = set()
        if self.way in {BOTH, FORWARD}:
            found |= descendant_ids([self.lot.pk])
        if self.way in {BOTH, BACKWARD}:
            found |= ancestor_ids([self.lot.pk])
        return found

    def narrowed(
        self, rows: QuerySet[Any], lot_ids: set[int] | None, link: str, at: str = "happened_at"
    ) -> QuerySet[Any]:
        """The rows about these lots (`link` is the way to them) within the period."""
        found = rows.filter(self.period.during(at))
        return found if lot_ids is None else found.filter(**{f"{link}__in": ids_in(lot_ids)})
