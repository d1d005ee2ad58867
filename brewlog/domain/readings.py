"""What people write as a reading, turned into the number that is kept.

Each measurand has its own bounds: what lies outside them cannot have been measured and
is asked again, with the likely slip named. What is merely unlikely is recorded.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from brewlog.models import Measurand
from brewlog.recording import Refused
from brewlog.units import Dimension, UnitError, parse_number, parse_quantity, parse_temperature

_FOUR_PLACES = Decimal("0.0001")
# 7.0.3 for 7.03: a reading is never grouped by thousands.
_MARK_TOO_MANY = re.compile(r"(\d{1,3})[.,](\d{1,2})[.,](\d{1,2})", re.ASCII)
# One psi in bar: 1 lbf/in2 = 6894.757293168 Pa (NIST SP 811, appendix B.8).
_BAR_PER_UNIT = {
    "bar": Decimal(1),
    "mbar": Decimal("0.001"),
    "kpa": Decimal("0.01"),
    "psi": Decimal("0.06894757293168"),
}


@dataclass(frozen=True)
class Bounds:
    """What a measurand can be, what it usually is, and how it is written."""

    name: str
    least: Decimal
    most: Decimal
    usual_least: Decimal
    usual_most: Decimal
    example: str
    words: tuple[str, ...] = ()


def _bounds(
    name: str, possible: tuple[str, str], usual: tuple[str, str], example: str, *words: str
) -> Bounds:
    least, most = map(Decimal, possible)
    usual_least, usual_most = map(Decimal, usual)
    return Bounds(name, least, most, usual_least, usual_most, example, words)


# The wide bounds are what the scale can show at all; the usual ones only serve to guess
# which slip was made (common practice).
BOUNDS: dict[str, Bounds] = {
    Measurand.PH: _bounds("A pH", ("0", "14"), ("2", "8"), "3.45", "ph"),
    Measurand.TEMPERATURE: _bounds(
        "A temperature here", ("-30", "110"), ("0", "100"), "21.5 °C or 70 °F"
    ),
    Measurand.SPECIFIC_GRAVITY: _bounds(
        "A specific gravity", ("0.9", "1.2"), ("0.98", "1.12"), "1.045", "sg"
    ),
    Measurand.BRIX: _bounds(
        "A Brix reading", ("0", "80"), ("0", "30"), "8.5", "°bx", "bx", "brix", "°brix"
    ),
    Measurand.TOTAL_ACIDITY: _bounds(
        "A total acidity", ("0", "150"), ("0", "40"), "5.2", "g/l", "g/l as acetic"
    ),
    Measurand.PRESSURE: _bounds(
        "A gauge pressure here", ("-1", "30"), ("0", "8"), "2.5 bar or 36 psi"
    ),
    Measurand.FILL: _bounds("A fill", ("0", "100000"), ("0", "60000"), "330 mL or 11.2 fl oz"),
    Measurand.ALCOHOL: _bounds(
        "An alcohol content",
        ("0", "100"),
        ("0", "12"),
        "0.45",
        "%",
        "% vol",
        "%vol",
        "% abv",
        "abv",
    ),
}


@dataclass(frozen=True)
class Reading:
    """The number kept, in the measurand's own unit, and the text shown back."""

    value: Decimal
    text: str


def read_value(
    measurand: str, text: str, *, temperature_unit: str = "C", field: str = "value"
) -> Reading:
    """Read what was typed for a measurand. Raises `Refused` on `field`.

    Units kept: °C, bar (gauge), mL, g/L as acetic, % vol; pH, specific gravity and Brix
    have none. `70 °F`, `36 psi`, `11.2 fl oz` and decimal commas are understood.
    """
    tidy = " ".join(text.replace("\u00a0", " ").split())
    try:
        value, shown = _parse(measurand, tidy, temperature_unit)
    except UnitError as error:
        raise Refused({field: str(error)}) from None
    bounds = BOUNDS[measurand]
    if not bounds.least <= value <= bounds.most:
        raise Refused({field: _outside(bounds, measurand, value, tidy)})
    return Reading(value.quantize(_FOUR_PLACES, ROUND_HALF_EVEN), shown)


