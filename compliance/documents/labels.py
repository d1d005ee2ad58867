"""Bottle labels: laid out at the smallest type the rules allow or larger, never smaller."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import inch, mm
from reportlab.pdfgen.canvas import Canvas

from brewlog.fonts import BOLD, REGULAR, letter_height, printable, use_fonts, width_of
from compliance.documents.barcodes import Symbol, code128, data_matrix, draw_symbol, qr
from compliance.documents.label_packet import LabelPacket

# The lower-case letters of what must be on a US label: 1/16 inch (21 CFR 101.2(c)); the EU
# asks 1.2 mm (Reg. 1169/2011 art. 13). The larger satisfies both.
SMALLEST_LETTER = inch / 16
LARGEST_BODY = 11.0
STEP = 0.25
LEADING = 1.16
WORDS_SIZE = 6.0
AIR = 2.0
PADDING = 4 * mm
MOST_LABELS = 2000


class LabelError(ValueError):
    """A label that cannot be laid out. The message names the line and what to do."""


@dataclass(frozen=True)
class Sheet:
    """Where labels stand on a page; all lengths in millimetres.

    Raises `LabelError` where they do not fit the page.
    """

    name: str
    page_width: float
    page_height: float
    columns: int
    rows: int
    label_width: float
    label_height: float
    left: float
    top: float
    gutter_across: float = 0.0
    gutter_down: float = 0.0

    def __post_init__(self) -> None:
        across = self.left + self.columns * (self.label_width + self.gutter_across)
        down = self.top + self.rows * (self.label_height + self.gutter_down)
        if across - self.gutter_across > self.page_width + 0.01:
            raise LabelError(f"{self.name}: the labels are wider than the page.")
        if down - self.gutter_down > self.page_height + 0.01:
            raise LabelError(f"{self.name}: the labels are higher than the page.")

    @property
    def per_page(self) -> int:
        return self.columns * self.rows

    def corner(self, place: int) -> tuple[float, float]:
        """The lower left of the label at a place of the page (0 first), in points."""
        row, column = divmod(place, self.columns)
        x = self.left + column * (self.label_width + self.gutter_across)
        y = self.top + row * (self.label_height + self.gutter_down) + self.label_height
        return x * mm, (self.page_height - y) * mm


# Common sizes of label stock (common practice).
SHEETS = {
    "a4": Sheet("A4, 2 by 4", A4[0] / mm, A4[1] / mm, 2, 4, 99.0, 67.7, 4.7, 13.0, 2.6),
    "letter": Sheet(
        "Letter, 2 by 3", LETTER[0] / mm, LETTER[1] / mm, 2, 3, 101.6, 84.6, 4.0, 12.7, 4.8
    ),
    "single": Sheet("Single label", 99.0, 67.7, 1, 1, 99.0, 67.7, 0.0, 0.0),
}
SYMBOLS = ("data_matrix", "code128", "qr")


@dataclass(frozen=True)
class Line:
    """A text of the label: what it is called in messages, its words, and its type."""

    name: str
    words: str
    font: str
    size: float


@dataclass(frozen=True)
class _Placed:
    """A line broken to the width, with where it stands: baseline from the label's top."""

    words: str
    font: str
    size: float
    below_top: float


def labels(
    packet: LabelPacket, *, count: int, start: int = 1, sheet: Sheet = SHEETS["a4"],
    symbol: str = "data_matrix",
) -> bytes:  # fmt: skip
    """The PDF of `count` labels, the first at place `start` of its sheet.

    Raises `LabelError` for a count or a place that cannot be, and where the text does not
    fit at the smallest type.
    """
    if not 1 <= count <= MOST_LABELS:
        raise LabelError(f"{count} labels: ask for 1 to {MOST_LABELS} at a time.")
    if not 1 <= start <= sheet.per_page:
        raise LabelError(f"Place {start}: a sheet of {sheet.name} has 1 to {sheet.per_page}.")
    use_fonts()
    drawn = _symbol_of(packet, symbol)
    placed = _lay_out(packet, sheet, drawn)
    buffer = io.BytesIO()
    canvas = Canvas(buffer, (sheet.page_width * mm, sheet.page_height * mm), invariant=1, lang="en")
    canvas.setTitle(f"Labels of lot {packet.lot_code}")
    canvas.setAuthor(packet.business)
    canvas.setCreator("brewlog")
    canvas.beginForm("label", 0, 0, sheet.label_width * mm, sheet.label_height * mm)
    _draw(canvas, placed, drawn, sheet)
    canvas.endForm()
    for place in range(start - 1, start - 1 + count):
        if place > start - 1 and place % sheet.per_page == 0:
            canvas.showPage()
        x, y = sheet.corner(place % sheet.per_page)
        canvas.saveState()
        canvas.translate(x, y)
        canvas.doForm("label")
        canvas.restoreState()
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


