"""What people type, turned into canonical whole numbers and back.

Quantities are kept as integers, milligrams, microlitres or pieces, beside the text
as typed, which is what is shown back. (Fractions in a database do not add up to
nothing: 0.3 - 3 x 0.1 is -5.55e-17 there, and counts as a negative stock.)
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from enum import StrEnum
from functools import cache

import pint


class Dimension(StrEnum):
    """What a quantity measures."""

    MASS = "mass"
    VOLUME = "volume"
    COUNT = "count"


CANONICAL_UNIT = {Dimension.MASS: "mg", Dimension.VOLUME: "µL", Dimension.COUNT: ""}
# Less than this, in the canonical unit, nobody measures out: a kitchen scale shows 1 g, and a
# measuring jug is read to some mL (common practice). What the books have less of is a rounding and
# no stock: 1.5 gal poured out as 5.678 L leaves 0.1 mL.
LEAST_MEASURED = {Dimension.MASS: 1_000, Dimension.VOLUME: 1_000, Dimension.COUNT: 1}

# Names people write -> the unit registry's name. US measures unless "imp" says otherwise.
_MASS_UNITS = {
    "mg": "milligram",
    "g": "gram", "gram": "gram", "grams": "gram", "gr": "gram",
    "kg": "kilogram", "kgs": "kilogram", "kilo": "kilogram", "kilos": "kilogram",
    "t": "metric_ton", "tonne": "metric_ton",
    "oz": "ounce", "ounce": "ounce", "ounces": "ounce",
    "lb": "pound", "lbs": "pound", "pound": "pound", "pounds": "pound",
}  # fmt: skip
_VOLUME_UNITS = {
    "µl": "microliter", "ul": "microliter",
    "ml": "milliliter", "cl": "centiliter", "dl": "deciliter",
    "l": "liter", "lt": "liter", "ltr": "liter", "liter": "liter", "litre": "liter",
    "liters": "liter", "litres": "liter", "hl": "hectoliter",
    "gal": "gallon", "gallon": "gallon", "gallons": "gallon", "us gal": "gallon",
    "imp gal": "imperial_gallon", "qt": "quart", "quart": "quart", "quarts": "quart",
    "pt": "pint", "pint": "pint", "pints": "pint",
    "cup": "cup", "cups": "cup",
    "fl oz": "fluid_ounce", "floz": "fluid_ounce", "imp fl oz": "imperial_fluid_ounce",
    "tbsp": "tablespoon", "tsp": "teaspoon",
}  # fmt: skip
_COUNT_UNITS = {
    "", "x", "pc", "pcs", "piece", "pieces", "each", "ea", "bottle", "bottles", "can", "cans",
    "keg", "kegs", "cap", "caps", "label", "labels", "bag", "bags", "unit", "units",
}  # fmt: skip
_NAMES = {Dimension.MASS: _MASS_UNITS, Dimension.VOLUME: _VOLUME_UNITS}
_CANONICAL = {Dimension.MASS: "milligram", Dimension.VOLUME: "microliter"}
_EXAMPLES = {
    Dimension.MASS: "12.5 kg or 2 lb",
    Dimension.VOLUME: "40 L or 1.5 gal",
    Dimension.COUNT: "240",
}
# 9.2e18 is what the database holds; a trillion litres is nobody's brewery.
_LARGEST = 10**15


class UnitError(ValueError):
    """A quantity that cannot be read. The message says what to write."""


@dataclass(frozen=True)
class Quantity:
    """An amount: canonical whole number, its dimension, and the text as typed."""

    canonical: int
    dimension: Dimension
    text: str

    def __str__(self) -> str:
        return self.text


@cache
def registry() -> pint.UnitRegistry:
    """The one unit registry, in exact decimals."""
    return pint.UnitRegistry(non_int_type=Decimal, cache_folder=":auto:")


# What keyboards and sheets write for the same sign.
_SAME_SIGNS = str.maketrans(
    {"\u2212": "-", "\u00ba": "°", "\u2103": "°C", "\u2109": "°F", "\u03bc": "µ", "\u2113": "l"}
)
_SPACES = r"[ '\u2019]"
_NUMBER = rf"[-+]?(?:\d{{1,3}}(?:{_SPACES}\d{{3}})+|\d+)?(?:[.,]\d+)*"
_QUANTITY = re.compile(rf"^({_NUMBER})\s*([a-zµ .]*)$", re.ASCII | re.IGNORECASE)
_GROUPED_BY_SPACE = re.compile(rf"[-+]?\d{{1,3}}(?:{_SPACES}\d{{3}})+(?:[.,]\d+)?", re.ASCII)
_PLAIN = re.compile(r"[-+]?(?:\d+(?:[.,]\d+)?|[.,]\d+)", re.ASCII)
_ONE_COMMA_GROUP = re.compile(r"[-+]?[1-9]\d{0,2},\d{3}", re.ASCII)
# 1,234.5 and 1,234,567; 1.234,5 and 1.234.567.
_GROUPED_BY_COMMA = re.compile(
    r"[-+]?[1-9]\d{0,2}(?:,\d{3})+\.\d+|[-+]?[1-9]\d{0,2}(?:,\d{3}){2,}", re.ASCII
)
_GROUPED_BY_POINT = re.compile(
    r"[-+]?[1-9]\d{0,2}(?:\.\d{3})+,\d+|[-+]?[1-9]\d{0,2}(?:\.\d{3}){2,}", re.ASCII
)
# What the field beside the number holds.
_LONGEST = 60


def _tidy(text: str) -> str:
    return " ".join(text.translate(_SAME_SIGNS).split())


def parse_number(text: str) -> Decimal:
    """Read a plain number with a decimal point or a decimal comma.

    `1.234,5` and `1,234.5` are read by their last mark; `1,234` alone is refused as
    ambiguous, because a thousandfold error in a record is worse than a question.
    """
    cleaned = _tidy(text)
    if len(cleaned) > _LONGEST:
        raise UnitError(f"'{cleaned[:20]}...' is too long for a number.")
    if _GROUPED_BY_SPACE.fullmatch(cleaned):
        cleaned = re.sub(_SPACES, "", cleaned)
    elif _ONE_COMMA_GROUP.fullmatch(cleaned):
        raise UnitError(
            f"'{text}' could be a thousand or a decimal. Write it without the comma, "
            "or with a decimal point."
        )
    if _GROUPED_BY_COMMA.fullmatch(cleaned):
        return Decimal(cleaned.replace(",", ""))
    if _GROUPED_BY_POINT.fullmatch(cleaned):
        return Decimal(cleaned.replace(".", "").replace(",", "."))
    if _PLAIN.fullmatch(cleaned):
        return Decimal(cleaned.replace(",", "."))
    if re.fullmatch(r"[-+]?[\d.,]*\d[\d.,]*", cleaned, re.ASCII):
        raise UnitError(f"'{text}' has too many decimal marks. Write the number like 12.5.")
    raise UnitError(f"'{text}' is not a number. Write it like 12.5.")


def parse_quantity(text: str, *dimensions: Dimension, default_unit: str = "") -> Quantity:
    """Read `12.5 kg`, `1 gal`, `240` into a quantity of one of `dimensions`.

    `default_unit` is what a bare number means; without it a bare mass or volume is
    refused. Raises `UnitError`. Zero is a quantity; less than zero is not.
    """
    cleaned = _tidy(text)
    if len(cleaned) > _LONGEST:
        raise UnitError(f"'{cleaned[:20]}...' is too long for an amount.")
    match = _QUANTITY.match(cleaned)
    if not match or not match[1].strip("+-"):
        raise UnitError(f"'{text}' is not an amount. Write it like {_examples(dimensions)}.")
    number = parse_number(match[1])
    if number < 0:
        raise UnitError(f"'{text}' is less than nothing. Write an amount of zero or more.")
    written = " ".join(match[2].replace(".", " ").split())
    unit = (written or default_unit).lower()
    dimension = _dimension_of(text, unit, dimensions)
    canonical = _to_canonical(number, unit, dimension)
    if canonical > _LARGEST:
        raise UnitError(f"'{text}' is more than any brewery holds. Check the number and the unit.")
    if dimension == Dimension.COUNT and canonical != number:
        if not written and set(dimensions) != {Dimension.COUNT}:
            raise UnitError(f"'{text}' has no unit. Write it like {_examples(dimensions)}.")
        raise UnitError(f"'{text}' is not a whole number of pieces.")
    shown = cleaned if written or not default_unit else f"{match[1]} {default_unit}"
    return Quantity(canonical, dimension, shown)


def _examples(dimensions: tuple[Dimension, ...]) -> str:
    return " or ".join(_EXAMPLES[dimension] for dimension in dimensions)


def _dimension_of(text: str, unit: str, dimensions: tuple[Dimension, ...]) -> Dimension:
    for dimension, names in _NAMES.items():
        if unit in names:
            if dimension in dimensions:
                return dimension
            raise UnitError(
                f"'{text}' is a {dimension}; here a {' or '.join(dimensions)} is needed, "
                f"like {_examples(dimensions)}."
            )
    if unit in _COUNT_UNITS and Dimension.COUNT in dimensions:
        return Dimension.COUNT
    if not unit:
        raise UnitError(f"'{text}' has no unit. Write it like {_examples(dimensions)}.")
    raise UnitError(f"'{unit}' is not a unit known here. Write it like {_examples(dimensions)}.")


def _to_canonical(number: Decimal, unit: str, dimension: Dimension) -> int:
    if dimension == Dimension.COUNT:
        return int(number.to_integral_value(ROUND_HALF_EVEN))
    name = _NAMES[dimension][unit]
    factor = _factor(name, _CANONICAL[dimension])
    return int((number * factor).to_integral_value(ROUND_HALF_EVEN))


@cache
def _factor(unit: str, canonical: str) -> Decimal:
    return registry().Quantity(Decimal(1), unit).to(canonical).magnitude


@dataclass(frozen=True)
class UnitSystem:
    """The units someone reads in."""

    name: str
    mass: tuple[str, ...]
    volume: tuple[str, ...]


METRIC = UnitSystem("metric", ("kg", "g", "mg"), ("L", "mL", "µL"))
US = UnitSystem("us", ("lb", "oz"), ("gal", "fl oz"))


_TYPED_UNIT = re.compile(r"\d\s*([a-zµ][a-zµ ]*)", re.IGNORECASE)
_METRIC_ENDINGS = ("gram", "liter", "metric_ton")


def typed_in(texts: Iterable[str], otherwise: UnitSystem) -> UnitSystem:
    """The system of amounts as they were typed, `600 g` or `5 g/L`; `otherwise` where they are
    of both, or of none."""
    units = [found[1].strip().lower() for text in texts for found in _TYPED_UNIT.finditer(text)]
    names = [_MASS_UNITS.get(unit) or _VOLUME_UNITS.get(unit, "") for unit in units]
    found = {METRIC if name.endswith(_METRIC_ENDINGS) else US for name in names if name}
    return found.pop() if len(found) == 1 else otherwise


def show_quantity(canonical: int, dimension: str, system: UnitSystem = METRIC) -> str:
    """The amount in the largest fitting unit of the reader's system, to four figures."""
    if dimension == Dimension.COUNT:
        return f"{canonical:,}".replace(",", " ")
    units = system.mass if dimension == Dimension.MASS else system.volume
    for unit in units:
        amount = _in_unit(canonical, dimension, unit)
        if abs(amount) >= 1 or amount == 0 or unit == units[-1]:
            return f"{_figures(amount)} {unit}"
    raise AssertionError("a unit system lists at least one unit")


