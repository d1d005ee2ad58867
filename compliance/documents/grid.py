"""A table of any length, laid out band by band as its pages come.

Most cells hold a few words: they are drawn as they are. Only one that must be broken over
lines is made a paragraph. Each band is made once, so that the work grows as the rows do.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from weakref import WeakKeyDictionary

from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfdoc import PDFDocument
from reportlab.pdfbase.pdfmetrics import getFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.textobject import PDFTextObject
from reportlab.platypus import Flowable

from brewlog.charts.ink import ACCENT, HAIR
from brewlog.fonts import is_plain, pieces_of, printable, width_of
from compliance.documents.prose import Prose, write_pieces

# Between a cell and the one to its right.
_GAP, _GAP_AFTER_FIGURES = 5, 12
_ABOVE, _BENEATH, _BEFORE_BELOW = 1.8, 2, 0.5
# A row higher than this may go on over the page.
_WHOLE = 100 * mm


@dataclass(frozen=True)
class Band:
    """What stands side by side: a row's cells, or one line across beneath them. `ends_row` is
    whether a hairline follows, and `marked_up` makes a paragraph's text of a cell's."""

    cells: Sequence[str]
    styles: Sequence[ParagraphStyle]
    starts_row: bool
    ends_row: bool
    marked_up: Callable[[object, str], str]
    is_plain: bool = True


@dataclass(frozen=True)
class _Laid:
    """A band as it is drawn: its height, and each cell as words of one line or a paragraph."""

    height: float
    above: float
    cells: Sequence[str | Prose]


class Bands:
    """The bands of a table, each laid out when a page first needs it."""

    def __init__(self, head: Band, body: Sequence[Band], shares: Sequence[float]) -> None:
        self.head, self.body, self.shares = head, body, shares
        self._laid: dict[int, _Laid] = {}
        self._for_width = 0.0
        self._head_laid: _Laid | None = None

    def use_width(self, width: float) -> None:
        """Lay out for a column so wide."""
        if width == self._for_width:
            return
        self._for_width = width
        self._laid.clear()
        self.widths = [width * share for share in self.shares]
        figures = [style.alignment == TA_RIGHT for style in self.head.styles]
        gaps = [_GAP_AFTER_FIGURES if right else _GAP for right in figures]
        gaps[-1] = 0
        self.rooms = [w - gap for w, gap in zip(self.widths, gaps, strict=True)]
        self.lefts = [sum(self.widths[:place]) for place in range(len(self.widths))]
        self._head_laid = self._lay(self.head, _ABOVE, _BENEATH)

    @property
    def head_laid(self) -> _Laid:
        assert self._head_laid is not None
        return self._head_laid

    def laid(self, number: int) -> _Laid:
        """The band of that number, laid out."""
        if number not in self._laid:
            band = self.body[number]
            above = 0 if len(band.cells) < len(self.widths) else _ABOVE
            after = _BENEATH if band.ends_row or self.body[number + 1].starts_row else _BEFORE_BELOW
            self._laid[number] = self._lay(band, above, after)
        return self._laid[number]

    def forget(self, number: int) -> None:
        """The band is drawn and not needed again."""
        self._laid.pop(number, None)

    def _lay(self, band: Band, above: float, beneath: float) -> _Laid:
        across = len(band.cells) < len(self.widths)
        rooms = [sum(self.widths)] if across else self.rooms
        cells: list[str | Prose] = []
        height = 0.0
        for value, style, room in zip(band.cells, band.styles, rooms, strict=True):
            words = _one_line(value)
            room -= style.leftIndent
            if band.is_plain and "\n" not in value and _width(words, style) <= room:
                cells.append(words)
                height = max(height, style.leading)
            else:
                cell = Prose(band.marked_up(value, style.fontName), style)
                height = max(height, cell.wrap(room + style.leftIndent, 0)[1])
                cells.append(cell)
        return _Laid(height + above + beneath, above, cells)

    def row_from(self, number: int) -> int:
        """Where the row that goes on at that band ends."""
        while not self.body[number].ends_row:
            number += 1
        return number + 1


@lru_cache(maxsize=16_384)
def _one_line(value: str) -> str:
    return printable(" ".join(value.split()))


@lru_cache(maxsize=4096)
def _width_in(words: str, font: str, size: float) -> float:
    return width_of(words, font, size)


def _width(words: str, style: ParagraphStyle) -> float:
    return _width_in(words, style.fontName, style.fontSize)


class Grid(Flowable):
    """The bands of a table from `first` up to `last`, under the table's heads."""

    def __init__(self, bands: Bands, share: float, first: int = 0, last: int | None = None) -> None:
        super().__init__()
        self._bands, self._share = bands, share
        self._first = first
        self._last = len(bands.body) if last is None else last

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self._bands.use_width(width * self._share)
        self.width = width * self._share
        self.height = self._bands.head_laid.height
        for number in range(self._first, self._last):
            self.height += self._bands.laid(number).height
            if self.height > height:
                break  # Higher than there is room for: how much higher nobody asks.
        return self.width, self.height

    def split(self, width: float, height: float) -> list[Flowable]:
        self._bands.use_width(width * self._share)
        at = self._kept_company(self._break(height - self._bands.head_laid.height))
        if at == self._first:
            return []
        if at == self._last:
            return [self]
        there = Grid(self._bands, self._share, self._first, at)
        return [there, Grid(self._bands, self._share, at, self._last)]

    def _break(self, room: float) -> int:
        """The first band that goes on the next page: rows stay whole, but for very high ones."""
        at = self._first
        while at < self._last:
            after = self._bands.row_from(at)
            needs = sum(self._bands.laid(number).height for number in range(at, after))
            if needs > room and needs > _WHOLE:
                after = at + 1
                needs = self._bands.laid(at).height
            if needs > room:
                return at
            room -= needs
            at = after
        return at

    def _kept_company(self, at: int) -> int:
        """The same place, or a row before it where the last row would stand alone on a page."""
        is_last = at < self._last and self._bands.row_from(at) == self._last
        if not (is_last and self._bands.body[at].starts_row):
            return at
        before = at - 1
        while before > self._first and not self._bands.body[before].starts_row:
            before -= 1
        return before if before > self._first else at

    def draw(self) -> None:
        y = self.height - self._bands.head_laid.height
        ink = _Ink(self.canv, self._bands)
        ink.head(self._bands.head, self._bands.head_laid, self.height)
        rules = []
        for number in range(self._first, self._last):
            band, laid = self._bands.body[number], self._bands.laid(number)
            ink.band(band, laid, y)
            y -= laid.height
            if band.ends_row:
                rules.append(y)
            self._bands.forget(number)
        ink.finish()
        top = self.height - self._bands.head_laid.height
        self._rule([top], 0.8, ACCENT)
        self._rule(rules, 0.25, HAIR)

    def _rule(self, heights: list[float], weight: float, colour: HexColor) -> None:
        """A line across at each of the heights."""
        if not heights:
            return
        self.canv.setLineWidth(weight)
        self.canv.setStrokeColor(colour)
        lines = (f"0 {y:.2f} m {self.width:.2f} {y:.2f} l" for y in heights)
        self.canv._code.append(f"n {' '.join(lines)} S")


