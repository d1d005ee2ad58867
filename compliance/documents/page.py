"""The page kit of all papers: size, running lines, headings, pairs, tables, signatures.

A paper is a list of these parts given to `render`. Black, hairlines and one accent; a
state is always a word. The same parts give the same bytes.
"""

from __future__ import annotations

import io
import operator
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial

from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    PageTemplate,
    Spacer,
    Table,
)

from brewlog.charts.ink import ACCENT, HAIR, INK, SOFT
from brewlog.fonts import BOLD, ITALIC, REGULAR, lacking, printable, use_fonts, width_of
from brewlog.logo import logo_within
from brewlog.scripts import is_from_right
from compliance.documents.as_read import read
from compliance.documents.grid import Band, Bands, Grid
from compliance.documents.logo import draw_logo
from compliance.documents.prose import Prose, draw_line, marked_up

PAPERS = {"a4": A4, "letter": LETTER}
SIDE, TOP, BOTTOM = 15 * mm, 19 * mm, 17 * mm


def _style(name: str, **settings: object) -> ParagraphStyle:
    plain = {"fontName": REGULAR, "fontSize": 9, "leading": 11.4, "textColor": INK}
    return ParagraphStyle(name, **{**plain, **settings})


BODY = _style("body")
BOLD_BODY = _style("bold-body", fontName=BOLD)
SMALL = _style("small", fontSize=8, leading=10, textColor=SOFT)
CELL = _style("cell", fontSize=8.5, leading=10.4)
CELL_RIGHT = _style("cell-right", fontSize=8.5, leading=10.4, alignment=TA_RIGHT)
BOLD_CELL = _style("bold-cell", fontName=BOLD, fontSize=8.5, leading=10.4)
BOLD_CELL_RIGHT = _style("bold-cell-right", fontName=BOLD, fontSize=8.5, leading=10.4,
                         alignment=TA_RIGHT)  # fmt: skip
BELOW = _style("below", fontSize=8, leading=9.8, textColor=SOFT, leftIndent=3 * mm)
COLUMN = _style("column", fontName=BOLD, fontSize=7.6, leading=9, textColor=ACCENT)
COLUMN_RIGHT = _style("column-right", parent=COLUMN, fontName=BOLD, fontSize=7.6, leading=9,
                      textColor=ACCENT, alignment=TA_RIGHT)  # fmt: skip
LABEL = _style("label", fontSize=8, leading=10.4, textColor=SOFT)
HEADING = _style("heading", fontName=BOLD, fontSize=11, leading=13, spaceBefore=11, spaceAfter=2.5)
TITLE = _style("title", fontName=BOLD, fontSize=23, leading=28)
SUBTITLE = _style("subtitle", fontSize=11, leading=14)
STATE = _style("state", fontName=BOLD, fontSize=10, leading=12.5)
EMPTY = _style("empty", fontName=ITALIC, fontSize=8.5, leading=11, textColor=SOFT)


def styled(name: str, *, size: float, colour: HexColor = INK, bold: bool = False) -> ParagraphStyle:
    """A style for one paper's own need."""
    font = BOLD if bold else REGULAR
    return _style(name, fontName=font, fontSize=size, leading=size * 1.25, textColor=colour)


@dataclass(frozen=True)
class Head:
    """What every page says: whose paper it is, of what, in which state, printed when by whom.

    `printed_at` and all times of a packet are text in the brewery's zone, `time_zone`. In which
    order they are read, and in which unit temperatures, stands in the last two (`as_read`).
    """

    brewery: str
    address: str
    time_zone: str
    title: str
    subject: str
    state: str
    printed_at: str
    printed_by: str
    # The name of the file that is kept of it; '' where there is none.
    logo: str = ""
    day_first: bool = True
    is_us: bool = False

    @property
    def printed(self) -> str:
        """When, on whose clock, by whom."""
        return f"{read(self.printed_at, self)} ({self.time_zone}) by {self.printed_by}"


def struck(value: object, font: str = REGULAR) -> str:
    """Crossed out, still to be read."""
    shown = marked_up(value, font)
    return f"<strike>{shown}</strike>" if shown else ""


def paragraph(value: object, style: ParagraphStyle = BODY) -> Prose:
    return Prose(marked_up(value, style.fontName), style)


