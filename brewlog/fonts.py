"""The type of papers and pictures: Source Sans Pro, and what has the letters it lacks.

Source Sans Pro (SIL Open Font License) has figures all of one width, the Latin, Greek and Cyrillic
letters, and the marks ° ± ≤ → µ ☐. FiraGO (SIL Open Font License) has the Arabic, Hebrew,
Georgian and Devanagari ones, WenQuanYi Micro Hei (Apache License 2.0, and may be embedded, as its
file says) the Chinese, Japanese and Korean ones. A letter of none of them is drawn as a box.
"""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Iterable, Sequence
from functools import cache, lru_cache
from importlib.resources import files
from itertools import groupby, pairwise

import pymupdf_fonts
from reportlab.lib.fonts import addMapping
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from brewlog.scripts import in_sight, is_from_right, joined
from brewlog.shaped import ShapedFont

REGULAR, BOLD, ITALIC = "Paper", "Paper-Bold", "Paper-Italic"
_FILES = {
    REGULAR: "SourceSansPro-Regular.ttf",
    BOLD: "SourceSansPro-Semibold.ttf",
    ITALIC: "SourceSansPro-It.ttf",
}
# Families for the letters the first lacks, in the order they are asked, each in two weights.
FURTHER, IDEOGRAPHS = "Further", "Ideographs"
# FiraGO again, for letters that are put together before they are drawn.
SHAPED = "Shaped"
_FAMILIES = (FURTHER, IDEOGRAPHS)
# Micro Hei has one weight only: as its bold it is drawn with an outline.
OUTLINED = f"{IDEOGRAPHS}-Bold"
_FIRA_GO = {
    f"{family}{weight}": name
    for family in (FURTHER, SHAPED)
    for weight, name in (("", "figo"), ("-Bold", "figbo"))
}
# Drawn for a letter that no family has, so that the gap is seen.
LACKING = "\N{BALLOT BOX}"
# Devanagari, and what keeps its letters joined or apart, which is kept behind its virama only.
_PUT_TOGETHER = re.compile("[\u0900-\u097f\u200c\u200d]")
_VIRAMA, _JOINERS = "\u094d", "\u200c\u200d"
# Bengali to Sinhala and Lao, which it lacks, and Thai, which it has: Thai is written without spaces
# between its words, and to break its lines takes a dictionary.
_NOT_BROKEN = re.compile("[\u0980-\u0eff]")


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


@cache
def _letters_of(family: str) -> frozenset[int]:
    """The letters a family has; its fonts are read when first asked for."""
    use_fonts()
    if family == REGULAR:
        return frozenset(pdfmetrics.getFont(REGULAR).face.charToGlyph)
    for name in (family, f"{family}-Bold"):
        pdfmetrics.registerFont(_read(family, name))
    for is_italic in (0, 1):
        addMapping(family, 0, is_italic, family)
        addMapping(family, 1, is_italic, f"{family}-Bold")
    return frozenset(pdfmetrics.getFont(family).face.charToGlyph)


def _read(family: str, name: str) -> TTFont:
    if name in _FIRA_GO:
        kind = ShapedFont if family == SHAPED else TTFont
        return kind(name, io.BytesIO(pymupdf_fonts.myfont(_FIRA_GO[name])))
    return TTFont(name, str(files("paperang_p2_fonts_cjk") / "fonts" / "wqy-microhei.ttc"))


@lru_cache(maxsize=8192)
def family_of(letter: str) -> str:
    """The family a letter is drawn in; '' where none has it."""
    if ord(letter) in _letters_of(REGULAR):
        return REGULAR
    if _PUT_TOGETHER.match(letter):
        return SHAPED if letter in _JOINERS or ord(letter) in _letters_of(SHAPED) else ""
    if _NOT_BROKEN.match(letter):
        return ""
    return next((each for each in _FAMILIES if ord(letter) in _letters_of(each)), "")


def _in_weight_of(font: str, family: str) -> str:
    """The font of a family that stands for one of the first."""
    if family in ("", REGULAR):
        return font
    return f"{family}-Bold" if font == BOLD else family


def is_plain(text: str) -> bool:
    """Whether the first family has all of a text, and it runs from left to right."""
    return text.isascii() or all(family_of(letter) in ("", REGULAR) for letter in text)


def in_fonts(text: str, font: str) -> list[tuple[str, str]]:
    """A printable text in pieces of one font each, in its order, `font` being the usual one."""
    if text.isascii():
        return [(font, text)]
    return [
        (_in_weight_of(font, family), "".join(letters))
        for family, letters in groupby(text, lambda each: family_of(each) or REGULAR)
    ]


