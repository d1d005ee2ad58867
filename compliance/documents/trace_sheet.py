"""The trace sheet: where a lot went and who has it, or what it was made from."""

from __future__ import annotations

from itertools import chain

from reportlab.graphics.shapes import Drawing, Path, Rect, String
from reportlab.lib.colors import white
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer

from brewlog.charts.layers import Layout, layered
from brewlog.fonts import BOLD, REGULAR, printable, use_fonts, width_of
from brewlog.models import LotKind
from compliance.documents.lot_sheet import symbol_of
from compliance.documents.page import (
    ACCENT,
    BODY,
    INK,
    SMALL,
    SOFT,
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

MOST_LOTS = 60
MOST_LAYERS = 9
MOST_IN_LAYER = 34
WIDTH = 180 * mm
ROW = 7.2 * mm

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
        Column("What it is", 30),
        Column("Began", 18),
        Column("Made", 13, right=True),
        Column(f"Of {packet.code} in it" if forward else f"Of it in {packet.code}", 22, right=True),
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
    drawing = trace_drawing(packet)
    if drawing is None:
        words = (
            f"The way of these {len(packet.lots)} lots is too long or too wide for a picture on "
            "one page; the tables below hold every one of them."
        )
        return section("The way it went", paragraph(words, SMALL))
    return [*heading("The way it went", drawing.height + 16 * mm), drawing]


def trace_drawing(packet: TracePacket) -> Drawing | None:
    """The lots in layers from left to right; None where they do not fit one page."""
    if len(packet.lots) > MOST_LOTS:
        return None
    layout = layered([lot.code for lot in packet.lots], packet.edges)
    if len(layout.layers) > MOST_LAYERS or layout.depth > MOST_IN_LAYER:
        return None
    use_fonts()
    drawing = Drawing(WIDTH, layout.depth * ROW + 2)
    box = min(WIDTH / len(layout.layers) * 0.72, 30 * mm)
    for path in layout.paths.values():
        drawing.add(_line(path, layout, box, drawing.height))
    for lot in packet.lots:
        layer, position = layout.place[lot.code]
        x = _x(layer, layout, box)
        y = drawing.height / 2 - position * ROW
        for part in _box(lot, lot.code == packet.code, x, y, box):
            drawing.add(part)
    return drawing


def _x(layer: int, layout: Layout, box: float) -> float:
    """The left of a layer's boxes: the outer layers stand at the margins."""
    last = len(layout.layers) - 1
    return layer * (WIDTH - box) / last if last else 0


def _line(path: tuple[tuple[int, float], ...], layout: Layout, box: float, height: float) -> Path:
    line = Path(strokeColor=SOFT, strokeWidth=0.5, fillColor=None)
    points = []
    for layer, position in path:
        left = _x(layer, layout, box)
        points.append((left, left + box, height / 2 - position * ROW))
    line.moveTo(points[0][1], points[0][2])
    for number in range(1, len(points)):
        from_x, from_y = points[number - 1][1], points[number - 1][2]
        to_x, to_right, to_y = points[number]
        middle = (from_x + to_x) / 2
        line.curveTo(middle, from_y, middle, to_y, to_x, to_y)
        if number < len(points) - 1:
            line.lineTo(to_right, to_y)
    return line


def _box(lot: TraceLot, is_asked: bool, x: float, y: float, width: float) -> list:
    height = ROW - 1.4 * mm
    outline = ACCENT if is_asked else (SOFT if lot.before else INK)
    rect = Rect(x, y - height / 2, width, height, fillColor=white, strokeColor=outline)
    rect.strokeWidth = 1.4 if is_asked else 0.5
    rect.strokeDashArray = [1.5, 1.5] if lot.before else None
    code = _fitted(printable(lot.code), BOLD, 7, width - 4)
    words = f"{lot.kind}, before" if lot.before else lot.kind
    return [
        rect,
        String(x + width / 2, y + 0.5, code, fontName=BOLD, fontSize=7, textAnchor="middle"),
        String(
            x + width / 2, y - 5.6, words, fontName=REGULAR, fontSize=5.4, textAnchor="middle",
            fillColor=SOFT,
        ),
    ]  # fmt: skip


def _fitted(words: str, font: str, size: float, room: float) -> str:
    if width_of(words, font, size) <= room:
        return words
    while words and width_of(words + "…", font, size) > room:
        words = words[:-1]
    return words + "…"
