"""Where a lot went and what it was made from, with the times.

The full scope never leaves a lot out. A lot that was drawn from a vessel provably before
the suspect material came into that vessel stays in it, marked *drawn before* with the two
times, so that a person can narrow the scope knowingly. Ties and overlaps (a time known
only to the day) count as carried.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from django.db import connection

from brewlog.ledger import ids_in, ids_parameter
from brewlog.models import Lot
from brewlog.trace.closure import down_sql, up_sql, uses_sql
from brewlog.trace.order import ALWAYS, Span, made_order, make_span, seconds_sql, span_of
from brewlog.when import Precision, When


@dataclass(frozen=True)
class LotFacts:
    """What every trace shows of a lot. `made` is in the canonical unit of `dimension`."""

    lot_id: int
    code: str
    kind: str  # LotKind
    dimension: str  # Dimension
    made: int | None
    when: When


def lot_facts(lot_ids: Iterable[int]) -> dict[int, LotFacts]:
    """The facts of each lot, in one query."""
    rows = Lot.objects.filter(pk__in=ids_in(lot_ids)).order_by()
    fields = ("pk", "code", "kind", "dimension", "made", "happened_at", "happened_precision")
    return {
        pk: LotFacts(pk, code, kind, dimension, made, When(at, Precision(precision)))
        for pk, code, kind, dimension, made, at, precision in rows.values_list(*fields)
    }


@dataclass(frozen=True)
class EarlierDraw:
    """A draw over before the suspect material came into the vessel it was drawn from.

    `arrived` is when it came into `source`; None where it never provably did, because
    the source itself was drawn before.
    """

    source: LotFacts
    drawn: When
    arrived: When | None


@dataclass(frozen=True)
class ScopeLot:
    """A lot of the forward scope.

    `distance` is the fewest uses from the suspect lot. `arrived` is the earliest the
    suspect material can have come in; None where every way to it was drawn before, and
    then `earlier` lists each draw with its times.
    """

    facts: LotFacts
    distance: int
    arrived: When | None
    earlier: tuple[EarlierDraw, ...]

    @property
    def drawn_before(self) -> bool:
        return self.arrived is None


@dataclass(frozen=True)
class Scope:
    """Everything made from a lot, itself first, each after what it was made from."""

    lot: LotFacts
    since: When | None
    lots: tuple[ScopeLot, ...]

    @property
    def ids(self) -> set[int]:
        return {each.facts.lot_id for each in self.lots}

    @property
    def carried(self) -> tuple[ScopeLot, ...]:
        """Those the suspect material may have reached."""
        return tuple(each for each in self.lots if not each.drawn_before)

    @property
    def drawn_before(self) -> tuple[ScopeLot, ...]:
        """Those drawn before it came: in the scope all the same."""
        return tuple(each for each in self.lots if each.drawn_before)


@dataclass(frozen=True)
class AncestorLot:
    """A lot something was made from; `distance` is the fewest uses between."""

    facts: LotFacts
    distance: int


@dataclass(frozen=True)
class Ancestry:
    """Everything a lot was made from, nearest first, itself at distance 0."""

    lot: LotFacts
    lots: tuple[AncestorLot, ...]

    @property
    def ids(self) -> set[int]:
        return {each.facts.lot_id for each in self.lots}


def backward(lot: Lot) -> Ancestry:
    """Everything the lot was made from. Two queries."""
    with connection.cursor() as cursor:
        cursor.execute(
            uses_sql(up_sql(), "into_id, source_id", "into_id"),
            [ids_parameter([lot.pk])],
        )
        steps = cursor.fetchall()
    distances = _distances(lot.pk, steps)
    facts = lot_facts(distances)
    lots = (AncestorLot(facts[pk], distance) for pk, distance in distances.items())
    return Ancestry(facts[lot.pk], tuple(lots))


def scope(lot: Lot, *, since: When | None = None) -> Scope:
    """Everything made from the lot, with when its material can first have come in.

    With `since`, the lot itself is suspect only from then on (its last good check): what
    was drawn from it provably before is marked too. Two queries. Raises
    `CircleInRecords`.
    """
    draws = _draws_below(lot.pk)
    distances = _distances(lot.pk, ((draw.source, draw.into) for draw in draws))
    ordered = made_order(distances, ((draw.source, draw.into) for draw in draws))
    arrivals, earlier = _arrivals(lot.pk, since, ordered, draws)
    facts = lot_facts(distances)
    started = facts[lot.pk].when if since is None else since
    lots = []
    for pk in ordered:
        arrival = arrivals.get(pk)
        lots.append(
            ScopeLot(
                facts=facts[pk],
                distance=distances[pk],
                arrived=started if pk == lot.pk else arrival.when() if arrival else None,
                earlier=tuple(_earlier_draw(draw, arrivals, facts) for draw in earlier[pk])
                if arrival is None
                else (),
            )
        )
    return Scope(facts[lot.pk], since, tuple(lots))


class _Draw(NamedTuple):
    source: int
    into: int
    span: Span


def _draws_below(lot_id: int) -> list[_Draw]:
    """Every use out of the lot and out of what was made from it."""
    columns = f"source_id, into_id, {seconds_sql('happened_at')}, happened_precision"
    with connection.cursor() as cursor:
        cursor.execute(
            uses_sql(down_sql(), columns, "source_id"),
            [ids_parameter([lot_id])],
        )
        return [
            _Draw(source, into, make_span(seconds, precision))
            for source, into, seconds, precision in cursor.fetchall()
        ]


def _distances(start: int, steps: Iterable[tuple[int, int]]) -> dict[int, int]:
    """The fewest steps from the start to each lot, nearest first."""
    onward: dict[int, list[int]] = defaultdict(list)
    for here, there in steps:
        onward[here].append(there)
    distances = {start: 0}
    queue = [start]
    for here in queue:  # grows while it is walked
        for there in onward[here]:
            if there not in distances:
                distances[there] = distances[here] + 1
                queue.append(there)
    return distances


def _arrivals(
    start: int, since: When | None, ordered: list[int], draws: list[_Draw]
) -> tuple[dict[int, Span], dict[int, list[_Draw]]]:
    """The earliest arrival in each lot it reached, and the draws that were over before it.

    One pass in the order of making: a lot's own arrival is known before its draws are
    looked at, whatever order times known to the day seem to have.
    """
    outgoing: dict[int, list[_Draw]] = defaultdict(list)
    for draw in draws:
        outgoing[draw.source].append(draw)
    arrivals = {start: span_of(since) if since else ALWAYS}
    earlier: dict[int, list[_Draw]] = defaultdict(list)
    for source in ordered:
        arrival = arrivals.get(source)
        for draw in outgoing[source]:
            if arrival is None or draw.span.provably_before(arrival):
                earlier[draw.into].append(draw)
                continue
            # It left the source no sooner than it came there.
            first = max(draw.span.first, arrival.first)
            known = arrivals.get(draw.into)
            if known is None or first < known.first:
                arrivals[draw.into] = Span(first, draw.span.last)
    return arrivals, earlier


def _earlier_draw(
    draw: _Draw, arrivals: dict[int, Span], facts: dict[int, LotFacts]
) -> EarlierDraw:
    arrival = arrivals.get(draw.source)
    return EarlierDraw(
        source=facts[draw.source],
        drawn=draw.span.when(),
        arrived=arrival.when() if arrival else None,
    )