def fitting_unit(canonical: int, dimension: str, system: UnitSystem = METRIC) -> str:
    """The largest unit of the reader's system of which the amount has one; pieces for a count."""
    if dimension == Dimension.COUNT:
        return "pieces"
    units = system.mass if dimension == Dimension.MASS else system.volume
    if canonical == 0:
        return units[0]
    large = (unit for unit in units if abs(_in_unit(canonical, dimension, unit)) >= 1)
    return next(large, units[-1])


def in_unit(canonical: int, dimension: str, unit: str) -> float:
    """The amount as a number of such units, for drawing."""
    if dimension == Dimension.COUNT:
        return float(canonical)
    return float(_in_unit(canonical, dimension, unit))


def _in_unit(canonical: int, dimension: str, unit: str) -> Decimal:
    kind = Dimension(dimension)
    return Decimal(canonical) / _factor(_NAMES[kind][unit.lower()], _CANONICAL[kind])


def _figures(amount: Decimal, figures: int = 4) -> str:
    if amount == 0:
        return "0"
    places = max(0, figures - 1 - amount.adjusted())
    text = f"{amount:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    whole, _, rest = text.partition(".")
    grouped = f"{int(whole):,}".replace(",", " ") if whole not in {"-0", ""} else whole
    return f"{grouped}.{rest}" if rest else grouped


