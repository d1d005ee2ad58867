"""The recall question: which lots, how many bottles, and who has them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import NamedTuple

from django.db import connection

from brewlog.ledger import MassBalance, ids_in, ids_parameter, mass_balances
from brewlog.models import (
    BottlingLot,
    Customer,
    Lot,
    LotKind,
    Shipment,
    ShipmentLine,
    StockAdjustment,
)
from brewlog.trace.closure import down_sql
from brewlog.trace.order import ALWAYS, Span, span_of
from brewlog.trace.scope import Scope, ScopeLot, scope
from brewlog.when import Precision, When

_RETURN = StockAdjustment.Reason.RETURN.value


@dataclass(frozen=True)
class RecallLot:
    """A lot of the scope with its account, in its canonical unit (bottles are pieces).

    `flavour`, `format` and `best_before` are those of a bottling lot. `gone` is what
    left by adjustments, by reason (destroyed, sample...), less than nothing for what a
    count found; returns stand apart.
    """

    scope: ScopeLot
    flavour: str
    format: str
    best_before: str
    made: int
    used: int
    shipped: int
    returned: int
    gone: dict[str, int]
    on_hand: int
    unexplained: int

    @property
    def code(self) -> str:
        return self.scope.facts.code

    @property
    def drawn_before(self) -> bool:
        return self.scope.drawn_before


@dataclass(frozen=True, slots=True)
class RecallLine:
    """So much of one lot in one shipment; `drawn_before` also where it left before then."""

    lot_id: int
    code: str
    dimension: str
    shipment: str
    when: When
    quantity: int
    drawn_before: bool


@dataclass(frozen=True, slots=True)
class SentLot:
    """All of one lot that one customer had: amount, shipments, first and last day."""

    lot_id: int
    code: str
    dimension: str
    quantity: int
    returned: int
    shipments: tuple[str, ...]
    first: When
    last: When
    drawn_before: bool


@dataclass(frozen=True)
class RecallCustomer:
    """Someone who has, or had, what is in the scope, and how to reach them."""

    customer_id: int
    name: str
    kind: str
    contact: str
    address: str
    phone: str
    email: str
    lines: tuple[RecallLine, ...]
    returned: dict[int, int]  # lot id -> brought back

    @property
    def lots(self) -> tuple[SentLot, ...]:
        """Their shipments lot by lot, in the order the lots first came."""
        by_lot: dict[int, list[RecallLine]] = defaultdict(list)
        for line in self.lines:
            by_lot[line.lot_id].append(line)
        return tuple(_sent(lines, self.returned.get(lot_id, 0)) for lot_id, lines in by_lot.items())


def _sent(lines: list[RecallLine], returned: int) -> SentLot:
    """The lines of one lot to one customer as one; nearly always there is just one."""
    one = lines[0]
    is_one = len(lines) == 1
    return SentLot(
        lot_id=one.lot_id,
        code=one.code,
        dimension=one.dimension,
        quantity=one.quantity if is_one else sum(line.quantity for line in lines),
        returned=returned,
        shipments=(
            (one.shipment,) if is_one else tuple(dict.fromkeys(line.shipment for line in lines))
        ),
        first=one.when if is_one else min(line.when for line in lines),
        last=one.when if is_one else max(line.when for line in lines),
        drawn_before=one.drawn_before if is_one else all(line.drawn_before for line in lines),
    )


@dataclass(frozen=True)
class RecallTotals:
    """Pieces over all bottling lots of the scope; of them in lots drawn before."""

    lots: int = 0
    made: int = 0
    shipped: int = 0
    returned: int = 0
    on_hand: int = 0
    unexplained: int = 0
    gone: dict[str, int] = field(default_factory=dict)
    lots_drawn_before: int = 0
    made_drawn_before: int = 0


@dataclass(frozen=True)
class Recall:
    """The full answer. Nothing is left out of it for having been drawn before."""

    scope: Scope
    lots: tuple[RecallLot, ...]
    customers: tuple[RecallCustomer, ...]

    @property
    def bottling_lots(self) -> tuple[RecallLot, ...]:
        return tuple(lot for lot in self.lots if lot.scope.facts.kind == LotKind.BOTTLING)

    @property
    def other_stock(self) -> tuple[RecallLot, ...]:
        """What is not bottled and still there: cultures, batches, what is left of the lot."""
        return tuple(
            lot for lot in self.lots if lot.scope.facts.kind != LotKind.BOTTLING and lot.on_hand > 0
        )

    @property
    def totals(self) -> RecallTotals:
        bottled = self.bottling_lots
        gone: dict[str, int] = defaultdict(int)
        for lot in bottled:
            for reason, amount in lot.gone.items():
                gone[reason] += amount
        before = [lot for lot in bottled if lot.drawn_before]
        return RecallTotals(
            lots=len(bottled),
            made=sum(lot.made for lot in bottled),
            shipped=sum(lot.shipped for lot in bottled),
            returned=sum(lot.returned for lot in bottled),
            on_hand=sum(lot.on_hand for lot in bottled),
            unexplained=sum(lot.unexplained for lot in bottled),
            gone=dict(sorted(gone.items())),
            lots_drawn_before=len(before),
            made_drawn_before=sum(lot.made for lot in before),
        )


def recall(lot: Lot, *, since: When | None = None) -> Recall:
    """Everything made from the lot, what became of it, and who has it.

    Twelve queries, whatever the size. `since` as in `scope`. Raises `CircleInRecords`.
    """
    found = scope(lot, since=since)
    by_id = {each.facts.lot_id: each for each in found.lots}
    balances = mass_balances(by_id)
    labels = _labels(by_id)
    lots = tuple(
        _recall_lot(each, balances[pk], labels.get(pk, ("", "", ""))) for pk, each in by_id.items()
    )
    return Recall(found, lots, _customers(found, by_id))


def shipped_to(lot: Lot) -> dict[int, int]:
    """How much of everything made from the lot went to each customer; one query.

    The sum of canonical units over all its lots: pieces where only bottles are sold.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            f"{down_sql()}, sent(shipment_id, quantity) AS ("
            "  SELECT line.shipment_id, SUM(line.quantity) FROM reached "
            "  JOIN brewlog_shipmentline line ON line.lot_id = reached.id "
            "  AND line.voided_at IS NULL GROUP BY line.shipment_id) "
            "SELECT shipment.customer_id, SUM(sent.quantity) FROM sent "
            "JOIN brewlog_shipment shipment ON shipment.id = sent.shipment_id "
            "GROUP BY shipment.customer_id",
            [ids_parameter([lot.pk])],
        )
        return {customer: int(quantity) for customer, quantity in cursor.fetchall()}


