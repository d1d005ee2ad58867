"""What a scanner typed: a GS1 element string, the line printed under it, or a GS1 Digital Link.

Lengths and character sets follow the GS1 syntax dictionary
(github.com/gs1/gs1-syntax-dictionary), symbology identifiers the GS1 General Specifications
(5.1.2), links "GS1 Digital Link Standard: URI Syntax" 1.2; all from memory.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from urllib.parse import parse_qsl, unquote, urlsplit

from brewlog.gs1 import CSET_82, SEPARATOR, Element, Gs1Error, check_digit, gtin14

Elements = tuple[Element, ...]

# What scanners set up to show FNC1 put in its place (common practice).
_SHOWN_SEPARATORS = ("\u241d", "{GS}")
_SYMBOLOGY = re.compile(r"^\](?P<id>[A-Za-z]\d)")
_GS1_SYMBOLS = {"]C1", "]d2", "]Q3", "]J1", "]e0"}
# Retail codes: nothing but a GTIN.
_GTIN_SYMBOLS = {"]E0", "]E4"}
_BARE = re.compile(r"^0[12]\d{14}.")
_BRACKETED = re.compile(r"\((\d{2,4})\)")
# Longer than any element string on a label, and more readings than a person could mean.
_LONGEST = 400
_MOST_READINGS = 20


@dataclass(frozen=True)
class _Rule:
    """How long an identifier's value is, and whether it is all digits."""

    least: int
    most: int
    is_number: bool = False


_DATES = ("11", "12", "13", "15", "16", "17")
_CHECKED = ("00", "01", "02", *(f"41{last}" for last in range(8)))
_RULES: dict[str, _Rule] = {
    "00": _Rule(18, 18, True),
    "01": _Rule(14, 14, True),
    "02": _Rule(14, 14, True),
    "10": _Rule(1, 20),
    **dict.fromkeys(_DATES, _Rule(6, 6, True)),
    "20": _Rule(2, 2, True),
    "21": _Rule(1, 20),
    "22": _Rule(1, 20),
    "30": _Rule(1, 8, True),
    "37": _Rule(1, 8, True),
    "90": _Rule(1, 30),
    **{f"9{last}": _Rule(1, 90) for last in range(1, 10)},
    "235": _Rule(1, 28),
    "240": _Rule(1, 30),
    "241": _Rule(1, 30),
    "242": _Rule(1, 6, True),
    "243": _Rule(1, 20),
    "250": _Rule(1, 30),
    "251": _Rule(1, 30),
    "254": _Rule(1, 20),
    "400": _Rule(1, 30),
    "401": _Rule(1, 30),
    "402": _Rule(17, 17, True),
    "403": _Rule(1, 30),
    **{f"41{last}": _Rule(13, 13, True) for last in range(8)},
    "420": _Rule(1, 20),
    "422": _Rule(3, 3, True),
    "7003": _Rule(10, 10, True),
    # Weights, volumes and lengths: the last digit says where the point stands.
    **{f"3{kind:02}{point}": _Rule(6, 6, True) for kind in range(10, 70) for point in range(6)},
}


@dataclass(frozen=True)
class Scan:
    """What a scan may name: lot codes, the likeliest first, and the product's GTIN.

    `text` is what the symbol held where that is no GS1 data at all.
    """

    lots: tuple[str, ...] = ()
    gtin: str = ""
    text: str = ""


def read_scan(typed: str) -> Scan | None:
    """What was scanned; None for what somebody typed.

    Raises `Gs1Error`, in a sentence, for a scan that cannot be read.
    """
    text = typed.strip(" \r\n\t")
    for shown in _SHOWN_SEPARATORS:
        text = text.replace(shown, SEPARATOR)
    symbol = _SYMBOLOGY.match(text)
    if symbol is None:
        return _unmarked(text)
    rest = text[symbol.end() :]
    if symbol.group() in _GS1_SYMBOLS:
        return _named(readings(rest))
    if symbol.group() in _GTIN_SYMBOLS:
        return Scan(gtin=gtin14(rest))
    return _unmarked(rest) or Scan(text=rest)


def _unmarked(text: str) -> Scan | None:
    """Text without a symbology identifier, where it looks like a scan all the same."""
    if re.match(r"(?i)https?://", text):
        return _named([from_link(text)])
    if SEPARATOR in text:
        return _named(readings(text))
    if _BRACKETED.match(text):
        return _named([from_brackets(text)])
    if _BARE.match(text):
        try:
            return _named(readings(text))
        except Gs1Error:
            return None  # A long number somebody typed.
    return None


def _named(found: list[Elements]) -> Scan:
    lots = dict.fromkeys(each.value for elements in found for each in elements if _is(each, "10"))
    gtins = [each.value for each in found[0] if _is(each, "01") or _is(each, "02")]
    if not lots and not gtins:
        held = "".join(f"({each.identifier})" for each in found[0])
        raise Gs1Error(f"The code names neither a product nor a lot: it holds {held}.")
    return Scan(tuple(lots), gtins[0] if gtins else "")


def _is(element: Element, identifier: str) -> bool:
    return element.identifier == identifier


# Element strings -------------------------------------------------------------------------


def readings(text: str) -> list[Elements]:
    """Every way to read an element string, the standard's own first.

    There is one, unless separators were lost on the way: a value of no fixed length may
    then end wherever what follows can be read. Raises `Gs1Error` where there is none.
    """
    if len(text) > _LONGEST:
        raise Gs1Error(f"That is longer than any barcode: {len(text)} characters.")
    walk = _Walk(text.strip(SEPARATOR))
    found = list(islice(walk.from_place(0), _MOST_READINGS))
    if not found or found == [()]:
        raise Gs1Error(f"The scan cannot be read. {walk.problem or 'There is nothing in it.'}")
    return found