def is_unusual(measurand: str, value: Decimal) -> bool:
    """Whether it can have been read and seldom is: more likely a slip than the drink."""
    bounds = BOUNDS[measurand]
    return not bounds.usual_least <= value <= bounds.usual_most


def read_at_most(measurand: str, text: str, *, field: str = "value") -> Reading:
    """As `read_value`, and a laboratory's `< 0.05`, which is kept as the 0.05 it is below."""
    tidy = text.strip()
    if not tidy.startswith("<"):
        return read_value(measurand, tidy, field=field)
    read = read_value(measurand, tidy[1:], field=field)
    return Reading(read.value, f"< {read.text}")


def _parse(measurand: str, text: str, temperature_unit: str) -> tuple[Decimal, str]:
    if measurand == Measurand.TEMPERATURE:
        celsius = parse_temperature(text, temperature_unit)
        bare = text[-1:].isdigit()
        return celsius, f"{text} °{temperature_unit}" if bare else text
    if measurand == Measurand.FILL:
        fill = parse_quantity(text, Dimension.VOLUME, default_unit="mL")
        return Decimal(fill.canonical) / 1000, fill.text
    if measurand == Measurand.PRESSURE:
        return _pressure(text)
    return _plain_number(BOUNDS[measurand], text), text


def _plain_number(bounds: Bounds, text: str) -> Decimal:
    lowered = text.lower()
    for word in sorted(bounds.words, key=len, reverse=True):
        if lowered.endswith(word):
            lowered = lowered.removesuffix(word).strip()
            break
        if lowered.startswith(word):
            lowered = lowered.removeprefix(word).strip()
            break
    return _number(lowered, bounds.example)


def _number(text: str, example: str) -> Decimal:
    """A number; a comma alone is a decimal comma, as no such reading is in the thousands."""
    if not re.search(r"\d", text):
        raise UnitError(f"'{text}' is not a reading. Write it like {example}.")
    if re.search(r"\d\s*°?\s*[cf]$", text):
        raise UnitError(
            "That is a temperature. Choose it under 'Measured', or write the reading like "
            f"{example}."
        )
    if text.count(",") == 1 and "." not in text:
        text = text.replace(",", ".")
    slip = _MARK_TOO_MANY.fullmatch(text)
    if slip:
        raise UnitError(
            f"'{text}' has a decimal mark too many. Did you mean {slip[1]}.{slip[2]}{slip[3]}?"
        )
    return parse_number(text)


def _pressure(text: str) -> tuple[Decimal, str]:
    example = BOUNDS[Measurand.PRESSURE].example
    match = re.fullmatch(r"([-+\d.,\s]+?)\s*(m?bar|kpa|psi)?\s*g?", text, re.IGNORECASE)
    if not match:
        raise UnitError(f"'{text}' is not a pressure. Write it like {example}.")
    unit = (match[2] or "bar").lower()
    shown = text if match[2] else f"{text} bar"
    return _number(match[1].strip(), example) * _BAR_PER_UNIT[unit], shown


def _outside(bounds: Bounds, measurand: str, value: Decimal, text: str) -> str:
    span = f"{bounds.name} lies between {bounds.least} and {bounds.most}"
    guess = _likely(bounds, value)
    if measurand == Measurand.TEMPERATURE:
        span += " °C"
        as_fahrenheit = (value - 32) * 5 / 9
        if text[-1:].isdigit() and bounds.least <= as_fahrenheit <= bounds.most:
            guess = f"{text} °F"
    hint = f" Did you mean {guess}?" if guess else f" Write it like {bounds.example}."
    return f"{span}; '{text}' does not.{hint}"


def _likely(bounds: Bounds, value: Decimal) -> str:
    """The number with its decimal mark where it was probably meant to be; '' if none fits."""
    for shift in (10, 100, 1000):
        moved = value / shift
        if bounds.usual_least <= moved <= bounds.usual_most:
            return f"{moved.normalize():f}"
    return ""
