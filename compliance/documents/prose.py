"""Words on paper, in any script: paragraphs, and single lines.

A paragraph is broken over lines in the order it is written; each line is put in the order it is
seen when it is drawn, so that what goes on over the page is broken as it would be on one.
"""

from __future__ import annotations

import re
from copy import copy
from itertools import groupby
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from brewlog.fonts import (
    BOLD,
    ITALIC,
    OUTLINED,
    REGULAR,
    in_fonts,
    is_plain,
    pieces_of,
    printable,
    width_of,
)
from brewlog.scripts import has_unspaced, in_sight, is_from_right
from brewlog.shaped import ShapedText, in_shapes
from compliance.documents.unspaced import broken, put_together

# A limit's sign stays with its figure and a figure with its unit: "≤" at the end of a line and
# "4.2" at the head of the next are read as two things.
_TOGETHER = re.compile(
    r"(?<=[<>≤≥±]) (?=\d)|(?<=\d) (?=(?:%|°[CF]|pH|[gL]|[km]g|mL|g/L|gal|lb|fl oz)(?!\w))"
)
_UNBROKEN = "\N{NO-BREAK SPACE}"


def marked_up(value: object, font: str = REGULAR) -> str:
    """Anything as a paragraph's text: escaped, its line breaks kept, figures kept with their
    units, and the fonts named for the letters that the paragraph's own font lacks."""
    words = _TOGETHER.sub(_UNBROKEN, printable(str(value)))
    if is_plain(words):
        return escape(words).replace("\n", "<br/>")
    return "".join(
        escape(piece) if named == font else f'<font face="{named}">{escape(piece)}</font>'
        for named, piece in in_fonts(words, font)
    ).replace("\n", "<br/>")


class Prose(Paragraph):
    """A paragraph whose lines may run from right to left, or have no spaces. One that runs from
    the right as a whole, and is longer than a line, is set from there."""

    blPara: Any
    style: Any
    frags: Any

    def breakLines(self, width: Any) -> Any:  # noqa: N802 reportlab's name
        if not self._is_unspaced():
            return super().breakLines(width)
        if getattr(self, "_splitpara", 0):
            return self.blPara  # the lines above the page's end, broken already
        return broken(self.frags, width if isinstance(width, list | tuple) else [width])

    def _get_split_blParaFunc(self) -> Any:  # noqa: N802 reportlab's name
        return put_together if self._is_unspaced() else super()._get_split_blParaFunc()

    def _is_unspaced(self) -> bool:
        return any(has_unspaced(getattr(frag, "text", "")) for frag in self.frags)

    def beginText(self, x: float, y: float) -> ShapedText:  # noqa: N802 reportlab's name
        return ShapedText(self.canv, x, y)

    def draw(self) -> None:
        if not is_plain(self.getPlainText(identify=False)):
            self._turn()
        super().draw()

    def _turn(self) -> None:
        """Put the letters of each line in the order they are seen. Lines are drawn once."""
        written = self.blPara
        words = " ".join(_words_of(line) for line in written.lines)
        from_right = is_from_right(words)
        self.blPara = copy(written)
        self.blPara.lines = [_turned(line, from_right) for line in written.lines]
        if from_right and len(written.lines) > 1 and self.style.alignment == TA_LEFT:
            self.style = copy(self.style)
            self.style.alignment = TA_RIGHT


def _words_of(line: Any) -> str:
    """The text of a broken line: of one font (a pair of room left and words) or of several."""
    if isinstance(line, tuple):
        return " ".join(line[1])
    return "".join(getattr(part, "text", "") for part in line.words)


def _turned(line: Any, from_right: bool) -> Any:
    if isinstance(line, tuple):
        return (line[0], [in_sight(" ".join(line[1]), from_right)])
    turned = copy(line)
    turned.words = _turned_parts(line.words, from_right)
    return turned


def _turned_parts(parts: list[Any], from_right: bool) -> list[Any]:
    """The parts of a line, those set alike but for the family turned together."""
    found = []
    for _, each in groupby(parts, _look):
        alike = list(each)
        seen = in_sight("".join(part.text for part in alike), from_right)
        fonts = {part.fontName: part for part in alike}
        usual = next((font for font in fonts if font in _USUAL), REGULAR)
        for font, piece in in_fonts(seen, usual):
            turned = copy(fonts.get(font, alike[0]))
            turned.text = piece
            found.append(turned)
    return found


_USUAL = (REGULAR, BOLD, ITALIC)


def _look(part: Any) -> tuple[object, ...]:
    """What parts set alike have in common, whatever their family."""
    return part.fontName.endswith(BOLD[-5:]), part.textColor, str(part.us_lines)


# How thick the outline is that makes a letter bold, in parts of its size.
_OUTLINE = 0.03


def draw_line(
    canvas: Canvas, x: float, y: float, line: str, font: str, size: float, anchor: str = "start"
) -> None:
    """One printable line with its start, middle or end at x, its letters standing on y."""
    room = {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
    if room:
        x -= room * width_of(line, font, size)
    text = canvas.beginText(x, y)
    write_pieces(text, pieces_of(line, font), size)
    canvas.drawText(text)


def write_pieces(text: Any, pieces: list[tuple[str, str]], size: float) -> None:
    """The pieces of a line into a text object, in their fonts."""
    for font, piece in pieces:
        text.setFont(font, size)
        if font == OUTLINED:
            text.setTextRenderMode(2)
            text._code.append(f"{size * _OUTLINE:.3f} w")
        text.textOut(in_shapes(piece, font))
        if font == OUTLINED:
            text.setTextRenderMode(0)