class _Walk:
    """A walk over an element string. Keeps the problem it met furthest into the text."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.has_separators = SEPARATOR in text
        self.problem = ""
        self._furthest = -1
        self._dead: set[int] = set()

    def from_place(self, place: int) -> Iterator[Elements]:
        """The ways to read the text from there to its end."""
        if place >= len(self.text):
            yield ()
            return
        if place in self._dead:
            return
        ends = False
        for element, following in self._elements(place):
            for rest in self.from_place(following):
                ends = True
                yield (element, *rest)
        if not ends:
            self._dead.add(place)

    def _elements(self, place: int) -> Iterator[tuple[Element, int]]:
        """The element that begins there, with each place where it may end."""
        identifier = _identifier_at(self.text, place)
        if not identifier:
            said = self.text[place : place + 4].replace(SEPARATOR, "")
            self._say(place, f"No application identifier begins with '{said}'.")
            return
        rule, start = _RULES[identifier], place + len(identifier)
        stop = self.text.find(SEPARATOR, start)
        stop = len(self.text) if stop < 0 else stop
        longest = min(stop, start + rule.most)
        shortest = longest if self.has_separators else start + rule.least
        if longest < start + rule.least:
            self._say(start, f"({identifier}) is cut short: '{self.text[start:stop]}'.")
            return
        for end in range(longest, shortest - 1, -1):
            value = self.text[start:end]
            problem = problem_of(identifier, value)
            if problem:
                self._say(start, problem)
            else:
                yield Element(identifier, value), end + (end == stop)

    def _say(self, place: int, problem: str) -> None:
        if place > self._furthest:
            self._furthest, self.problem = place, problem


def _identifier_at(text: str, place: int) -> str:
    """The application identifier that begins there; '' for none that is known."""
    return next(
        (text[place : place + n] for n in (2, 3, 4) if text[place : place + n] in _RULES), ""
    )


def problem_of(identifier: str, value: str) -> str:
    """What is wrong with a value, in a sentence; '' for a sound one."""
    rule = _RULES[identifier]
    if not rule.least <= len(value) <= rule.most:
        length = str(rule.most) if rule.least == rule.most else f"{rule.least} to {rule.most}"
        return f"({identifier}) takes {length} characters, not '{value}'."
    if rule.is_number and not (value.isascii() and value.isdigit()):
        return f"({identifier}) is a number, not '{value}'."
    if not CSET_82.match(value):
        return f"({identifier}) cannot hold '{value}'."
    if identifier in _CHECKED and check_digit(value[:-1]) != value[-1]:
        return f"The check digit of ({identifier}) {value} does not fit: scan it again."
    if identifier in _DATES and not _is_date(value):
        return f"({identifier}) is a date as YYMMDD, not '{value}'."
    return ""


def _is_date(value: str) -> bool:
    """Whether YYMMDD is a day; day 00 stands for the end of the month."""
    try:
        dt.date(2000 + int(value[:2]), int(value[2:4]), int(value[4:]) or 1)
    except ValueError:
        return False
    return True


# Lines and links -------------------------------------------------------------------------


def from_brackets(text: str) -> Elements:
    """The line printed under a symbol, identifiers in brackets, as its elements.

    Brackets that hold no known identifier belong to the value. Raises `Gs1Error`.
    """
    marks = [mark for mark in _BRACKETED.finditer(text) if mark.group(1) in _RULES]
    if not marks or marks[0].start() != 0:
        raise Gs1Error(f"No application identifier stands at the front of '{text}'.")
    ends = [*(mark.start() for mark in marks[1:]), len(text)]
    found = []
    for mark, end in zip(marks, ends, strict=True):
        found.append(_sound(mark.group(1), text[mark.end() : end].strip()))
    return tuple(found)


def _sound(identifier: str, value: str) -> Element:
    problem = problem_of(identifier, value)
    if problem:
        raise Gs1Error(problem)
    return Element(identifier, value)


# What may follow a GTIN in a link, in this order.
_QUALIFIERS = ("22", "10", "21")


def from_link(text: str) -> Elements:
    """A GS1 Digital Link as its elements: key, qualifiers, then what its query adds.

    Any domain and any path before the key will do. Raises `Gs1Error`.
    """
    try:
        parts = urlsplit(text)
    except ValueError:
        raise Gs1Error(f"'{text}' is not an address.") from None
    path = [unquote(each) for each in parts.path.rstrip("/").split("/")]
    if "01" not in path[:-1]:
        raise Gs1Error("That link names no product: a GS1 Digital Link has /01/ and a GTIN in it.")
    key = path.index("01")
    found = [Element("01", gtin14(path[key + 1]))]
    pairs = path[key + 2 :]
    names = pairs[0::2]
    if len(pairs) % 2 or names != [name for name in _QUALIFIERS if name in names]:
        raise Gs1Error(
            "After its GTIN a link has /22/, /10/ and /21/, each with its value and in this "
            f"order; this one goes on with '/{'/'.join(pairs)}'."
        )
    found += [_sound(*pair) for pair in zip(names, pairs[1::2], strict=True)]
    found += [_sound(name, value) for name, value in parse_qsl(parts.query) if name in _RULES]
    return tuple(found)
