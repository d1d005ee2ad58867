"""The lines of a label, and where they stand: as large as they fit, never below what is asked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache

from reportlab.lib.units import mm

from brewlog.fonts import (
    BOLD,
    REGULAR,
    figure_height,
    is_plain,
    lacking,
    letter_height,
    printable,
    width_of,
)
from brewlog.scripts import UNSPACED_BREAK, is_from_right
from compliance.documents.ingredient_list import EMPHASIS
from compliance.documents.label_packet import LabelPacket
from compliance.documents.label_rules import (
    SMALLEST_CM2,
    WARNING,
    WARNING_LEAD,
    Height,
    Market,
    Measured,
    Panel,
    net_heights,
    text_heights,
    warning_heights,
)
from compliance.label_stock import LabelError

LARGEST_BODY = 11.0
# The name stands out from the small type (21 CFR 101.3(d): reasonably related in size).
NAME_TIMES = 1.6
STEP = 0.25
LEADING = 1.16
AIR = 2.0


@dataclass(frozen=True)
class Line:
    """A text of the label: what it is called in messages, its words, its type, and the
    height of letters that binds it. A word after `EMPHASIS` is set in bold."""

    name: str
    words: str
    font: str
    size: float
    asked: Height


@dataclass(frozen=True)
class Placed:
    """A line broken to the width: pieces of text with their font, in the order they are
    written, and its baseline from the top of the label's text. One of a text that runs from the
    right stands there, as wide as `width`."""

    pieces: tuple[tuple[str, str], ...]
    size: float
    below_top: float
    from_right: bool = False
    width: float = 0.0


@dataclass(frozen=True)
class Box:
    """The room for text, in points, and the symbol at its lower right or along its foot."""

    width: float
    height: float
    symbol_width: float
    symbol_height: float
    is_linear: bool


# How large -----------------------------------------------------------------------------------


@cache
def _unit_height(on: Measured, font: str, letters: str) -> float:
    return figure_height(1) if on == Measured.FIGURE else letter_height(font, 1, letters)


def size_for(height: Height, font: str, letters: str = "") -> float:
    """The size of type, in points, at which those letters are that high."""
    return height.mm * mm / _unit_height(height.on, font, letters)


def _binding(heights: Sequence[Height], font: str) -> tuple[float, Height]:
    """The size that satisfies them all, and the one that asks for it."""
    return max(((size_for(each, font), each) for each in heights), key=lambda pair: pair[0])


@lru_cache(maxsize=256)
def _high_enough(line: Line) -> Line:
    """The line, set larger where its letters are of a script with lower ones."""
    words = printable(line.words)
    if is_plain(words):
        return line
    return replace(line, size=max(line.size, size_for(line.asked, line.font, words)))


@dataclass(frozen=True)
class Sizes:
    """The least sizes of a label's lines, each with who asks for it."""

    text: tuple[float, Height]
    net: tuple[float, Height]
    warning: tuple[float, Height]


@lru_cache(maxsize=64)
def sizes_of(markets: tuple[str, ...], panel: Panel, millilitres: float) -> Sizes:
    """The least sizes by the rules of the markets and the area of the panel."""
    binding = frozenset(Market(each) for each in markets)
    text = max(
        (_binding(text_heights(binding, panel), font) for font in (REGULAR, BOLD)),
        key=lambda pair: pair[0],
    )
    net = _binding(net_heights(binding, panel, millilitres), BOLD)
    return Sizes(text, net, _binding(warning_heights(millilitres), REGULAR))


# What it says --------------------------------------------------------------------------------


def _upper(packet: LabelPacket, panel: Panel, body: float, sizes: Sizes) -> list[Line]:
    """The lines from the top down."""
    asked = sizes.text[1]
    ingredients = ", ".join(packet.ingredients)
    contains = ", ".join(packet.allergens)
    made_by = ", ".join(part for part in (packet.business, *packet.address.splitlines()) if part)
    warning = max(body, sizes.warning[0])
    found = [
        Line("name of the food", packet.name, BOLD, body * NAME_TIMES, asked),
        Line("ingredients", f"Ingredients: {ingredients}." if ingredients else "", REGULAR, body,
             asked),
        Line("allergens", f"Contains: {contains}." if contains else "", BOLD, body, asked),
        Line("further text", packet.statement, REGULAR, body, asked),
        Line("cautions", packet.cautions, REGULAR, body, asked),
        Line("storage", _storage(packet), REGULAR, body, asked),
        Line("warning", _warning(packet), REGULAR, warning, sizes.warning[1]),
        Line("business name and address", made_by, REGULAR, body, asked),
    ]  # fmt: skip
    if _is_tiny(packet, panel):
        found = [line for line in found if line.name in {"name of the food", "allergens"}]
    return [_high_enough(line) for line in found if line.words.strip()]


