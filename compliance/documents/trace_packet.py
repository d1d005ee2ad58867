"""The facts of a trace sheet and their collector."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass

from brewlog.charts.traces import flows_among
from brewlog.ledger import ids_in
from brewlog.models import Lot, LotKind, User
from brewlog.trace import (
    EarlierDraw,
    Recall,
    RecallCustomer,
    RecallLot,
    SentLot,
    backward,
    composition,
    recall,
    where_it_went,
)
from compliance.documents.as_read import Told
from compliance.documents.page import Head
from compliance.documents.printing import (
    DETAIL_PATHS,
    Desk,
    blocks_in_words,
    desk,
    what,
    written,
)

FORWARD, BACKWARD = "forward", "backward"
DIRECTIONS = (FORWARD, BACKWARD)

# In the order of the work, so that a reader meets what came first first.
KIND_ORDER = tuple(LotKind)


@dataclass(frozen=True)
class TraceLot:
    """A lot on the way. `part` is how much of one is in the other: of the lot asked about in
    this one (forward), of this one in the lot asked about (backward).

    `before` is empty, or says for each draw that it was over before the material came.
    """

    code: str
    kind: str
    what: str
    when: str
    made: str
    part: str
    distance: int
    fate: str
    source: str
    before: tuple[str, ...]


@dataclass(frozen=True)
class TraceSent:
    """All of one lot that a customer had."""

    code: str
    quantity: str
    returned: str
    shipments: str
    dates: str
    drawn_before: bool


@dataclass(frozen=True)
class TraceCustomer:
    """A customer, how to reach them, and what they had."""

    name: str
    kind: str
    contact: str
    lots: tuple[TraceSent, ...]


@dataclass(frozen=True)
class TracePacket:
    """Everything a trace sheet says. `edges` are (source code, into code, how much) among
    its lots."""

    head: Head
    direction: str
    code: str
    description: str
    blocks: tuple[str, ...]
    lots: tuple[TraceLot, ...]
    edges: tuple[tuple[str, str, str], ...]
    customers: tuple[TraceCustomer, ...]

    def of_kind(self, kind: str) -> list[TraceLot]:
        return [lot for lot in self.lots if lot.kind == kind]

    def to_json(self) -> str:
        """The same facts as JSON, two spaces deep, in the order they are printed."""
        return json.dumps(asdict(self), ensure_ascii=False, indent=2) + "\n"


def collect_trace(
    lot: Lot, direction: str, *, printed_by: User | str, printed_at: dt.datetime
) -> TracePacket:
    """Everything made from a lot (`forward`) or that it was made from (`backward`)."""
    with desk(printed_by, printed_at) as at_desk:
        lot = Lot.objects.select_related(*DETAIL_PATHS).get(pk=lot.pk)
        state, kept_back = blocks_in_words(lot)
        title = "Trace forward" if direction == FORWARD else "Trace backward"
        found = recall(lot) if direction == FORWARD else None
        lots = _forward(lot, found, at_desk) if found else _backward(lot, at_desk)
        return TracePacket(
            head=at_desk.head(title, f"Lot {lot.code}", state),
            direction=direction,
            code=lot.code,
            description=f"{lot.get_kind_display()}: {what(lot)}",
            blocks=tuple(Told(block.text) for block in kept_back),
            lots=tuple(sorted(lots.values(), key=_reading_order)),
            edges=_edges(lots, at_desk),
            customers=customers_of(found, at_desk) if found else (),
        )


def _reading_order(lot: TraceLot) -> tuple[int, int, str, str]:
    return (KIND_ORDER.index(LotKind(lot.kind)), lot.distance, lot.when, lot.code)


def _detailed(ids: Iterable[int]) -> dict[int, Lot]:
    rows = Lot.objects.filter(pk__in=ids_in(ids)).select_related(*DETAIL_PATHS).order_by("id")
    return {row.pk: row for row in rows}


def _forward(lot: Lot, found: Recall, at_desk: Desk) -> dict[int, TraceLot]:
    went = where_it_went(lot)
    details = _detailed(each.scope.facts.lot_id for each in found.lots)
    lots = {}
    for each in found.lots:
        facts = each.scope.facts
        share = went.share(facts.lot_id)
        part = at_desk.amount(share.entered, lot.dimension) if share else "less than one unit"
        if share and share.per_piece is not None and facts.lot_id != lot.pk:
            part += f" ({at_desk.amount(round(share.per_piece), lot.dimension)} in each)"
        lots[facts.lot_id] = TraceLot(
            code=facts.code,
            kind=facts.kind,
            what=what(details[facts.lot_id]),
            when=written(facts.when),
            made=made_text(facts.made, facts.dimension, at_desk),
            part="all of it" if facts.lot_id == lot.pk else part,
            distance=each.scope.distance,
            fate=fate_of(each, at_desk),
            source="",
            before=tuple(before_in_words(draw) for draw in each.scope.earlier),
        )
    return lots


def _backward(lot: Lot, at_desk: Desk) -> dict[int, TraceLot]:
    ancestry = backward(lot)
    made_of = composition(lot)
    details = _detailed(ancestry.ids)
    lots = {}
    for each in ancestry.lots:
        facts = each.facts
        inside = made_of.part(facts.lot_id)
        part = at_desk.amount(inside.entered, facts.dimension) if inside else "less than one unit"
        if inside and inside.per_piece is not None:
            part += f" ({at_desk.amount(round(inside.per_piece), facts.dimension)} in each)"
        lots[facts.lot_id] = TraceLot(
            code=facts.code,
            kind=facts.kind,
            what=what(details[facts.lot_id]),
            when=written(facts.when),
            made=made_text(facts.made, facts.dimension, at_desk),
            part="all of it" if facts.lot_id == lot.pk else part,
            distance=each.distance,
            fate="",
            source=_bought_from(details[facts.lot_id]),
            before=(),
        )
    return lots


def made_text(made: int | None, dimension: str, at_desk: Desk) -> str:
    return at_desk.amount(made, dimension) if made is not None else "not measured"


def fate_of(lot: RecallLot, at_desk: Desk) -> str:
    """Where the lot's own amount is now: used, shipped, back, gone, on hand."""
    gone = sum(lot.gone.values())
    parts = (
        ("used", lot.used),
        ("shipped", lot.shipped),
        ("brought back", lot.returned),
        ("gone otherwise", gone),
        ("on hand", lot.on_hand),
        ("unexplained", lot.unexplained),
    )
    dimension = lot.scope.facts.dimension
    return ", ".join(f"{at_desk.amount(n, dimension)} {word}" for word, n in parts if n)


