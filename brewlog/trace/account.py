"""Time-ordered, well-mixed accounts: what a lot holds of each lot it was made from.

Every lot has an account of what is in it. What goes in adds its parts; a draw takes the
same share of every part, `quantity / held`, at that moment. Each part is counted in its
own lot's canonical unit (mg, µL, pieces): nothing is ever turned from weight into volume.

The rules, each with its reason:

* A lot holds at first what was `made`, since that was measured after its parts went in,
  and `added` more with each later use that says so. Where nothing was measured, it holds
  what went in of its own dimension, as it went in.
* A draw comes after everything that went in, unless it was provably before it.
* Whole units only. Between two fillings the sum drawn so far decides what has left, so
  roundings do not add up, and the remainder stays in the vessel.
* More drawn than was there: the draw took all there was. What the books did not have is
  shown as unexplained, and the draw counts as it was written.
* What comes back (a return, a count that found more) comes back as the lot is: it is a
  draw of less than nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from django.db import connection

from brewlog.ledger import ids_parameter, ids_sql
from brewlog.models import Lot
from brewlog.trace.closure import ancestor_ids, descendant_ids
from brewlog.trace.order import Span, made_order, make_span, seconds_sql
from brewlog.trace.scope import LotFacts, lot_facts
from brewlog.units import Dimension

Parts = dict[int, int]  # lot id -> amount in that lot's canonical unit

SHIPPED = "shipped"


class _Use(NamedTuple):
    pk: int
    source: int
    into: int
    quantity: int
    added: int | None
    span: Span


class _Sink(NamedTuple):
    """Stock that left other than by a use: `shipped`, or an adjustment's reason."""

    pk: int
    lot: int
    kind: str
    quantity: int  # less than nothing for what came back
    span: Span


@dataclass
class _Vessel:
    """The account of one lot. `parts` and `held` are as the latest filling left them."""

    held: int
    parts: Parts = field(default_factory=dict)
    drawn: int = 0
    entered: Parts = field(default_factory=dict)

    def fill(self, parts: Parts, added: int) -> None:
        if self.drawn:
            self.parts = self.remaining()
            self.held -= self.drawn
            self.drawn = 0
        self.held += added
        for lot, amount in parts.items():
            self.parts[lot] = self.parts.get(lot, 0) + amount
            self.entered[lot] = self.entered.get(lot, 0) + amount

    def draw(self, quantity: int) -> Parts:
        """Take an amount; what it took of each part."""
        before = self.drawn
        self.drawn += quantity
        taken = {
            lot: self._left(amount, self.drawn) - self._left(amount, before)
            for lot, amount in self.parts.items()
        }
        return {lot: amount for lot, amount in taken.items() if amount}

    def draw_unseen(self, quantity: int) -> None:
        """Take an amount nobody asks about."""
        self.drawn += quantity

    def remaining(self) -> Parts:
        left = {lot: amount - self._left(amount, self.drawn) for lot, amount in self.parts.items()}
        return {lot: amount for lot, amount in left.items() if amount}

    @property
    def books(self) -> int:
        return self.held - self.drawn

    def _left(self, amount: int, drawn: int) -> int:
        """How much of a part has left once so much has been drawn since the filling."""
        if self.held > 0:
            return amount * min(drawn, self.held) // self.held
        return amount if drawn > 0 else 0


@dataclass
class _Plant:
    """Everything that happened to a closed set of lots."""

    facts: dict[int, LotFacts]
    uses_in: dict[int, list[_Use]]
    uses_out: dict[int, list[_Use]]
    sinks: dict[int, list[_Sink]]
    dimensions: dict[int, str]

    def ordered(self) -> list[int]:
        edges = ((use.source, use.into) for uses in self.uses_out.values() for use in uses)
        return made_order(self.facts, edges)

    def events(self, lot: int) -> Iterator[_Use | _Sink]:
        """What happened to the lot, fillings before the draws that may have followed them."""
        timed: list[tuple[tuple[int, int, str, int], _Use | _Sink]] = []
        timed += [((use.span.first, 0, "", use.pk), use) for use in self.uses_in[lot]]
        timed += [((use.span.last, 1, "", use.pk), use) for use in self.uses_out[lot]]
        timed += [((sink.span.last, 2, sink.kind, sink.pk), sink) for sink in self.sinks[lot]]
        for _, event in sorted(timed, key=lambda pair: pair[0]):
            yield event

    def adds(self, use: _Use) -> int:
        """How much a use raised what its product holds, in the product's unit."""
        if use.added is not None:
            return use.added
        into = self.facts[use.into]
        if into.made is None and self.dimensions[use.source] == into.dimension:
            return use.quantity
        return 0

    def amount(self, lot: int) -> int:
        """What the lot amounts to: made and added."""
        added = sum(self.adds(use) for use in self.uses_in[lot])
        return (self.facts[lot].made or 0) + added