class _Lines(PDFTextObject):
    """Writes words where it is told to.

    The library works out again for every word how the page is to be told of it, and the same few
    thousand words stand in a table over and over: what was found for each is kept by the paper.
    Places are to a hundredth of a point: nothing printed is as fine.
    """

    def __init__(self, canvas: Canvas) -> None:
        super().__init__(canvas)
        self._style: ParagraphStyle | None = None
        self._curSubset = -1
        self._known = _KNOWN.setdefault(canvas._doc, {})

    def write(self, words: str, style: ParagraphStyle, left: float, base: float) -> None:
        if style is not self._style:
            self._take(style)
        self._code.append(f"1 0 0 1 {left:.2f} {base:.2f} Tm")
        for subset, operator in self._operators(words, style.fontName):
            if subset != self._curSubset:
                self._curSubset = subset
                name = getFont(style.fontName).getSubsetInternalName(subset, self._canvas._doc)
                self._code.append(f"{name} {style.fontSize:g} Tf")
            self._code.append(operator)

    def _take(self, style: ParagraphStyle) -> None:
        """Go on in that style. Figures stand to the right and words to the left in the same
        letters: nothing is said of those again."""
        before, self._style = self._style, style
        if before is None or before.textColor is not style.textColor:
            self._code.append(_colour(style.textColor))
        is_same = before is not None and before.fontName == style.fontName
        if before is None or not is_same or before.fontSize != style.fontSize:
            self._curSubset = -1

    def write_in_fonts(self, words: str, style: ParagraphStyle, left: float, base: float) -> None:
        """Words with letters of other families; what they leave behind is set anew."""
        self._style = None
        self.setFillColor(style.textColor)
        self.setTextOrigin(left, base)
        write_pieces(self, pieces_of(words, style.fontName), style.fontSize)

    def _operators(self, words: str, font: str) -> list[tuple[int, str]]:
        """What writes the words, in parts of one subset of the font each."""
        key = (words, font)
        if key not in self._known:
            parts = getFont(font).splitString(words, self._canvas._doc)
            escaped = ((subset, self._canvas._escape(part)) for subset, part in parts)
            self._known[key] = [(subset, f"({part}) Tj") for subset, part in escaped]
        return self._known[key]


@lru_cache(maxsize=32)
def _colour(colour: HexColor) -> str:
    return f"{colour.red:.4f} {colour.green:.4f} {colour.blue:.4f} rg"


# By paper: which letter is which code of a subset is decided for each of them.
_Operators = dict[tuple[str, str], list[tuple[int, str]]]
_KNOWN: WeakKeyDictionary[PDFDocument, _Operators] = WeakKeyDictionary()


class _Ink:
    """Writes the cells of a page: lines into one text object, paragraphs where they stand."""

    def __init__(self, canvas: Canvas, bands: Bands) -> None:
        self._canvas, self._bands = canvas, bands
        self._lines = _Lines(canvas)

    def head(self, band: Band, laid: _Laid, top: float) -> None:
        """The heads of the columns, on the line above the rule."""
        self._cells(band, laid, top, at_foot=True)

    def band(self, band: Band, laid: _Laid, top: float) -> None:
        self._cells(band, laid, top, at_foot=False)

    def finish(self) -> None:
        self._canvas.drawText(self._lines)

    def _cells(self, band: Band, laid: _Laid, top: float, at_foot: bool) -> None:
        for place, (cell, style) in enumerate(zip(laid.cells, band.styles, strict=True)):
            left = self._bands.lefts[place]
            height = style.leading if isinstance(cell, str) else cell.height
            y = top - laid.height + _BENEATH + height if at_foot else top - laid.above
            if not isinstance(cell, str):
                self.finish()
                cell.drawOn(self._canvas, left, y - height)
                self._lines = _Lines(self._canvas)
            elif cell:
                self._line(cell, style, left, self._bands.rooms[place], y)

    def _line(self, words: str, style: ParagraphStyle, left: float, room: float, y: float) -> None:
        left += room - _width(words, style) if style.alignment == TA_RIGHT else style.leftIndent
        base = y - style.fontSize  # Where a paragraph's first line stands, too.
        if is_plain(words):
            self._lines.write(words, style, left, base)
        else:
            self._lines.write_in_fonts(words, style, left, base)