def _labels(lot_ids: Iterable[int]) -> dict[int, tuple[str, str, str]]:
    """Flavour, format and best-before of the bottling lots."""
    rows = BottlingLot.objects.filter(pk__in=ids_in(lot_ids)).order_by()
    return {
        pk: (flavour, made_in, best_before.isoformat() if best_before else "")
        for pk, flavour, made_in, best_before in rows.values_list(
            "pk", "flavour__name", "format__name", "best_before"
        )
    }


def _recall_lot(each: ScopeLot, balance: MassBalance, label: tuple[str, str, str]) -> RecallLot:
    flavour, made_in, best_before = label
    return RecallLot(
        scope=each,
        flavour=flavour,
        format=made_in,
        best_before=best_before,
        made=balance.made + balance.added,
        used=sum(balance.used.values()),
        shipped=balance.shipped,
        returned=balance.adjusted.get(_RETURN, 0),
        gone={reason: -change for reason, change in balance.adjusted.items() if reason != _RETURN},
        on_hand=balance.on_hand,
        unexplained=balance.unexplained,
    )


def _customers(found: Scope, lots: dict[int, ScopeLot]) -> tuple[RecallCustomer, ...]:
    lines = _lines(found, lots)
    returned = _returned(lots)
    rows = Customer.objects.filter(pk__in=lines.keys() | returned.keys()).order_by("name", "pk")
    return tuple(
        RecallCustomer(
            customer_id=row.pk,
            name=row.name,
            kind=row.kind,
            contact=row.contact,
            address=row.address,
            phone=row.phone,
            email=row.email,
            lines=tuple(lines.get(row.pk, ())),
            returned=returned.get(row.pk, {}),
        )
        for row in rows
    )


class _Sent(NamedTuple):
    customer: int
    number: str
    when: When
    span: Span


def _lines(found: Scope, lots: dict[int, ScopeLot]) -> dict[int, list[RecallLine]]:
    """Every shipment line of the lots, by customer, in the order they were sent."""
    rows = ShipmentLine.objects.live().filter(lot__in=ids_in(lots)).order_by()
    lines = list(rows.values_list("shipment", "pk", "lot", "quantity"))
    shipments = _shipments({shipment for shipment, *_ in lines})
    lines.sort(key=lambda line: (shipments[line[0]].span, line[1]))
    arrivals = {pk: span_of(each.arrived) for pk, each in lots.items() if each.arrived}
    if found.since is None:
        # The lot was always suspect, whatever the times of its own shipments say.
        arrivals[found.lot.lot_id] = ALWAYS
    sent: dict[int, list[RecallLine]] = defaultdict(list)
    for shipment, _, lot_id, quantity in lines:
        header = shipments[shipment]
        arrival = arrivals.get(lot_id)
        facts = lots[lot_id].facts
        sent[header.customer].append(
            RecallLine(
                lot_id=lot_id,
                code=facts.code,
                dimension=facts.dimension,
                shipment=header.number,
                when=header.when,
                quantity=quantity,
                drawn_before=arrival is None or header.span.provably_before(arrival),
            )
        )
    return sent


def _shipments(keys: Iterable[int]) -> dict[int, _Sent]:
    rows = Shipment.objects.filter(pk__in=ids_in(keys)).order_by()
    fields = ("pk", "customer", "number", "happened_at", "happened_precision")
    found = {}
    for pk, customer, number, at, precision in rows.values_list(*fields):
        when = When(at, Precision(precision))
        found[pk] = _Sent(customer, number, when, span_of(when))
    return found


def _returned(lots: dict[int, ScopeLot]) -> dict[int, dict[int, int]]:
    """What each customer brought back, by lot."""
    rows = StockAdjustment.objects.live().filter(
        reason=StockAdjustment.Reason.RETURN, lot__in=ids_in(lots)
    )
    found: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for customer, lot_id, change in rows.order_by("pk").values_list("customer", "lot", "change"):
        found[customer][lot_id] += change
    return {customer: dict(amounts) for customer, amounts in found.items()}