def pieces_of(line: str, font: str, from_right: bool | None = None) -> list[tuple[str, str]]:
    """A printable line as it is drawn: its pieces from left to right, each with its font.

    `from_right` is how the whole text runs that it is a line of; None asks the line itself.
    """
    if is_plain(line):
        return [(font, line)]
    from_right = is_from_right(line) if from_right is None else from_right
    return in_fonts(in_sight(line, from_right), font)


def width_of(text: str, font: str, size: float) -> float:
    """The width of a line of printable text, in points."""
    use_fonts()
    if text.isascii():
        return 0.001 * size * sum(map(_ascii_widths(font).__getitem__, text.encode()))
    if is_plain(text):
        return pdfmetrics.stringWidth(text, font, size)
    return sum(pdfmetrics.stringWidth(each, named, size) for named, each in in_fonts(text, font))


@cache
def _ascii_widths(font: str) -> Sequence[int]:
    """The width of each of the first 128 letters, in thousandths of the size. The library asks
    for them letter by letter, and most that is printed is made of them."""
    face = pdfmetrics.getFont(font).face
    return [face.charWidths.get(letter, face.defaultWidth) for letter in range(128)]


def letter_height(font: str, size: float, letters: str = "") -> float:
    """The height of the small letters at that size, in points: what label rules measure.

    `letters` are those to be set: of scripts other than Latin, Greek and Cyrillic, the letter
    that is taken for the x or o is named below; which one the rules do not say.
    """
    heights = [_X_HEIGHT[font]]
    heights += [high[font == BOLD] for script, high in _SMALL_HEIGHTS if script.search(letters)]
    return min(heights) * size


# From the OS/2 tables of the files (sxHeight / unitsPerEm).
_X_HEIGHT = {REGULAR: 0.486, BOLD: 0.491, ITALIC: 0.486}
# Measured on the outlines, above the line, regular and bold: of the waw, the ka, the he, the
# Georgian an, and the mouth radical, the least high of the common ideographs.
_SMALL_HEIGHTS = (
    (re.compile("[\u0600-\u08ff\ufb50-\ufdff\ufe70-\ufeff]"), (0.390, 0.407)),
    (re.compile("[\u0900-\u097f]"), (0.689, 0.693)),
    (re.compile("[\u0590-\u05ff\ufb1d-\ufb4f]"), (0.560, 0.567)),
    (re.compile("[\u10a0-\u10ff]"), (0.527, 0.531)),
    (re.compile("[\u2e80-\u9fff\uac00-\ud7af\uf900-\ufaff]"), (0.735, 0.735)),
)


def figure_height(size: float) -> float:
    """The height of the figures at that size, in points, the same in all of the family."""
    return _FIGURE_HEIGHT * size


# Of the figure 1, measured on its outline; the others are higher by their overshoot.
_FIGURE_HEIGHT = 0.636


def lacking(text: str) -> str:
    """The letters of a text that no family has, each once, in their order."""
    each_once = "".join(dict.fromkeys(text))  # Whole packets are asked.
    return "".join(c for c in dict.fromkeys(_seen(each_once)) if c != "\n" and not _drawn(c))


def printable(text: str) -> str:
    """The text with accents composed, Arabic letters joined, control marks left out, and a box
    for each letter that no family has. Still in the order it is written."""
    use_fonts()
    if text.isascii() and text.isprintable():
        return text  # The family has all of these; most words are made of them.
    return "".join(c if c == "\n" else _drawn(c) or LACKING for c in _seen(text))


def _seen(text: str) -> Iterable[str]:
    """The letters that are drawn: no control or direction marks."""
    composed = joined(unicodedata.normalize("NFC", text))
    return (c for before, c in pairwise(f" {composed}") if _is_seen(before, c))


def _is_seen(before: str, letter: str) -> bool:
    if unicodedata.category(letter) in {"Cc", "Cf"}:
        return letter == "\n" or (before == _VIRAMA and letter in _JOINERS)
    return True


@lru_cache(maxsize=8192)
def _drawn(letter: str) -> str:
    """The letter, or where no family has a joined form, the letter it is a form of; else ''."""
    if family_of(letter):
        return letter
    plain = unicodedata.normalize("NFKC", letter) if "\ufb50" <= letter <= "\ufeff" else ""
    return plain if len(plain) == 1 and family_of(plain) else ""