def _is_tiny(packet: LabelPacket, panel: Panel) -> bool:
    """Where the EU alone asks, and for little: art. 16(2) of Regulation 1169/2011."""
    return packet.markets == (Market.EU,) and panel.square_cm < SMALLEST_CM2


def _warning(packet: LabelPacket) -> str:
    """27 CFR 16.22(a): the first two words in bold capitals, the rest in no bold type."""
    lead = " ".join(f"{EMPHASIS}{word}" for word in WARNING_LEAD.split())
    return f"{lead} {WARNING}" if packet.has_warning else ""


def _storage(packet: LabelPacket) -> str:
    """The storage line, unless the cautions say the same already."""
    storage = packet.storage.strip().rstrip(".")
    if not storage or storage.lower() in packet.cautions.lower():
        return ""
    return storage if storage.endswith(_STOPS) else f"{storage}."


# What ends a sentence in other scripts: the ideographic full stop, the danda, and ! and ?.
_STOPS = ("\u3002", "\u0964", "!", "?", "\u061f")


def _foot(packet: LabelPacket, body: float, sizes: Sizes, across: bool) -> list[Line]:
    """The lines at the foot: the net contents stand lowest (21 CFR 101.7(f)), the strength
    beside them, in one field of vision with the name (EU 1169/2011 art. 13(5)). `across` puts
    date and lot code side by side."""
    asked = sizes.text[1]
    best = f"Best before {packet.best_before}" if packet.best_before else ""
    lot = f"Lot {packet.lot_code}"
    found = [Line("alcohol", packet.alcohol, BOLD, body, asked)] if packet.alcohol else []
    if across:
        both = " · ".join(part for part in (best, lot) if part)
        found.append(Line("best before and lot code", both, BOLD, body, asked))
    else:
        found += [Line("best before", best, BOLD, body, asked)] if best else []
        found.append(Line("lot code", lot, BOLD, body, asked))
    return [*found, Line("net contents", packet.net_contents, BOLD, *sizes.net)]


# Where it stands -----------------------------------------------------------------------------


def lay_out(packet: LabelPacket, panel: Panel, box: Box) -> list[Placed]:
    """The lines at the largest size that fits, down to the least allowed.

    Raises `LabelError` naming the line that has no room, or that has letters the type lacks.
    """
    sizes = sizes_of(packet.markets, panel, packet.millilitres)
    if box.symbol_width > box.width or box.symbol_height > box.height:
        raise LabelError("The barcode is larger than the label: use a larger label.")

    def at(body: float) -> list[Placed]:
        return _placed(packet, panel, body, sizes, box)

    steps = max(0, int((LARGEST_BODY - sizes.text[0]) / STEP))
    return _largest(at, sizes.text[0], steps)


def _largest(at: Callable[[float], list[Placed]], least: float, steps: int) -> list[Placed]:
    """The layout at the least size and as many steps above it as fit, by halving."""
    found = at(least)
    low, high = 0, steps
    while low < high:
        middle = (low + high + 1) // 2
        try:
            found = at(least + middle * STEP)
        except LabelError:
            high = middle - 1
        else:
            low = middle
    return found


def _placed(packet: LabelPacket, panel: Panel, body: float, sizes: Sizes, box: Box) -> list[Placed]:
    """The upper lines from the top, the foot's from the bottom: beside a matrix symbol,
    above a linear one."""
    foot_width = box.width if box.is_linear else box.width - box.symbol_width - 2 * mm
    foot_bottom = box.height - box.symbol_height if box.is_linear else box.height
    foot = _broken(_foot(packet, body, sizes, across=box.is_linear), foot_width, panel)
    foot_top = foot_bottom - sum(each.line.size * LEADING for each in foot)
    upper = _broken(_upper(packet, panel, body, sizes), box.width, panel)
    # Where the foot is short, the symbol reaches higher than its lines.
    bottom = min(foot_top - AIR, foot_bottom if box.is_linear else box.height - box.symbol_height)
    return _stack(upper, 0, bottom, panel) + _stack(foot, foot_top, foot_bottom + 1, panel)