class Heading(Prose):
    """A section's heading, which a reader of the file finds among its bookmarks."""

    def __init__(self, said: str) -> None:
        super().__init__(marked_up(said, BOLD), HEADING)
        self._said = said

    def draw(self) -> None:
        self.canv.bookmark(self._said)
        super().draw()


def heading(value: str, needs: float = 28 * mm) -> list[Flowable]:
    """A section's heading, never left alone at the foot of a page."""
    return [CondPageBreak(needs), Heading(value)]


def lacking_note(words: str) -> list[Flowable]:
    """What stands on a paper whose words have letters that its type has not; else nothing."""
    if not lacking(words):
        return []
    told = (
        "\N{BALLOT BOX} stands for a letter that the type of this paper lacks (Thai, Bengali "
        "and others are not in it): the record itself has them."
    )
    return [paragraph(told, SMALL)]


def empty(words: str) -> Prose:
    """What stands where nothing was recorded."""
    return paragraph(words, EMPTY)


class _Rule(Flowable):
    """A line across the column."""

    def __init__(self, weight: float, colour: HexColor) -> None:
        super().__init__()
        self.weight, self.colour = weight, colour

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.width = width
        return width, self.weight + 2

    def draw(self) -> None:
        self.canv.setStrokeColor(self.colour)
        self.canv.setLineWidth(self.weight)
        self.canv.line(0, 1, self.width, 1)


def title_block(
    title: str, lines: Sequence[str], state: str, aside: Flowable | None = None
) -> list[Flowable]:
    """The top of the first page: a large name, what it is, its state, and a barcode beside."""
    left = [paragraph(title, TITLE), *(paragraph(line, SUBTITLE) for line in lines)]
    left += [Spacer(1, 3), paragraph(f"State: {state}", STATE)]
    if aside is None:
        return [*left, Spacer(1, 3), _Rule(1.2, ACCENT)]
    side_width, _ = aside.wrap(0, 0)
    block = Table([[left, aside]], colWidths=["*", side_width + 4 * mm], hAlign="LEFT")
    block.setStyle(
        [
            ("VALIGN", (0, 0), (0, 0), "TOP"),
            ("VALIGN", (1, 0), (1, 0), "TOP"),
            ("ALIGN", (1, 0), (1, 0), "RIGHT"),
            *_PADLESS,
        ]
    )
    return [block, Spacer(1, 3), _Rule(1.2, ACCENT)]


_PADLESS = [
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
]


@dataclass(frozen=True)
class Pair:
    """A name and its value. An empty value is printed as a dash: asked for, not recorded."""

    label: str
    value: str


# A longer value goes across the page under the pairs, where it can break over pages.
_LONG_VALUE = 300


def pairs(items: Sequence[Pair]) -> list[Flowable]:
    """Names and values in two columns, read down the left one first."""
    short = [item for item in items if len(item.value) <= _LONG_VALUE]
    long = [item for item in items if len(item.value) > _LONG_VALUE]
    across = [part for item in long for part in _across(item)]
    return [*([_pair_block(short)] if short else []), *across]


def _across(item: Pair) -> list[Flowable]:
    """A long value in pieces: one paragraph of many pages would be broken anew for each."""
    first, *more = _pieces(item.value, _LETTERS_ACROSS)
    if is_from_right(first):
        return [paragraph(item.label, LABEL), *(paragraph(each, CELL) for each in (first, *more))]
    label = f'<font color="#5a5a5a">{marked_up(item.label)}</font>'
    return [Prose(f"{label} {marked_up(first)}", CELL), *(paragraph(each, CELL) for each in more)]


def _pair_block(items: Sequence[Pair]) -> Flowable:
    half = (len(items) + 1) // 2
    rows = []
    for number in range(half):
        row: list[Prose | str] = []
        for item in items[number::half][:2]:
            row += [paragraph(item.label, LABEL), paragraph(item.value or "–", CELL)]
        rows.append([*row, *[""] * (4 - len(row))])
    block = Table(rows, colWidths=["18%", "32%", "18%", "32%"])
    block.setStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), 8),
            ("TOPPADDING", (0, 0), (-1, -1), 1.4),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1.4),
            ("LINEBELOW", (0, 0), (1, -1), 0.25, HAIR),
            ("LINEBELOW", (2, 0), (3, -1), 0.25, HAIR),
        ]
    )
    return block


