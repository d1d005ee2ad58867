"""The facts of a recall packet, and their collector."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import asdict, dataclass

from brewlog.ledger import ids_in
from brewlog.models import BottlingLot, Customer, Hold, Lot, LotKind, StockAdjustment, User
from brewlog.trace import Recall, RecallCustomer, RecallLot, SentLot, recall
from brewlog.units import CANONICAL_UNIT, Dimension, show_quantity
from brewlog.when import When
from compliance.documents.page import Head, Pair
from compliance.documents.printing import DETAIL_PATHS, Desk, desk, what
from compliance.documents.trace_packet import before_in_words, contact_of

STATE = "DRAFT for a person to review; nothing has been sent"


@dataclass(frozen=True)
class RecalledLot:
    """A bottling lot of the scope, in pieces. `gone` names the reasons."""

    code: str
    flavour: str
    format: str
    best_before: str
    made: int
    shipped: int
    returned: int
    gone: str
    gone_count: int
    used: int
    on_hand: int
    unexplained: int
    before: tuple[str, ...]


@dataclass(frozen=True)
class OtherStock:
    """What is not bottled and still there: to be kept apart too."""

    code: str
    what: str
    on_hand: str


@dataclass(frozen=True)
class SentTo:
    """All of one lot that a customer had, as the notice and the spreadsheet name it."""

    code: str
    product: str
    format: str
    net_contents: str
    best_before: str
    quantity: int
    unit: str
    quantity_text: str
    returned: int
    first: str
    last: str
    shipments: str
    drawn_before: bool


@dataclass(frozen=True)
class Recipient:
    """A customer who has, or had, what is in the scope."""

    name: str
    kind: str
    is_public: bool
    contact: str
    address: str
    phone: str
    email: str
    reach: str
    lots: tuple[SentTo, ...]


@dataclass(frozen=True)
class RecallPacket:
    """Everything a recall packet says. `reason` is empty until somebody wrote a hold, `since`
    where the lot was suspect from the first."""

    head: Head
    code: str
    description: str
    reason: str
    since: str
    reply_to: str
    address: str
    totals: tuple[Pair, ...]
    lots: tuple[RecalledLot, ...]
    other_stock: tuple[OtherStock, ...]
    recipients: tuple[Recipient, ...]

    def to_json(self) -> str:
        """The same facts as JSON, two spaces deep, in the order they are printed."""
        return json.dumps(asdict(self), ensure_ascii=False, indent=2) + "\n"


def collect_recall(
    lot: Lot, *, printed_by: User | str, printed_at: dt.datetime, since: When | None = None
) -> RecallPacket:
    """The full scope of a lot: nothing is left out of it for having been drawn before.

    With `since` the lot is suspect only from then on, its last good check.
    """
    with desk(printed_by, printed_at) as at_desk:
        lot = Lot.objects.select_related(*DETAIL_PATHS).get(pk=lot.pk)
        found = recall(lot, since=since)
        products = _products(found)
        brewery = at_desk.brewery
        reach = (brewery.phone, brewery.email)
        return RecallPacket(
            head=at_desk.head("Recall packet", f"Lot {lot.code}", STATE),
            code=lot.code,
            description=f"{lot.get_kind_display()}: {what(lot)}",
            reason=_reason(lot),
            since=str(since or ""),
            reply_to=" or ".join(part for part in reach if part),
            address=brewery.address,
            totals=_totals(found),
            lots=tuple(_recalled(each) for each in found.bottling_lots),
            other_stock=_other_stock(found, at_desk),
            recipients=tuple(_recipient(each, products, at_desk) for each in found.customers),
        )


def _reason(lot: Lot) -> str:
    """What the open holds on the lot say is wrong with it."""
    holds = Hold.objects.live().filter(lot=lot.pk, lifted_at__isnull=True).order_by("id")
    return "; ".join(f"{hold.get_cause_display()}: {hold.reason}" for hold in holds)


def _products(found: Recall) -> dict[int, BottlingLot]:
    ids = [each.scope.facts.lot_id for each in found.bottling_lots]
    rows = BottlingLot.objects.filter(pk__in=ids_in(ids)).select_related("flavour", "format")
    return {row.pk: row for row in rows}


def _totals(found: Recall) -> tuple[Pair, ...]:
    totals = found.totals
    reasons = dict(StockAdjustment.Reason.choices)
    gone = [Pair(f"Gone: {reasons[key]}", str(count)) for key, count in totals.gone.items()]
    own = (
        Pair("Bottling lots", str(totals.lots)),
        Pair("Pieces made", str(totals.made)),
        Pair("Pieces shipped", str(totals.shipped)),
        Pair("Brought back", str(totals.returned)),
        *gone,
        Pair("Should be on hand", str(totals.on_hand)),
        Pair("Unexplained", str(totals.unexplained)),
        Pair("Customers", str(len(found.customers))),
    )
    if not totals.lots_drawn_before:
        return own
    count = totals.lots_drawn_before
    lots = "1 lot" if count == 1 else f"{count} lots"
    before = f"{lots}, {totals.made_drawn_before} pieces made"
    return (*own, Pair("Of these drawn before", before))


def _recalled(lot: RecallLot) -> RecalledLot:
    reasons = dict(StockAdjustment.Reason.choices)
    return RecalledLot(
        code=lot.code,
        flavour=lot.flavour,
        format=lot.format,
        best_before=lot.best_before,
        made=lot.made,
        shipped=lot.shipped,
        returned=lot.returned,
        gone=", ".join(f"{count} {reasons[key]}" for key, count in lot.gone.items()),
        gone_count=sum(lot.gone.values()),
        used=lot.used,
        on_hand=lot.on_hand,
        unexplained=lot.unexplained,
        before=tuple(before_in_words(draw) for draw in lot.scope.earlier),
    )


def _other_stock(found: Recall, at_desk: Desk) -> tuple[OtherStock, ...]:
    ids = [each.scope.facts.lot_id for each in found.other_stock]
    rows = Lot.objects.filter(pk__in=ids_in(ids)).select_related(*DETAIL_PATHS)
    details = {row.pk: row for row in rows}
    return tuple(
        OtherStock(
            each.code,
            f"{LotKind(each.scope.facts.kind).label}: {what(details[each.scope.facts.lot_id])}",
            at_desk.amount(each.on_hand, each.scope.facts.dimension),
        )
        for each in found.other_stock
    )


def _recipient(
    customer: RecallCustomer, products: dict[int, BottlingLot], at_desk: Desk
) -> Recipient:
    return Recipient(
        name=customer.name,
        kind=str(Customer.Kind(customer.kind).label),
        is_public=customer.kind == Customer.Kind.PUBLIC,
        contact=customer.contact,
        address=customer.address,
        phone=customer.phone,
        email=customer.email,
        reach=contact_of(customer),
        lots=tuple(_sent(lot, products.get(lot.lot_id), at_desk) for lot in customer.lots),
    )


def _sent(lot: SentLot, bottles: BottlingLot | None, at_desk: Desk) -> SentTo:
    """A shipped lot is nearly always bottled; drink sold from the vessel has no label."""
    shown = show_quantity(lot.quantity, lot.dimension, at_desk.units)
    if bottles:
        container = bottles.format.get_container_display()
        shown += f" {container}" if lot.quantity == 1 else f" {container}s"
    return SentTo(
        code=lot.code,
        product=bottles.flavour.label_name if bottles else "drink from the vessel",
        format=str(bottles.format) if bottles else "",
        net_contents=bottles.format.holds_text if bottles else "",
        best_before=str(bottles.best_before or "") if bottles else "",
        quantity=lot.quantity,
        unit=CANONICAL_UNIT[Dimension(lot.dimension)] or "pieces",
        quantity_text=shown,
        returned=lot.returned,
        first=str(lot.first),
        last=str(lot.last),
        shipments=", ".join(lot.shipments),
        drawn_before=lot.drawn_before,
    )
