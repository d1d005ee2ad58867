"""The way of a lot as a picture: what it was made from, itself, and what was made from it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.db.models import Sum

from brewlog.charts.web import MOST_BOXES, Box, Join, Web
from brewlog.ledger import ids_in
from brewlog.models import LotKind, LotUse
from brewlog.trace import AncestorLot, LotFacts, ScopeLot

# Farther steps than these make a picture too wide to follow.
FARTHEST = 6

Amounts = Callable[[int, str], str]


@dataclass(frozen=True)
class Flow:
    """All that one lot gave another, in the source's canonical unit."""

    source: int
    into: int
    quantity: int
    dimension: str


def flows_among(lot_ids: Iterable[int]) -> list[Flow]:
    """What each of the lots gave each other of them, in one query."""
    ids = list(lot_ids)
    rows = LotUse.objects.live().filter(source__in=ids_in(ids), into__in=ids_in(ids))
    pairs = rows.order_by("source", "into").values_list("source", "into", "source__dimension")
    return [
        Flow(source, into, int(quantity), dimension)
        for source, into, dimension, quantity in pairs.annotate(Sum("quantity"))
    ]


def steps_drawn(distances: Iterable[int], farthest: int = FARTHEST) -> int:
    """How many steps away lots can still be drawn so that all of them are read; 0 for none."""
    away = list(distances)
    fits = (n for n in range(farthest, 0, -1) if sum(d <= n for d in away) < MOST_BOXES)
    return next(fits, 0)


def trace_web(
    asked: LotFacts,
    before: Iterable[AncestorLot],
    after: Iterable[ScopeLot],
    described: dict[int, str],
    amounts: Amounts,
) -> Web | None:
    """The web of a lot with the nearest that went before and after it.

    None where even its neighbours are too many to read. What an ingredient of the lot also
    gave to something made from it is left to the tables.
    """
    sides = [[each for each in side if each.distance] for side in (before, after)]
    steps = steps_drawn(each.distance for side in sides for each in side)
    near = [[each.facts for each in side if each.distance <= steps] for side in sides]
    if not any(near):
        return None
    facts = {each.lot_id: each for each in (asked, *near[0], *near[1])}
    together = [{asked.lot_id, *(each.lot_id for each in side)} for side in near]
    joins = tuple(
        Join(str(flow.source), str(flow.into), amounts(flow.quantity, flow.dimension))
        for flow in flows_among(facts)
        if any(flow.source in side and flow.into in side for side in together)
    )
    boxes = tuple(
        Box(
            key=str(pk),
            title=each.code,
            what=described.get(pk) or LotKind(each.kind).label,
            is_asked=pk == asked.lot_id,
        )
        for pk, each in sorted(facts.items())
    )
    return Web(f"The way of {asked.code}", boxes, joins)