@dataclass(frozen=True)
class Column:
    """A column of a table: its head, its share of the width, and where figures stand."""

    head: str
    share: float
    right: bool = False


@dataclass(frozen=True)
class Row:
    """A row's cells, lines beneath it across the table, and whether it is struck out."""

    cells: Sequence[object]
    below: Sequence[str] = field(default=())
    is_struck: bool = False
    is_bold: bool = False


def table(
    columns: Sequence[Column], rows: Sequence[Row], none: str, width: float = 100
) -> Flowable:
    """A table that breaks over pages and repeats its heads; `none` in words where it is empty.

    `width` is in per cent of the page's column.
    """
    if not rows:
        return empty(none)
    bands = [band for row in rows for band in _bands(columns, row, width)]
    total = sum(column.share for column in columns)
    shares = [column.share / total for column in columns]
    styles = [COLUMN_RIGHT if column.right else COLUMN for column in columns]
    head = Band([column.head for column in columns], styles, True, True, marked_up)
    return Grid(Bands(head, bands, shares), width / 100)


def _bands(columns: Sequence[Column], row: Row, width: float) -> list[Band]:
    """A row's cells, in pieces where they are very long, and the lines beneath them."""
    plain, right = (BOLD_CELL, BOLD_CELL_RIGHT) if row.is_bold else (CELL, CELL_RIGHT)
    styles = [right if column.right else plain for column in columns]
    pieces = _in_pieces(row.cells, _letters(columns, width))
    below = [piece for whole in row.below for piece in _pieces(whole, _LETTERS_ACROSS)]
    last = len(pieces) + len(below) - 1
    shown = struck if row.is_struck else marked_up
    return [
        *(
            Band(cells, styles, number == 0, number == last, shown, not row.is_struck)
            for number, cells in enumerate(pieces)
        ),
        *(
            Band([line], [BELOW], False, number == last, marked_up)
            for number, line in enumerate(below, start=len(pieces))
        ),
    ]


def _letters(columns: Sequence[Column], width: float) -> list[float]:
    """About how many letters stand side by side in each column."""
    total = sum(column.share for column in columns)
    return [_LETTERS_ACROSS * width / 100 * column.share / total for column in columns]


# About how many letters stand side by side across a page, and how many lines of them a row
# may hold before it goes on in another: a row cannot break over pages.
_LETTERS_ACROSS = 120
_LINES_IN_ROW = 30


def _pieces(whole: str, letters: float) -> list[str]:
    """A text in pieces of at most `_LINES_IN_ROW` lines of so many letters, cut at spaces."""
    most = max(1, int(letters)) * _LINES_IN_ROW
    found = []
    rest = whole
    while len(rest) > most:
        at = rest.rfind(" ", 0, most) + 1 or most
        found.append(rest[:at].rstrip())
        rest = rest[at:]
    return [*found, rest]


def _in_pieces(cells: Sequence[object], letters: Sequence[float]) -> list[list[str]]:
    """The cells of a row as one or more rows, none of them higher than a page."""
    words = [str(cell) for cell in cells]
    if all(map(operator.le, map(len, words), letters)):
        return [words]
    pieces = [_pieces(*each) for each in zip(words, letters, strict=True)]
    height = max(len(piece) for piece in pieces)
    return [
        [piece[number] if number < len(piece) else "" for piece in pieces]
        for number in range(height)
    ]


def section(title: str, *parts: Flowable) -> list[Flowable]:
    """A heading and what belongs under it."""
    return [*heading(title), *parts]


@dataclass(frozen=True)
class Mark:
    """A heading on its way into the bookmarks: its page, height and level, outermost 0. `head`
    is that of the pages from there on, where they bear another than the paper's."""

    page: int
    title: str
    top: float
    level: int = 0
    head: Head | None = None