_TEMPERATURE = re.compile(rf"^({_NUMBER})\s*(°?\s*[cfk]?)$", re.ASCII | re.IGNORECASE)


def parse_temperature(text: str, default_unit: str = "C") -> Decimal:
    """Read `70 °F`, `21.5 C`, `21,5` into degrees Celsius, to a hundredth.

    Raises `UnitError` for what is not a temperature or what no brewery meets.
    """
    match = _TEMPERATURE.match(_tidy(text))
    if not match or not match[1].strip("+-"):
        raise UnitError(f"'{text}' is not a temperature. Write it like 21.5 °C or 70 °F.")
    number = parse_number(match[1])
    unit = match[2].upper().replace("°", "").strip() or default_unit
    if unit == "F":
        celsius = (number - 32) * 5 / 9
    elif unit == "K":
        celsius = number - Decimal("273.15")
    else:
        celsius = number
    if not -60 <= celsius <= 160:
        raise UnitError(f"'{text}' is not a temperature a brewery meets. Check the unit: °C or °F.")
    return celsius.quantize(Decimal("0.01"), ROUND_HALF_EVEN)


# Where drink, starter and what is kept of them stand, °C (common practice).
_COOL_ENOUGH = (0, 45)


def ask_degrees(text: str, default_unit: str = "C") -> None:
    """Raise `UnitError` for a bare number that nothing here is as warm as in the degrees it would
    be taken for, and that is usual in the other: `75` of someone who writes °C."""
    match = _TEMPERATURE.match(_tidy(text))
    if not match or not match[1].strip("+-") or match[2].replace("°", "").strip():
        return
    least, most = _COOL_ENOUGH
    taken, other = (
        least <= parse_temperature(f"{match[1]} {unit}") <= most
        for unit in (default_unit, "C" if default_unit == "F" else "F")
    )
    if other and not taken:
        raise UnitError(
            f"Is '{text}' in °C or in °F? Write {match[1].strip()} C or {match[1].strip()} F."
        )