def _load(lots: set[int]) -> _Plant:
    """The lots, their uses and their sinks: four queries at most, whatever their number."""
    facts = lot_facts(lots)
    uses_in: dict[int, list[_Use]] = defaultdict(list)
    uses_out: dict[int, list[_Use]] = defaultdict(list)
    for use in _uses_of(lots):
        if use.source in facts:
            uses_out[use.source].append(use)
        if use.into in facts:
            uses_in[use.into].append(use)
    sinks: dict[int, list[_Sink]] = defaultdict(list)
    for sink in _sinks_of(lots):
        sinks[sink.lot].append(sink)
    dimensions = {lot: each.dimension for lot, each in facts.items()}
    outside = {
        use.source
        for lot, each in facts.items()
        if each.made is None
        for use in uses_in[lot]
        if use.source not in facts
    }
    if outside:
        dimensions.update((lot, each.dimension) for lot, each in lot_facts(outside).items())
    return _Plant(facts, uses_in, uses_out, sinks, dimensions)


def _uses_of(lots: set[int]) -> Iterator[_Use]:
    columns = (
        f"id, source_id, into_id, quantity, added, {seconds_sql('happened_at')}, happened_precision"
    )
    one_side = "SELECT {columns} FROM brewlog_lotuse WHERE voided_at IS NULL AND {side} IN ({ids})"
    sides = [
        one_side.format(columns=columns, side=side, ids=ids_sql())
        for side in ("source_id", "into_id")
    ]
    with connection.cursor() as cursor:
        cursor.execute(" UNION ".join(sides), [ids_parameter(lots)] * 2)
        for pk, source, into, quantity, added, seconds, precision in cursor.fetchall():
            yield _Use(pk, source, into, quantity, added, make_span(seconds, precision))


def _sinks_of(lots: set[int]) -> Iterator[_Sink]:
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT line.id, line.lot_id, '{SHIPPED}', line.quantity, "
            f"{seconds_sql('shipment.happened_at')}, shipment.happened_precision "
            "FROM brewlog_shipmentline line "
            "JOIN brewlog_shipment shipment ON shipment.id = line.shipment_id "
            f"WHERE line.voided_at IS NULL AND line.lot_id IN ({ids_sql()}) "
            "UNION ALL "
            f"SELECT id, lot_id, reason, -change, {seconds_sql('happened_at')}, "
            "happened_precision FROM brewlog_stockadjustment "
            f"WHERE voided_at IS NULL AND lot_id IN ({ids_sql()})",
            [ids_parameter(lots)] * 2,
        )
        for pk, lot, kind, quantity, seconds, precision in cursor.fetchall():
            yield _Sink(pk, lot, kind, quantity, make_span(seconds, precision))


# Composition -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Part:
    """How much of one ancestor a lot has, in the ancestor's canonical unit.

    `entered` is all that ever went in, `held` what is still there, `per_piece` what is in
    each bottle or keg on average (None where the lot is not counted in pieces).
    """

    facts: LotFacts
    entered: int
    held: int
    per_piece: float | None


@dataclass(frozen=True)
class Composition:
    """What a lot is made of, the most first within each dimension.

    `amount` is what it amounts to (made and added), `on_hand` what is left, in its own
    canonical unit. Ancestors of which less than one unit came are not listed: the trace
    backward has them.
    """

    lot: LotFacts
    amount: int
    on_hand: int
    parts: tuple[Part, ...]

    def part(self, lot_id: int) -> Part | None:
        """The part that one ancestor has in it; None for less than one unit."""
        return next((part for part in self.parts if part.facts.lot_id == lot_id), None)


