"""The one type family of papers and pictures: Source Sans Pro (SIL Open Font License).

Its figures are all of one width, and it has the Latin, Greek and Cyrillic letters that
names are written with, and the marks ° ± ≤ → µ ☐.
"""

from __future__ import annotations

import unicodedata
from functools import cache
from importlib.resources import files

from reportlab.lib.fonts import addMapping
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

REGULAR, BOLD, ITALIC = "Paper", "Paper-Bold", "Paper-Italic"
_FILES = {
    REGULAR: "SourceSansPro-Regular.ttf",
    BOLD: "SourceSansPro-Semibold.ttf",
    ITALIC: "SourceSansPro-It.ttf",
}
# Drawn for a letter the family lacks, so that the gap is seen.
_LACKING = "\N{BALLOT BOX}"


@cache
def use_fonts() -> None:
    """Make the family known to reportlab, once."""
    folder = files("font_source_sans_pro") / "files"
    for name, file in _FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    addMapping(REGULAR, 0, 0, REGULAR)
    addMapping(REGULAR, 1, 0, BOLD)
    addMapping(REGULAR, 0, 1, ITALIC)
    addMapping(REGULAR, 1, 1, BOLD)


def width_of(text: str, font: str, size: float) -> float:
    """The width of a line of text, in points."""
    use_fonts()
    return pdfmetrics.stringWidth(text, font, size)


def letter_height(font: str, size: float) -> float:
    """The height of the lower-case x at that size, in points: what label rules measure."""
    return _X_HEIGHT[font] * size


# From the OS/2 tables of the files (sxHeight / unitsPerEm).
_X_HEIGHT = {REGULAR: 0.486, BOLD: 0.491, ITALIC: 0.486}


def figure_height(size: float) -> float:
    """The height of the figures at that size, in points, the same in all of the family."""
    return _FIGURE_HEIGHT * size


# Of the figure 1, measured on its outline; the others are higher by their overshoot.
_FIGURE_HEIGHT = 0.636


def lacking(text: str) -> str:
    """The letters of a text that the family does not have, each once, in their order."""
    shown = printable(text)
    composed = [c for c in unicodedata.normalize("NFC", text) if c == "\n" or _is_seen(c)]
    return "".join(dict.fromkeys(c for c, s in zip(composed, shown, strict=True) if c != s))


def printable(text: str) -> str:
    """The text with accents composed, control marks left out, and a box for each letter the
    family lacks."""
    use_fonts()
    if text.isascii() and text.isprintable():
        return text  # The family has all of these; most words are made of them.
    known = pdfmetrics.getFont(REGULAR).face.charToGlyph
    composed = unicodedata.normalize("NFC", text)
    seen = (c for c in composed if c == "\n" or _is_seen(c))
    return "".join(c if c == "\n" or ord(c) in known else _LACKING for c in seen)


def _is_seen(letter: str) -> bool:
    """Whether it is drawn: not a control or a direction mark."""
    return unicodedata.category(letter) not in {"Cc", "Cf"}