@dataclass(frozen=True)
class _Drawn:
    """The symbol, the width of its module in millimetres, and the lines under it.

    A matrix symbol stands at the lower right with the label's foot beside it; a linear one
    takes the foot's width.
    """

    symbol: Symbol
    module_mm: float
    bar_height_mm: float
    words: tuple[str, ...]

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


def _symbol_of(packet: LabelPacket, kind: str) -> _Drawn:
    if kind == "code128":
        module = 0.25 if packet.is_gs1 else 0.375
        symbol = code128(packet.symbol, gs1=packet.is_gs1)
        return _Drawn(symbol, module, 9, ("".join(packet.symbol_words),))
    if kind == "data_matrix":
        return _Drawn(data_matrix(packet.symbol, gs1=packet.is_gs1), 0.5, 0, packet.symbol_words)
    if kind == "qr":
        return _Drawn(qr(packet.symbol, gs1=packet.is_gs1), 0.5, 0, packet.symbol_words)
    raise LabelError(f"'{kind}' is not a symbol. Choose one of: {', '.join(SYMBOLS)}.")


def net_letter_height(width_mm: float, height_mm: float) -> float:
    """The least height of the net contents' letters in points, by the area of the display
    panel, for which the label stands: 21 CFR 101.7(i)."""
    area = width_mm * height_mm / 25.4**2
    if area <= 5:
        return inch / 16
    if area <= 25:
        return inch / 8
    return inch * 3 / 16 if area <= 100 else inch / 4


def _size_for(letter: float, font: str) -> float:
    """The size of type whose lower-case letters are that high."""
    return letter / letter_height(font, 1)


def lines_of(packet: LabelPacket, body: float) -> list[Line]:
    """The label's upper lines, at a size of the small type."""
    contains = ", ".join(packet.allergens)
    made_by = ", ".join(part for part in (packet.business, *packet.address.splitlines()) if part)
    ingredients = ", ".join(packet.ingredients)
    found = [
        Line("name of the food", packet.name, BOLD, max(17.0, body * 1.5)),
        Line("ingredients", f"Ingredients: {ingredients}." if ingredients else "", REGULAR, body),
        Line("allergens", f"Contains: {contains}." if contains else "", BOLD, body),
        Line("further text", packet.statement, REGULAR, body),
        Line("cautions", packet.cautions, REGULAR, body),
        Line("storage", _storage(packet), REGULAR, body),
        Line("business name and address", made_by, REGULAR, body),
    ]
    return [line for line in found if line.words.strip()]


def foot_lines_of(packet: LabelPacket, body: float, net: float, across: bool) -> list[Line]:
    """The lines at the foot: the net contents stand lowest (21 CFR 101.7(f)). `across` puts
    date and lot code side by side."""
    best = f"Best before {packet.best_before}" if packet.best_before else ""
    lot = f"Lot {packet.lot_code}"
    contents = Line("net contents", packet.net_contents, BOLD, net)
    if across:
        both = " · ".join(part for part in (best, lot) if part)
        return [Line("best before and lot code", both, BOLD, body), contents]
    dated = [Line("best before", best, BOLD, body)] if best else []
    return [*dated, Line("lot code", lot, BOLD, body), contents]


def _storage(packet: LabelPacket) -> str:
    """The storage line, unless the cautions say the same already."""
    storage = packet.storage.strip().rstrip(".")
    return "" if storage.lower() in packet.cautions.lower() else f"{storage}." if storage else ""


