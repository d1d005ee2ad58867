"""Labels on sheets and rolls, each drawn by itself: a pure function of their packets."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from brewlog.fonts import REGULAR, pieces_of, printable, use_fonts, width_of
from brewlog.logo import logo_within
from compliance.documents.barcodes import Symbol, code128, data_matrix, draw_symbol, qr
from compliance.documents.label_layout import LEADING, Box, Placed, lay_out
from compliance.documents.label_packet import LabelPacket
from compliance.documents.label_rules import Panel
from compliance.documents.logo import draw_logo
from compliance.documents.prose import draw_line, write_pieces
from compliance.label_stock import MOST_LABELS, SHEETS, LabelError, Sheet

WORDS_SIZE = 6.0
# The logo at its largest, and the room under it; and the size of type, in points, that it takes
# nothing from.
LOGO_ROOM = (36 * mm, 11 * mm)
LOGO_AIR = 1.5 * mm
EASILY_READ = 7.5
PADDING = 4 * mm
# Three dots of a printer of 203 dpi.
FINE_MODULE_MM = 0.375
SYMBOLS = {
    "data_matrix": "Data Matrix",
    "code128": "Code 128",
    "qr": "QR",
    "digital_link": "QR with an address any phone opens (needs a GTIN)",
}


def labels(
    packet: LabelPacket, *, count: int, start: int = 1, sheet: Sheet = SHEETS["a4"],
    symbol: str = "data_matrix",
) -> bytes:  # fmt: skip
    """The PDF of `count` labels alike, the first at place `start` of its sheet.

    Raises `LabelError` for a count or a place that cannot be, and where the text does not
    fit at the least size of type.
    """
    if not 1 <= count <= MOST_LABELS:
        raise LabelError(f"{count} labels: ask for 1 to {MOST_LABELS} at a time.")
    return label_run([packet] * count, start=start, sheet=sheet, symbol=symbol)


def label_run(
    packets: Sequence[LabelPacket], *, start: int = 1, sheet: Sheet = SHEETS["a4"],
    symbol: str = "data_matrix",
) -> bytes:  # fmt: skip
    """The PDF of a label for each packet, in their order; those alike are drawn once."""
    laid = {packet: lay_label(packet, panel_of(sheet), symbol) for packet in dict.fromkeys(packets)}
    return draw_run([laid[packet] for packet in packets], start=start, sheet=sheet)


def draw_run(found: Sequence[LaidLabel], *, start: int, sheet: Sheet) -> bytes:
    """The PDF of labels as they are laid out, the first at place `start` of its sheet."""
    if not 1 <= start <= sheet.per_page:
        raise LabelError(f"Place {start}: a sheet of {sheet.name} has 1 to {sheet.per_page}.")
    use_fonts()
    buffer = io.BytesIO()
    canvas = Canvas(buffer, (sheet.page_width * mm, sheet.page_height * mm), invariant=1, lang="en")
    codes = list(dict.fromkeys(each.packet.lot_code for each in found))
    more = f" and {len(codes) - 1} more" if len(codes) > 1 else ""
    canvas.setTitle(f"Labels of lot {codes[0]}{more}")
    canvas.setAuthor(found[0].packet.business)
    canvas.setCreator("brewlog")
    times = Counter(id(each) for each in found)
    forms: dict[int, str] = {}
    for place, laid in enumerate(found, start=start - 1):
        if place > start - 1 and place % sheet.per_page == 0:
            canvas.showPage()
        x, y = sheet.corner(place % sheet.per_page)
        canvas.saveState()
        canvas.translate(x * mm, y * mm)
        if times[id(laid)] == 1:
            draw_label(canvas, laid, panel_of(sheet))
        else:
            canvas.doForm(_form_of(canvas, laid, sheet, forms))
        canvas.restoreState()
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def panel_of(sheet: Sheet) -> Panel:
    """A label of the sheet, as the rules measure it."""
    return Panel(sheet.label_width, sheet.label_height)


def _form_of(canvas: Canvas, laid: LaidLabel, sheet: Sheet, forms: dict[int, str]) -> str:
    """The name of the drawing of a label that is there more than once: drawn the first time."""
    if id(laid) not in forms:
        forms[id(laid)] = f"label{len(forms)}"
        canvas.beginForm(forms[id(laid)], 0, 0, sheet.label_width * mm, sheet.label_height * mm)
        draw_label(canvas, laid, panel_of(sheet))
        canvas.endForm()
    return forms[id(laid)]


def lay_label(packet: LabelPacket, panel: Panel, symbol: str) -> LaidLabel:
    """What a label says, its lines and its symbol where they stand. Raises `LabelError`.

    The code is drawn finer before its label is refused for want of room.
    """
    drawn = _symbol_of(packet, symbol)
    try:
        placed = lay_out(packet, panel, _box(panel, drawn))
    except LabelError:
        drawn = replace(drawn, module_mm=min(drawn.module_mm, FINE_MODULE_MM))
        placed = lay_out(packet, panel, _box(panel, drawn))
    return _with_logo(LaidLabel(packet, tuple(placed), drawn), panel)


def _with_logo(laid: LaidLabel, panel: Panel) -> LaidLabel:
    """The label with the logo above its words, where they still fit at a size that is easily
    read; else as it is."""
    width, height = logo_within(laid.packet.logo, *LOGO_ROOM)
    if not height:
        return laid
    taken = height + LOGO_AIR
    box = _box(panel, laid.drawn)
    try:
        lines = lay_out(laid.packet, panel, replace(box, height=box.height - taken))
    except LabelError:
        return laid
    if _body_of(lines) < min(_body_of(laid.lines), EASILY_READ):
        return laid
    moved = tuple(replace(line, below_top=line.below_top + taken) for line in lines)
    return replace(laid, lines=moved, logo=(width, height))


def _body_of(lines: Sequence[Placed]) -> float:
    return min(line.size for line in lines)


def _box(panel: Panel, drawn: DrawnSymbol) -> Box:
    return Box(
        panel.width_mm * mm - 2 * PADDING,
        panel.height_mm * mm - 2 * PADDING,
        drawn.width,
        drawn.height,
        drawn.symbol.is_linear,
    )


@dataclass(frozen=True)
class DrawnSymbol:
    """A label's symbol: how it is made, of which text; the width of its module, and the lines
    under it.

    A matrix symbol stands at the lower right with the label's foot beside it; a linear one
    takes the foot's width.
    """

    kind: str
    text: str
    is_gs1: bool
    module_mm: float
    bar_height_mm: float
    words: tuple[str, ...]

    @property
    def symbol(self) -> Symbol:
        return _made(self.kind, self.text, self.is_gs1)

    @property
    def width(self) -> float:
        own = self.symbol.width(self.module_mm * mm)
        return max(own, *(width_of(words, REGULAR, WORDS_SIZE) for words in self.words))

    @property
    def height(self) -> float:
        own = self.symbol.height(self.module_mm * mm, self.bar_height_mm * mm)
        return own + self.words_height

    @property
    def words_height(self) -> float:
        return len(self.words) * WORDS_SIZE * LEADING + 1


@lru_cache(maxsize=16)
def _made(kind: str, text: str, is_gs1: bool) -> Symbol:
    return {"code128": code128, "data_matrix": data_matrix, "qr": qr}[kind](text, gs1=is_gs1)


def _symbol_of(packet: LabelPacket, kind: str) -> DrawnSymbol:
    carried = packet.symbol, packet.is_gs1
    if kind == "code128":
        module = 0.25 if packet.is_gs1 else 0.375
        return DrawnSymbol(kind, *carried, module, 9, ("".join(packet.symbol_words),))
    if kind == "digital_link" and packet.link:
        return DrawnSymbol("qr", packet.link, False, 0.5, 0, packet.symbol_words)
    if kind in {"qr", "digital_link"}:
        return DrawnSymbol("qr", *carried, 0.5, 0, packet.symbol_words)
    if kind == "data_matrix":
        return DrawnSymbol(kind, *carried, 0.5, 0, packet.symbol_words)
    raise LabelError(f"'{kind}' is not a symbol. Choose one of: {', '.join(SYMBOLS)}.")


@dataclass(frozen=True)
class LaidLabel:
    """A label laid out: what it says, and its lines and its symbol where they stand."""

    packet: LabelPacket
    lines: tuple[Placed, ...]
    drawn: DrawnSymbol
    # Its width and height at the upper left; nothing where there is no room for it.
    logo: tuple[float, float] | None = None


def draw_label(canvas: Canvas, laid: LaidLabel, panel: Panel) -> None:
    """One label with its lower left at the origin."""
    drawn = laid.drawn
    width, height = panel.width_mm * mm, panel.height_mm * mm
    canvas.setFillGray(0)
    if laid.logo:
        bottom = height - PADDING - laid.logo[1]
        draw_logo(canvas, laid.packet.logo, PADDING, bottom, *laid.logo)
    for line in laid.lines:
        left = width - PADDING - line.width if line.from_right else PADDING
        text = canvas.beginText(left, height - PADDING - line.below_top)
        for words, font in line.pieces:
            write_pieces(text, pieces_of(words, font, line.from_right), line.size)
        canvas.drawText(text)
    own_width = drawn.symbol.width(drawn.module_mm * mm)
    left = width - PADDING - own_width
    bottom = PADDING + drawn.words_height
    draw_symbol(canvas, drawn.symbol, left, bottom, drawn.module_mm, drawn.bar_height_mm)
    for number, words in enumerate(drawn.words, start=1):
        below = bottom - number * WORDS_SIZE * LEADING + 1
        draw_line(canvas, width - PADDING, below, printable(words), REGULAR, WORDS_SIZE, "end")