def before_in_words(draw: EarlierDraw) -> str:
    """The two times that show a draw was over before the material came."""
    source = draw.source.code
    if draw.arrived is None:
        return Told(f"drawn {draw.drawn} from {source}, which was itself drawn before")
    return Told(f"drawn {draw.drawn} from {source}, before it came in {draw.arrived}")


def _bought_from(lot: Lot) -> str:
    """The supplier, their code and the document of a delivery."""
    if lot.kind not in {LotKind.INGREDIENT, LotKind.CULTURE}:
        return ""
    detail = lot.detail
    supplier = detail.supplier  # type: ignore[attr-defined]
    code = detail.supplier_code  # type: ignore[attr-defined]
    document = detail.document_number  # type: ignore[attr-defined]
    reach = ", ".join(part for part in (supplier.phone, supplier.email) if part) if supplier else ""
    parts = (
        str(supplier or ""),
        reach,
        f"their lot {code}" if code else "",
        f"document {document}" if document else "",
    )
    return "; ".join(part for part in parts if part)


def _edges(lots: dict[int, TraceLot], at_desk: Desk) -> tuple[tuple[str, str, str], ...]:
    return tuple(
        (
            lots[flow.source].code,
            lots[flow.into].code,
            at_desk.amount(flow.quantity, flow.dimension),
        )
        for flow in flows_among(lots)
    )


def customers_of(found: Recall, at_desk: Desk) -> tuple[TraceCustomer, ...]:
    """The customers in reading order, each with the lots they had."""
    return tuple(
        TraceCustomer(
            name=each.name,
            kind=each.kind,
            contact=contact_of(each),
            lots=tuple(_sent(lot, at_desk) for lot in each.lots),
        )
        for each in found.customers
    )


def contact_of(customer: RecallCustomer) -> str:
    """Person, phone, e-mail and address on one line; says so where nothing is known."""
    address = ", ".join(line.strip() for line in customer.address.splitlines() if line.strip())
    parts = [customer.contact, customer.phone, customer.email, address]
    return "; ".join(part for part in parts if part) or "no contact recorded"


def _sent(lot: SentLot, at_desk: Desk) -> TraceSent:
    first, last = str(lot.first), str(lot.last)
    return TraceSent(
        code=lot.code,
        quantity=at_desk.amount(lot.quantity, lot.dimension),
        returned=at_desk.amount(lot.returned, lot.dimension) if lot.returned else "",
        shipments=", ".join(lot.shipments),
        dates=Told(first if first == last else f"{first} to {last}"),
        drawn_before=lot.drawn_before,
    )
