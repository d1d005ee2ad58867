"""The trace sheet: where a lot went and who has it, or what it was made from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import chain

from reportlab.graphics.shapes import Drawing
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer

from brewlog.charts.traces import steps_drawn
from brewlog.charts.web import Box, Join, Web, draw_web, web_size
from brewlog.models import LotKind
from compliance.documents.as_read import as_read
from compliance.documents.lot_sheet import symbol_of
from compliance.documents.page import (
    BODY,
    SMALL,
    Column,
    Row,
    heading,
    lacking_note,
    paragraph,
    render,
    section,
    table,
    title_block,
)
from compliance.documents.trace_packet import (
    FORWARD,
    TraceCustomer,
    TraceLot,
    TracePacket,
)

WIDTH, HEIGHT = 180 * mm, 165 * mm
# The letters of the picture, in points: smaller ones are not read on paper.
LARGEST, SMALLEST = 7.5, 4.6
# As many steps as a page can hold with such letters.
FARTHEST = 12

_HEADS = {
    LotKind.INGREDIENT: "Ingredients and packaging",
    LotKind.PREPARATION: "Preparations",
    LotKind.CULTURE: "Cultures",
    LotKind.BREW: "Brews",
    LotKind.BATCH: "Batches",
    LotKind.BOTTLING: "Bottling lots",
}
_MANY = {
    LotKind.INGREDIENT: "ingredients",
    LotKind.PREPARATION: "preparations",
    LotKind.CULTURE: "cultures",
    LotKind.BREW: "brews",
    LotKind.BATCH: "batches",
    LotKind.BOTTLING: "bottlings",
}
BEFORE = "DRAWN BEFORE"
BEFORE_EXPLAINED = (
    "DRAWN BEFORE: the record shows that it was drawn before the material came in. It stays in "
    "the scope; narrow the scope only after checking the two times given."
)


def trace_sheet(packet: TracePacket, paper: str = "a4") -> bytes:
    """The PDF of the sheet. `paper` is `a4` or `letter`."""
    packet = as_read(packet)
    parts = (_top(packet), _picture(packet), *_tables(packet), _customers(packet))
    return render(packet.head, list(chain.from_iterable(parts)), paper)


def _top(packet: TracePacket) -> list[Flowable]:
    asked = "Where it went" if packet.direction == FORWARD else "What it was made from"
    lines = [packet.description[:1].upper() + packet.description[1:], asked]
    found = title_block(packet.code, lines, packet.head.state, symbol_of(packet.code))
    found += [paragraph(f"Kept back: {words}", BODY) for words in packet.blocks]
    found.append(Spacer(1, 4))
    found.append(paragraph(counted(packet), BODY))
    if any(lot.before for lot in packet.lots):
        found.append(paragraph(BEFORE_EXPLAINED, SMALL))
    return [*found, *lacking_note(packet.to_json())]


def counted(packet: TracePacket) -> str:
    """How many lots of each kind, besides the lot itself, and how many customers."""
    kinds = []
    for kind in LotKind:
        count = sum(1 for lot in packet.of_kind(kind) if lot.code != packet.code)
        kinds += [f"{count} {kind.label if count == 1 else _MANY[kind]}"] if count else []
    lots = ", ".join(kinds) if kinds else "no other lot"
    way = "Made from it" if packet.direction == FORWARD else "Made from"
    if packet.direction != FORWARD:
        return f"{way}: {lots}."
    count = len(packet.customers)
    return f"{way}: {lots}. Customers: {count or 'none'}."


def _tables(packet: TracePacket) -> list[list[Flowable]]:
    found = []
    for kind in LotKind:
        lots = packet.of_kind(kind)
        if lots:
            found.append(section(_HEADS[kind], _lot_table(packet, lots)))
    return found


def _lot_table(packet: TracePacket, lots: list[TraceLot]) -> Flowable:
    forward = packet.direction == FORWARD
    columns = [
        Column("Lot", 17),
        Column("What it is", 28),
        Column("Began", 17),
        Column("Made", 10, right=True),
        Column(f"Of {packet.code} in it" if forward else f"Of it in {packet.code}", 28, right=True),
        Column("Uses away", 9, right=True),
    ]
    return table(columns, [_lot_row(packet, lot) for lot in lots], "")


def _lot_row(packet: TracePacket, lot: TraceLot) -> Row:
    below = [words for words in (lot.fate, lot.source) if words]
    below += [f"{BEFORE}: {words}" for words in lot.before]
    away = "the lot" if lot.code == packet.code else str(lot.distance)
    cells = (lot.code, lot.what, lot.when, lot.made, lot.part, away)
    return Row(cells, below=below, is_bold=lot.code == packet.code)


def _customers(packet: TracePacket) -> list[Flowable]:
    if packet.direction != FORWARD:
        return []
    none = "Nothing made from it has been shipped."
    return section("Customers", customer_table(packet.customers, none))


def customer_table(customers: tuple[TraceCustomer, ...], none: str) -> Flowable:
    """Customers with contact, and each lot they had with quantity, dates and shipments."""
    columns = [
        Column("Customer", 30),
        Column("Lot", 15),
        Column("Sent", 9, right=True),
        Column("Brought back", 13, right=True),
        Column("When", 20),
        Column("Shipments", 25),
    ]
    rows = []
    for customer in customers:
        if not customer.lots:
            rows.append(Row((customer.name, "", "", "", "", ""), (customer.contact,)))
        for number, lot in enumerate(customer.lots):
            below = [customer.contact] if number == 0 else []
            below += [BEFORE] if lot.drawn_before else []
            # The name stands in every row: a group may go on over the page.
            cells = (lot.code, lot.quantity, lot.returned, lot.dates, lot.shipments)
            rows.append(Row((customer.name, *cells), below))
    return table(columns, rows, none)


# The picture -----------------------------------------------------------------------------


def _picture(packet: TracePacket) -> list[Flowable]:
    if len(packet.lots) < 2:
        return []
    found = trace_drawing(packet)
    if found is None:
        words = (
            f"The way of these {len(packet.lots)} lots is too wide for a picture on one page; the "
            "tables below hold every one of them."
        )
        return section("The way it went", paragraph(words, SMALL))
    drawing, drawn = found
    parts: list[Flowable] = [*heading("The way it went", drawing.height + 22 * mm)]
    if drawn < len(packet.lots):
        words = f"The nearest {drawn} of {len(packet.lots)} lots; the tables below hold all."
        parts.append(paragraph(words, SMALL))
    return [*parts, drawing]


def trace_drawing(packet: TracePacket) -> tuple[Drawing, int] | None:
    """The nearest lots and what each gave the next, across or down, and how many are drawn.

    None where not even the lot's neighbours fit a page.
    """
    farthest = steps_drawn((lot.distance for lot in packet.lots), FARTHEST)
    for steps in range(farthest, 0, -1):
        near = [lot for lot in packet.lots if lot.distance <= steps]
        size, web = max(_laid_out(near, packet), key=lambda each: each[0])
        if size >= SMALLEST:
            return draw_web(web, size), len(near)
    return None


def _laid_out(lots: list[TraceLot], packet: TracePacket) -> Iterator[tuple[float, Web]]:
    """The web both ways, each with the largest letters in which it fits the page."""
    codes = {lot.code for lot in lots}
    joins = (Join(*edge) for edge in packet.edges if codes.issuperset(edge[:2]))
    boxes = (_box(lot, lot.code == packet.code) for lot in lots)
    across = Web("The way it went", tuple(boxes), tuple(joins))
    for web in (across, replace(across, is_down=True)):
        width, height = web_size(web, 1.0)
        yield min(LARGEST, WIDTH / width, HEIGHT / height), web


def _box(lot: TraceLot, is_asked: bool) -> Box:
    words = f"{lot.kind}, before" if lot.before else lot.kind
    return Box(lot.code, lot.code, words, is_asked=is_asked, is_faint=bool(lot.before))