_Pieces = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class _Word:
    """A word with its font; whether a space comes before it, or it may only begin a line."""

    text: str
    font: str
    is_spaced: bool = True


@dataclass(frozen=True)
class _Set:
    """A label's line as one line of print: its pieces, and how wide they are at one point."""

    line: Line
    pieces: _Pieces
    width: float
    from_right: bool


def _broken(lines: Iterable[Line], width: float, panel: Panel) -> list[_Set]:
    """Each line broken at its spaces to the width. Raises `LabelError` for a longer word."""
    found: list[_Set] = []
    for line in lines:
        words = _set(line.words, line.font, line.name)
        from_right = is_from_right(line.words)
        room, space = width / line.size, _unit_width(" ", line.font)
        taken: list[_Word] = []
        used = 0.0
        for word in words:
            wide = _unit_width(word.text, word.font)
            if wide > room:
                raise _no_room(line, panel)
            gap = space if taken and word.is_spaced else 0.0
            if taken and used + gap + wide > room:
                found.append(_Set(line, _joined(taken), used, from_right))
                taken, used, gap = [], 0.0, 0.0
            used += gap + wide
            taken.append(word)
        found.append(_Set(line, _joined(taken), used, from_right))
    return found


@lru_cache(maxsize=4096)
def _set(words: str, font: str, name: str) -> tuple[_Word, ...]:
    """The words with the font of each. Raises `LabelError` for letters the type lacks."""
    missing = lacking(words)
    if missing:
        raise LabelError(
            f"The {name} has letters the type of the labels does not have: "
            f"{' '.join(missing)}. Write it in Latin, Greek, Cyrillic, Arabic, Hebrew, Georgian, "
            "Chinese, Japanese or Korean letters."
        )
    return tuple(part for word in words.split() for part in _parts(word, font))


def _parts(word: str, font: str) -> Iterable[_Word]:
    """A word, or the parts of one in letters that are written without spaces."""
    font = BOLD if word.startswith(EMPHASIS) else font
    for number, part in enumerate(UNSPACED_BREAK.split(printable(word))):
        if part:
            yield _Word(part, font, number == 0)


@lru_cache(maxsize=16384)
def _unit_width(word: str, font: str) -> float:
    """The width of a word at one point; the family has no kerning here, so widths add up."""
    return width_of(word, font, 1)


def _joined(words: Sequence[_Word]) -> _Pieces:
    """Neighbouring words of one font as one piece, the spaces in between kept."""
    pieces: list[tuple[str, str]] = []
    for number, word in enumerate(words):
        text = f" {word.text}" if number and word.is_spaced else word.text
        if pieces and pieces[-1][1] == word.font:
            pieces[-1] = (pieces[-1][0] + text, word.font)
        else:
            pieces.append((text, word.font))
    return tuple(pieces)


def _stack(broken: Sequence[_Set], top: float, bottom: float, panel: Panel) -> list[Placed]:
    """One under the other, with a little air before each new line of the label."""
    found: list[Placed] = []
    y, before = top, None
    for each in broken:
        line = each.line
        if before is not None and before is not line and top == 0:
            y += line.size * 0.16
        if y + line.size > bottom:
            raise _no_room(line, panel)
        width = each.width * line.size
        found.append(Placed(each.pieces, line.size, y + line.size * 0.92, each.from_right, width))
        y += line.size * LEADING
        before = line
    return found


def _no_room(line: Line, panel: Panel) -> LabelError:
    shown = line.words.replace(EMPHASIS, "")
    shown = shown if len(shown) <= 40 else f"{shown[:39]}…"
    asked = line.asked
    return LabelError(
        f"There is no room for the {line.name} ('{shown}') at {line.size:.1f} pt on "
        f"{panel.width_mm:g} × {panel.height_mm:g} mm. Shorten the text or use a larger label; "
        f"the type must not be smaller: {asked.on} are at least {asked.mm:.2g} mm high "
        f"({asked.source}, {asked.reading})."
    )