def _lay_out(packet: LabelPacket, sheet: Sheet, drawn: _Drawn) -> list[_Placed]:
    """The lines placed at the largest size that fits, down to the smallest allowed."""
    smallest = max(_size_for(SMALLEST_LETTER, REGULAR), _size_for(SMALLEST_LETTER, BOLD))
    net = _size_for(net_letter_height(sheet.label_width, sheet.label_height), BOLD)
    size = LARGEST_BODY
    while size > smallest:
        try:
            return _placed(packet, size, net, sheet, drawn)
        except LabelError:
            size -= STEP
    return _placed(packet, smallest, net, sheet, drawn)


def _placed(
    packet: LabelPacket, body: float, net: float, sheet: Sheet, drawn: _Drawn
) -> list[_Placed]:
    """The upper lines from the top, the foot's from the bottom: beside a matrix symbol,
    above a linear one. Raises `LabelError` naming the line that has no room."""
    width = sheet.label_width * mm - 2 * PADDING
    height = sheet.label_height * mm - 2 * PADDING
    taken = drawn.height
    if drawn.width > width or taken > height:
        raise LabelError("The barcode is larger than the label: use a larger label.")
    linear = drawn.symbol.is_linear
    foot = foot_lines_of(packet, body, net, across=linear)
    foot_width = width if linear else width - drawn.width - 2 * mm
    foot_bottom = height - taken if linear else height
    broken = _broken(foot, foot_width, sheet)
    foot_top = foot_bottom - sum(line.size * LEADING for line, _ in broken)
    upper = _broken(lines_of(packet, body), width, sheet)
    # Where the foot is short, the symbol reaches higher than its lines.
    upper_bottom = min(foot_top - AIR, foot_bottom if linear else height - taken)
    return _stack(upper, 0, upper_bottom, sheet) + _stack(broken, foot_top, foot_bottom + 1, sheet)


def _broken(lines: Sequence[Line], width: float, sheet: Sheet) -> list[tuple[Line, str]]:
    """Each line broken at its spaces to the width. Raises `LabelError` for a longer word."""
    found = []
    for line in lines:
        rest = printable(line.words).split()
        while rest:
            taken = _words_that_fit(rest, line, width)
            if not taken:
                raise _no_room(line, sheet)
            found.append((line, " ".join(rest[:taken])))
            rest = rest[taken:]
    return found


def _stack(
    broken: Sequence[tuple[Line, str]], top: float, bottom: float, sheet: Sheet
) -> list[_Placed]:
    """One under the other, with a little air before each new line of the label."""
    found: list[_Placed] = []
    y, before = top, None
    for line, words in broken:
        if before is not None and before is not line and top == 0:
            y += line.size * 0.16
        if y + line.size > bottom:
            raise _no_room(line, sheet)
        found.append(_Placed(words, line.font, line.size, y + line.size * 0.92))
        y += line.size * LEADING
        before = line
    return found


def _no_room(line: Line, sheet: Sheet) -> LabelError:
    return LabelError(
        f"There is no room for the {line.name} ('{_short(line.words)}') at {line.size:.1f} pt on "
        f"{sheet.label_width:g} × {sheet.label_height:g} mm. Shorten the text or use a larger "
        "label; the type must not be smaller."
    )


def _words_that_fit(words: Sequence[str], line: Line, room: float) -> int:
    taken = 0
    while taken < len(words):
        if width_of(" ".join(words[: taken + 1]), line.font, line.size) > room:
            break
        taken += 1
    return taken


def _short(words: str) -> str:
    return words if len(words) <= 40 else f"{words[:39]}…"


def _draw(canvas: Canvas, placed: Sequence[_Placed], drawn: _Drawn, sheet: Sheet) -> None:
    width, height = sheet.label_width * mm, sheet.label_height * mm
    canvas.setFillGray(0)
    for line in placed:
        canvas.setFont(line.font, line.size)
        canvas.drawString(PADDING, height - PADDING - line.below_top, line.words)
    own_width = drawn.symbol.width(drawn.module_mm * mm)
    left = width - PADDING - own_width
    bottom = PADDING + drawn.words_height
    draw_symbol(canvas, drawn.symbol, left, bottom, drawn.module_mm, drawn.bar_height_mm)
    canvas.setFont(REGULAR, WORDS_SIZE)
    for number, words in enumerate(drawn.words, start=1):
        below = bottom - number * WORDS_SIZE * LEADING + 1
        canvas.drawRightString(width - PADDING, below, printable(words))