def composition(lot: Lot) -> Composition:
    """What the lot holds of each lot it was made from. Raises `CircleInRecords`."""
    plant = _load(ancestor_ids([lot.pk]))
    carried: dict[int, Parts] = {}
    vessel = _Vessel(0)
    for here in plant.ordered():
        vessel = _Vessel(plant.facts[here].made or 0)
        for event in plant.events(here):
            if isinstance(event, _Sink):
                vessel.draw_unseen(event.quantity)
            elif event.into == here:
                vessel.fill(carried.pop(event.pk), plant.adds(event))
            elif event.into in plant.facts:
                taken = vessel.draw(event.quantity)
                taken[here] = event.quantity
                carried[event.pk] = taken
            else:
                vessel.draw_unseen(event.quantity)
    # The lot itself is the one nothing else in the set was made from: it came last.
    facts = plant.facts[lot.pk]
    amount = plant.amount(lot.pk)
    held = vessel.remaining()
    parts = [
        Part(plant.facts[pk], entered, held.get(pk, 0), _per_piece(facts, entered, amount))
        for pk, entered in vessel.entered.items()
    ]
    parts.sort(key=lambda part: (part.facts.dimension, -part.entered, part.facts.lot_id))
    return Composition(facts, amount, max(0, vessel.books), tuple(parts))


def _per_piece(facts: LotFacts, entered: int, amount: int) -> float | None:
    if facts.dimension != Dimension.COUNT or amount <= 0:
        return None
    return entered / amount


# Where it went ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Share:
    """How much of a lot X is, or was, in one lot made from it; in X's canonical unit.

    `entered` is all of X that ever went in. Of that, what left from here for good is in
    `shipped` and `gone` (by StockAdjustment.Reason; less than nothing for what was found
    or came back), and `on_hand` is still there. `per_piece` is X in each bottle.
    """

    facts: LotFacts
    entered: int
    shipped: int
    on_hand: int
    gone: dict[str, int]
    per_piece: float | None


@dataclass(frozen=True)
class WhereItWent:
    """Where all of a lot X is now, over sinks only, in X's canonical unit.

    `shipped + on_hand + sum(gone) - unexplained = amount`, exactly. `unexplained` is how
    much more of X left than the books had; no share is scaled down to hide it.
    """

    lot: LotFacts
    amount: int
    unexplained: int
    shares: tuple[Share, ...]

    @property
    def shipped(self) -> int:
        return sum(share.shipped for share in self.shares)

    @property
    def on_hand(self) -> int:
        return sum(share.on_hand for share in self.shares)

    @property
    def gone(self) -> dict[str, int]:
        """What left by adjustments, by reason."""
        total: dict[str, int] = defaultdict(int)
        for share in self.shares:
            for reason, amount in share.gone.items():
                total[reason] += amount
        return dict(sorted(total.items()))

    def share(self, lot_id: int) -> Share | None:
        """What one lot has of X; None for less than one unit."""
        return next((share for share in self.shares if share.facts.lot_id == lot_id), None)


def where_it_went(lot: Lot) -> WhereItWent:
    """Follow all of a lot to where it left or lies now. Raises `CircleInRecords`."""
    suspect = lot.pk
    plant = _load(descendant_ids([suspect]))
    carried: dict[int, Parts] = {}
    shares: list[Share] = []
    unexplained = 0
    for here in plant.ordered():
        if here != suspect and not any(use.pk in carried for use in plant.uses_in[here]):
            continue
        vessel = _Vessel(plant.facts[here].made or 0)
        left: dict[str, int] = defaultdict(int)
        for event in plant.events(here):
            if isinstance(event, _Sink):
                left[event.kind] += _taken(vessel, here, event.quantity, suspect)
            elif event.into == here:
                vessel.fill(carried.pop(event.pk, {}), plant.adds(event))
            else:
                taken = _taken(vessel, here, event.quantity, suspect)
                if taken:
                    carried[event.pk] = {suspect: taken}
        on_hand = vessel.remaining().get(suspect, 0)
        entered = vessel.entered.get(suspect, 0)
        if here == suspect:
            on_hand, unexplained = max(0, vessel.books), max(0, -vessel.books)
            entered = plant.amount(here)
        if entered or here == suspect:
            shares.append(_share(plant, here, entered, on_hand, left))
    return WhereItWent(plant.facts[suspect], plant.amount(suspect), unexplained, tuple(shares))


def _taken(vessel: _Vessel, here: int, quantity: int, suspect: int) -> int:
    """How much of the suspect lot a draw of so much took: from itself, all of it."""
    taken = vessel.draw(quantity)
    return quantity if here == suspect else taken.get(suspect, 0)


def _share(plant: _Plant, here: int, entered: int, on_hand: int, left: dict[str, int]) -> Share:
    facts = plant.facts[here]
    return Share(
        facts=facts,
        entered=entered,
        shipped=left.pop(SHIPPED, 0),
        on_hand=on_hand,
        gone={reason: amount for reason, amount in sorted(left.items()) if amount},
        per_piece=_per_piece(facts, entered, plant.amount(here)),
    )
