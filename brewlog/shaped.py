"""Fonts whose letters are put together before they are drawn: Devanagari.

In it letters are joined, put before the one they follow, and set over and under it, by rules that
the font keeps (OpenType GSUB and GPOS). HarfBuzz applies them, as browsers do; reportlab draws what
comes of it. Words copied out of the PDF have other letters where some were joined to one shape: the
record itself, and the JSON of a packet, have them as they were typed.
"""

from __future__ import annotations

import io

from reportlab.lib.abag import ABag
from reportlab.pdfbase.pdfmetrics import getFont
from reportlab.pdfbase.ttfonts import ShapedStr, TTFont, shapeFragWord
from reportlab.pdfgen.textobject import PDFTextObject


class ShapedFont(TTFont):
    """A font that puts its letters together: its widths are those of what is drawn."""

    def __init__(self, name: str, file: io.BytesIO) -> None:
        super().__init__(name, file)
        # The library takes fonts of one face for one font: this is not the plain one.
        self.face.name += b"-Shaped"
        self._known: dict[str, ShapedStr] = {}
        self._name_shapes()

    def _name_shapes(self) -> None:
        """Give each shape that is no letter of its own a code, in the font's order. The library
        would number them as they come up: the same paper would not have the same bytes."""
        font = self.hbFont()
        for glyph in range(self.face.numGlyphs):
            if glyph not in self.face.glyphToChar:
                advance = font.get_glyph_h_advance(glyph)
                self.hbAddPrivate(font.glyph_to_string(glyph), glyph, advance)

    def shaped(self, text: str) -> ShapedStr:
        """The shapes of a text, each with its place."""
        if text not in self._known:
            if len(self._known) > _MOST_KNOWN:
                self._known.clear()
            word = [0, (ABag(fontName=self.fontName, fontSize=10), text)]
            self._known[text] = shapeFragWord(word, features={}, force=True)[1][1]
        return self._known[text]

    def stringWidth(self, text: str, size: float, encoding: str = "utf8") -> float:  # noqa: N802
        """The width of the text in points, as it is drawn."""
        if not text:
            return 0.0
        shapes = text if isinstance(text, ShapedStr) else self.shaped(text)
        return sum(each.x_advance for each in shapes.__shapeData__) * size / 1000


_MOST_KNOWN = 8192


def in_shapes(text: str, font: str) -> str:
    """A text as its font draws it: put together where it is a `ShapedFont`."""
    known = getFont(font)
    return known.shaped(text) if text and isinstance(known, ShapedFont) else text


class ShapedText(PDFTextObject):
    """A text object that puts together what it is told to write in a `ShapedFont`."""

    def _formatText(self, text: str) -> str:  # noqa: N802 reportlab's name
        return super()._formatText(in_shapes(text, self._fontname))
