"""GS1 keys and element strings, as far as labels and scanners need them.

Lengths and separators follow the GS1 syntax dictionary (github.com/gs1/gs1-syntax-dictionary),
the check digit GS1's "How to calculate a check digit manually".
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from urllib.parse import quote

# FNC1 between element strings is sent by a scanner as this character (ASCII 29).
SEPARATOR = "\x1d"

_GTIN_LENGTHS = (8, 12, 13, 14)
# The characters a value of letters and digits may hold.
CSET_82 = re.compile(r"""^[!"%&'()*+,\-./0-9:;<=>?A-Z_a-z]*\Z""")
_LOT_MOST = 20
# Identifiers that begin so have one length, which scanners know (GS1 General Specifications,
# "Element strings with predefined length"; from memory).
_PREDEFINED = {
    *("00", "01", "02", "03", "04", "20", "41"),
    *(str(first) for first in (*range(11, 20), *range(31, 37))),
}


class Gs1Error(ValueError):
    """A key or a value that GS1 does not allow. The message says what to write."""


@dataclass(frozen=True)
class Element:
    """One application identifier with its value, e.g. `Element("10", "L26147A")`."""

    identifier: str
    value: str

    @property
    def is_predefined(self) -> bool:
        """Whether scanners know its length, so that nothing need end it."""
        return self.identifier[:2] in _PREDEFINED


def check_digit(digits: str) -> str:
    """The check digit that belongs after `digits` (a key without it).

    From the right, weights 3, 1, 3, 1...; the distance of the sum to the next ten.
    """
    if not digits.isascii() or not digits.isdigit():
        raise Gs1Error(f"'{digits}' is not all digits.")
    total = sum(int(d) * (3 if i % 2 == 0 else 1) for i, d in enumerate(reversed(digits)))
    return str(-total % 10)


def gtin14(gtin: str) -> str:
    """A GTIN of 8, 12, 13 or 14 digits as the 14 digits of AI (01).

    Raises `Gs1Error` for another length or a check digit that does not fit.
    """
    cleaned = re.sub(r"[\s-]", "", gtin)
    if len(cleaned) not in _GTIN_LENGTHS or not (cleaned.isascii() and cleaned.isdigit()):
        raise Gs1Error(f"'{gtin}' is not a GTIN: write its 8, 12, 13 or 14 digits.")
    expected = check_digit(cleaned[:-1])
    if cleaned[-1] != expected:
        raise Gs1Error(
            f"GTIN {cleaned} ends in {cleaned[-1]}, and its check digit would be {expected}. "
            "Compare it with the number you were given."
        )
    return cleaned.rjust(14, "0")


def date_element(identifier: str, day: dt.date) -> Element:
    """A date such as best before (15) or use by (17), as YYMMDD."""
    return Element(identifier, f"{day:%y%m%d}")


def lot_element(code: str) -> Element:
    """Batch or lot (10). Raises `Gs1Error` for characters or a length that do not fit."""
    if not code or len(code) > _LOT_MOST or not CSET_82.match(code):
        raise Gs1Error(
            f"Lot code '{code}' does not fit a GS1 barcode: 1 to {_LOT_MOST} of the letters A-Z "
            "without accents, digits and ! \" % & ' ( ) * + , - . / : ; < = > ? _, no spaces."
        )
    return Element("10", code)


def trade_item(gtin: str, best_before: dt.date | None, lot_code: str) -> list[Element]:
    """What a bottle carries: (01) GTIN, (15) best before where known, (10) lot.

    Those of known length come first and the lot last, so that no separator is needed.
    """
    elements = [Element("01", gtin14(gtin))]
    if best_before is not None:
        elements.append(date_element("15", best_before))
    return [*elements, lot_element(lot_code)]


def element_string(elements: list[Element]) -> str:
    """The elements as a scanner sends them, with `SEPARATOR` where one is needed."""
    parts = []
    for position, element in enumerate(elements):
        last = position == len(elements) - 1
        ended = "" if element.is_predefined or last else SEPARATOR
        parts.append(f"{element.identifier}{element.value}{ended}")
    return "".join(parts)


def readable(elements: list[Element]) -> str:
    """The line printed under the symbol, identifiers in brackets."""
    return "".join(f"({element.identifier}){element.value}" for element in elements)


# What follows the trade item in the path of a Digital Link; the rest are attributes.
_QUALIFIERS = ("22", "10", "21")


def digital_link(elements: list[Element]) -> str:
    """The elements of a trade item as an address any phone opens: GS1 Digital Link, at GS1's
    own resolver (GS1 Digital Link Standard: URI Syntax, from memory)."""
    values = {element.identifier: quote(element.value, safe="") for element in elements}
    path = "".join(f"/{key}/{values[key]}" for key in ("01", *_QUALIFIERS) if key in values)
    attributes = [f"{k}={v}" for k, v in values.items() if k not in {"01", *_QUALIFIERS}]
    return f"https://id.gs1.org{path}" + (f"?{'&'.join(attributes)}" if attributes else "")