# What is to be typed, and what stands in quotes, stays as it is.
_CELSIUS_IN_WORDS = re.compile(
    r"(?:\b(?:[Ww]rite it|written) like:? .*|(?<!\w)'[^']*'(?!\w))|"
    r"(?P<sign>[<>≤≥][ \u00a0]?)?(?:(?P<first>[-\u2212]?\d+(?:\.\d+)?)(?P<to> to |\u2013))?"
    r"(?P<last>[-\u2212]?\d+(?:\.\d+)?)[ \u00a0]°C(?: \((?P<typed>[^()]*°F)\))?"
)


def temperatures_in(text: str, system: UnitSystem) -> str:
    """A text with its temperatures in the reader's system: `6.2 °C`, `20 to 24 °C`, and `21.11 °C
    (70 °F)`, where what was typed in the reader's own stands as it was. A limit, `≤ 5 °C`, keeps
    its own unit beside the reader's. Differences of temperature are not told apart: keep them out
    of it."""
    if system is not US or "°C" not in text:
        return text

    def fahrenheit(found: re.Match[str]) -> str:
        if not found["last"]:
            return found[0]
        ends = [each for each in (found["first"], found["last"]) if each]
        shown = [_fahrenheit(each) for each in ends]
        said = found["typed"] or f"{(found['to'] or '').join(shown)} °F"
        return f"{found['sign']}{said} ({found['last']} °C)" if found["sign"] else said

    return _CELSIUS_IN_WORDS.sub(fahrenheit, text)


_AMOUNT_IN_WORDS = re.compile(r"(?<![\w.])\d[\d ]*(?:\.\d+)? (?:mg|g|kg|µL|mL|L)(?![\w/])")


def amounts_in(text: str, system: UnitSystem) -> str:
    """A text with its masses and volumes in the reader's system. Names may hold amounts too
    (`Bottle 330 mL`): only for a text that has no names in it."""
    if system is not US:
        return text

    def shown(found: re.Match[str]) -> str:
        amount = parse_quantity(found[0], Dimension.MASS, Dimension.VOLUME)
        return show_quantity(amount.canonical, amount.dimension, system)

    return _AMOUNT_IN_WORDS.sub(shown, text)


def _fahrenheit(written: str) -> str:
    """The figure for degrees Celsius as written in a sentence."""
    celsius = Decimal(written.replace("\u2212", "-"))
    return show_temperature(celsius, US).removesuffix(" °F").replace("-", "\u2212")


def show_temperature(celsius: Decimal, system: UnitSystem = METRIC) -> str:
    """Degrees in the reader's system, to a tenth."""
    if system is US:
        return f"{celsius * 9 / 5 + 32:.1f} °F"
    return f"{celsius:.1f} °C"