class NumberedCanvas(Canvas):
    """Holds the pages back until their number is known, then writes the running lines."""

    def __init__(self, *args: object, head: Head, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self._head = head
        self._held: list[dict] = []
        self._marks: list[Mark] = []

    def bookmark(self, title: str, level: int = 0, head: Head | None = None) -> None:
        """Note a heading, its page and its height; the page itself is only made at the end."""
        _, top = self.absolutePosition(0, 14)
        self._marks.append(Mark(len(self._held) + 1, title, top, level, head))

    def showPage(self) -> None:  # noqa: N802 reportlab's name
        self._held.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        for number, page in enumerate(self._held, start=1):
            self.__dict__.update(page)
            self._finish(number, len(self._held))
            super().showPage()
        super().save()

    def _finish(self, number: int, count: int) -> None:
        """What is known of a page only when all are there."""
        for key, mark in enumerate(self._marks if count > 1 else []):
            if mark.page == number:
                self.bookmarkPage(f"heading-{key}", fit="XYZ", top=mark.top)
                self.addOutlineEntry(mark.title, f"heading-{key}", mark.level, mark.level > 0)
        self._running_lines(number, count)

    def _head_of(self, number: int) -> Head:
        heads = [mark.head for mark in self._marks if mark.head and mark.page <= number]
        return heads[-1] if heads else self._head

    def _running_lines(self, number: int, count: int) -> None:
        head = self._head_of(number)
        width, height = self._pagesize
        self.setFillColor(INK)
        indent = self._logo(head.logo, height - 13.2 * mm)
        self._line(height - 12 * mm, head.brewery, head.title, BOLD, 8.5, indent)
        self._rule(height - 14 * mm)
        self._rule(12.5 * mm)
        self.setFillColor(SOFT)
        left = f"{head.subject}, page {number} of {count}"
        right = f"state: {head.state}"
        self._line(9 * mm, left, right, BOLD, 7.8)
        self._line(5.6 * mm, f"printed {head.printed}", "", REGULAR, 7.8)

    def _rule(self, y: float) -> None:
        self.setStrokeColor(HAIR)
        self.setLineWidth(0.5)
        self.line(SIDE, y, self._pagesize[0] - SIDE, y)

    def _logo(self, name: str, bottom: float) -> float:
        """The logo over the rule at the head of the page; how much room it takes from the left."""
        width, height = logo_within(name, 32 * mm, 8 * mm)
        if not width:
            return 0.0
        draw_logo(self, name, SIDE, bottom, width, height)
        return width + 3 * mm

    def _line(
        self, y: float, left: str, right: str, font: str, size: float, indent: float = 0.0
    ) -> None:
        """A text at each margin; the left one is cut where they would meet."""
        left, right = printable(left), printable(right)
        room = self._pagesize[0] - 2 * SIDE - indent
        right = _cut(right, font, size, room * 0.6)
        left = _cut(left, font, size, room - width_of(right, font, size) - 4 * mm)
        draw_line(self, SIDE + indent, y, left, font, size)
        draw_line(self, self._pagesize[0] - SIDE, y, right, font, size, "end")


def _cut(line: str, font: str, size: float, room: float) -> str:
    if width_of(line, font, size) <= room:
        return line
    while line and width_of(line + "…", font, size) > room:
        line = line[:-1]
    return line + "…"


def render(
    head: Head,
    story: Sequence[Flowable],
    paper: str = "a4",
    canvas: type[NumberedCanvas] = NumberedCanvas,
    is_wide: bool = False,
) -> bytes:
    """The PDF of the parts, with the running lines of `head` on every page.

    `paper` is `a4` or `letter`, lying on its side where `is_wide`. Raises `KeyError` for another.
    """
    use_fonts()
    width, height = reversed(PAPERS[paper]) if is_wide else PAPERS[paper]
    buffer = io.BytesIO()
    document = BaseDocTemplate(
        buffer,
        pagesize=(width, height),
        title=f"{head.title}: {head.subject}",
        author=head.brewery,
        subject=f"{head.state}; printed {head.printed}",
        creator="brewlog",
        lang="en",
        invariant=1,
    )
    frame = Frame(SIDE, BOTTOM, width - 2 * SIDE, height - TOP - BOTTOM, 0, 0, 0, 0, id="column")
    document.addPageTemplates([PageTemplate(id="page", frames=[frame])])
    document.build(list(story), canvasmaker=partial(canvas, head=head))
    return buffer.getvalue()
