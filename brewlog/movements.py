"""What came into lots and left them, when, and how much there was at each time.

Worked out from the same entries as `ledger`, so that the last figure is the ledger's own.
A time known only to the day counts as the first moment of it for what came and as the last for
what left: nothing is called missing that may have been there.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, NamedTuple, TypeVar

from django.db.models import F, QuerySet, Value

from brewlog.ledger import ids_in, on_hand
from brewlog.models import Lot, LotUse, ShipmentLine, StockAdjustment
from brewlog.units import LEAST_MEASURED, Dimension
from brewlog.when import Precision, When

Key = TypeVar("Key")

_MINUTE = dt.timedelta(minutes=1)


class Way(StrEnum):
    """How something came or left. `made` is a lot's own amount: received, filled, begun."""

    MADE = "made"
    POURED_IN = "poured in"
    ADDED = "added"
    USED = "used"
    SHIPPED = "shipped"
    ADJUSTED = "adjusted"


class Movement(NamedTuple):
    """An amount that came (or left, less than nothing), in canonical units; `other` is the lot
    it went into or came from, the shipment, or the reason. `at` is the moment it counts from.
    """

    lot_id: int
    at: dt.datetime
    happened_at: dt.datetime
    precision: str
    change: int
    way: str
    other: str

    @property
    def when(self) -> When:
        return When(self.happened_at, Precision(self.precision))


class Step(NamedTuple):
    """A movement, and what there was of all the lots after it.

    `unexplained` is how much more left its lot than the books had of it.
    """

    movement: Movement
    there: int
    unexplained: int


@dataclass(frozen=True)
class Course:
    """What there was of some lots from `since` on, before `until`."""

    since: dt.datetime
    until: dt.datetime
    opening: int
    steps: tuple[Step, ...]

    @property
    def closing(self) -> int:
        return self.steps[-1].there if self.steps else self.opening

    @property
    def unexplained(self) -> int:
        return sum(step.unexplained for step in self.steps)


def movements(lot_ids: Iterable[int], since: dt.datetime) -> list[Movement]:
    """Everything that came into the lots and left them from a day's beginning on. One query."""
    ids = list(lot_ids)
    first, *others = _branches(ids, since)
    rows = first.union(*others, all=True)
    return [
        Movement(lot, _counts_from(at, precision, change), at, precision, change, way, other)
        for way, lot, at, precision, change, other in rows
    ]


def _counts_from(at: dt.datetime, precision: str, change: int) -> dt.datetime:
    if precision == Precision.DAY and change < 0:
        return When(at, Precision.DAY).ends - _MINUTE
    return at


def _branches(ids: list[int], since: dt.datetime) -> list[QuerySet]:
    uses = LotUse.objects.live().filter(happened_at__gte=since)
    into = uses.filter(into__in=ids_in(ids))
    poured = into.filter(
        added__isnull=True, into__made__isnull=True, source__dimension=F("into__dimension")
    )
    made = Lot.objects.filter(pk__in=ids_in(ids), made__isnull=False, happened_at__gte=since)
    lines = ShipmentLine.objects.live().filter(
        lot__in=ids_in(ids), shipment__happened_at__gte=since
    )
    adjusted = StockAdjustment.objects.live().filter(lot__in=ids_in(ids), happened_at__gte=since)
    return [
        _rows(made, Way.MADE, "pk", F("made"), F("code")),
        _rows(poured, Way.POURED_IN, "into", F("quantity"), F("source__code")),
        _rows(into.filter(added__isnull=False), Way.ADDED, "into", F("added"), F("source__code")),
        _rows(
            uses.filter(source__in=ids_in(ids)), Way.USED, "source", -F("quantity"), F("into__code")
        ),
        _rows(lines, Way.SHIPPED, "lot", -F("quantity"), F("shipment__number"), "shipment__"),
        _rows(adjusted, Way.ADJUSTED, "lot", F("change"), F("reason")),
    ]


def _rows(rows: QuerySet, way: Way, lot: str, change: Any, other: Any, time: str = "") -> QuerySet:
    return (
        rows.order_by()
        .annotate(_way=Value(way.value), _change=change, _other=other)
        .values_list(
            "_way", lot, f"{time}happened_at", f"{time}happened_precision", "_change", "_other"
        )
    )


def courses(
    groups: Mapping[Key, Iterable[int]],
    since: dt.datetime,
    until: dt.datetime,
    dimension: str,
) -> dict[Key, Course]:
    """What there was of each group of lots over a time, all measured alike. Two queries, however
    many.

    A lot of which more left than it had counts as nothing, and takes nothing from the others.
    Less too much than anybody measures out is the rounding of a unit, and explained by that.
    """
    group_of = {lot: key for key, lots in groups.items() for lot in lots}
    found: dict[Key, list[Movement]] = {key: [] for key in groups}
    for each in movements(group_of, since):
        found[group_of[each.lot_id]].append(each)
    books: dict[Key, dict[int, int]] = {key: defaultdict(int) for key in groups}
    for lot, amount in on_hand(group_of).items():
        books[group_of[lot]][lot] = amount
    least = LEAST_MEASURED[Dimension(dimension)]
    return {key: _course(found[key], books[key], since, until, least) for key in groups}


def _course(
    found: list[Movement],
    books: dict[int, int],
    since: dt.datetime,
    until: dt.datetime,
    least: int,
) -> Course:
    """From what the books have now, back to the beginning, and on from there."""
    for each in found:
        books[each.lot_id] -= each.change
    there = opening = sum(max(0, amount) for amount in books.values())
    steps = []
    for each in sorted(found, key=lambda each: (each.at, each.change < 0)):
        if each.at >= until:
            break
        before = books[each.lot_id]
        after = books[each.lot_id] = before + each.change
        there += max(0, after) - max(0, before)
        too_much = min(0, before) - after
        steps.append(Step(each, there, too_much if too_much >= least else 0))
    return Course(since, until, opening, tuple(steps))
