"""What the rules ask of a label: how high its letters stand, and the words some limits fix.

Pure: which rules bind is told by their keys. Where none do, or those of both sides bind,
the stricter of both is kept. Beside each figure stands its source and how surely it was read: in
the text or an authority's restatement of it, in others' restatements, or from memory. What was
not read in the text itself is said so to who looks at the proof.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

MM_PER_INCH = 25.4


class Market(StrEnum):
    """Whose rules on the label's form bind."""

    US = "us"
    EU = "eu"


# Rule sets under which Regulation (EU) 1169/2011 or what the UK kept of it applies.
_EU_KEYS = {"eu", "de", "at", "uk"}
BOTH = frozenset(Market)


def markets_of(ruleset_keys: Iterable[str]) -> frozenset[Market]:
    """The markets of the rule sets that bind; both where none tells."""
    keys = set(ruleset_keys)
    found = {Market.US for key in keys if key.startswith("us-")}
    found |= {Market.EU for key in keys & _EU_KEYS}
    return frozenset(found) or BOTH


@dataclass(frozen=True)
class Panel:
    """The panel a label stands for: its display panel and its largest surface are taken to be
    the label itself, as far as the label is all there is to read."""

    width_mm: float
    height_mm: float

    @property
    def square_inches(self) -> float:
        return self.width_mm * self.height_mm / MM_PER_INCH**2

    @property
    def square_cm(self) -> float:
        return self.width_mm * self.height_mm / 100


class Measured(StrEnum):
    """What the height is measured on."""

    SMALL = "the small letters"  # the lower-case o or x
    FIGURE = "the figures"


class Reading(StrEnum):
    """How surely a figure was read."""

    AUTHORITY = "as an authority restates it"
    OTHERS = "as others restate it"
    MEMORY = "from memory"


@dataclass(frozen=True)
class Height:
    """The least height of letters, who asks for it, and how surely that was read."""

    mm: float
    on: Measured
    source: str
    reading: Reading


def text_heights(markets: frozenset[Market], panel: Panel) -> list[Height]:
    """What must be on the label, other than its net contents.

    The EU's figures are read on the Commission's page on the language and presentation of food
    information (food-information-consumers-legislation).
    """
    found = []
    if Market.US in markets:
        sixteenth = MM_PER_INCH / 16
        found.append(Height(sixteenth, Measured.SMALL, "21 CFR 101.2(c)", Reading.OTHERS))
    if Market.EU in markets:
        small = panel.square_cm < 80
        article = "art. 13(3)" if small else "art. 13(2)"
        source = f"Regulation (EU) 1169/2011 {article}"
        found.append(Height(0.9 if small else 1.2, Measured.SMALL, source, Reading.AUTHORITY))
    return found


def net_heights(markets: frozenset[Market], panel: Panel, millilitres: float) -> list[Height]:
    """The net contents: in the US by the area of the panel, in the EU by the amount."""
    found = text_heights(markets, panel)
    if Market.US in markets:
        sixteenths = _sixteenths(panel.square_inches)
        height = MM_PER_INCH * sixteenths / 16
        found.append(Height(height, Measured.SMALL, "21 CFR 101.7(i)", Reading.MEMORY))
    if Market.EU in markets:
        source = "Directive 76/211/EEC annex I 3.1"
        height = _figures(millilitres)
        found.append(Height(height, Measured.FIGURE, source, Reading.AUTHORITY))
    return found


def _sixteenths(square_inches: float) -> int:
    """21 CFR 101.7(i)(1) to (5), in sixteenths of an inch (from memory; the first step stands so
    in 16 CFR 500.21(b), read)."""
    steps = ((5, 1), (25, 2), (100, 3), (400, 4))
    return next((height for most, height in steps if square_inches <= most), 8)


def _figures(millilitres: float) -> float:
    """Directive 76/211/EEC annex I 3.1, in mm, each step up to and including its amount (read in
    France's arrêté of 20 October 1978, article 2.1, which carries it out)."""
    steps = ((50, 2.0), (200, 3.0), (1000, 4.0))
    return next((height for most, height in steps if millilitres <= most), 6.0)


# The warning of drinks with alcohol ----------------------------------------------------------

WARNING_LEAD = "GOVERNMENT WARNING:"
# 27 CFR 16.21 fixes the words.
WARNING = (
    "(1) According to the Surgeon General, women should not drink alcoholic beverages during "
    "pregnancy because of the risk of birth defects. (2) Consumption of alcoholic beverages "
    "impairs your ability to drive a car or operate machinery, and may cause health problems."
)


def warning_heights(millilitres: float) -> list[Height]:
    """27 CFR 16.22(b)(1) to (3): by the container, 237 mL and 3 L being the steps (read on the
    TTB's page on the health warning)."""
    height = 1.0 if millilitres <= 237 else 2.0 if millilitres <= 3000 else 3.0
    return [Height(height, Measured.SMALL, "27 CFR 16.22(b)", Reading.AUTHORITY)]


def most_letters_an_inch(height_mm: float) -> int:
    """27 CFR 16.22(a)(4), from memory: how close the warning's letters may stand, by the height
    they must have."""
    return {1.0: 40, 2.0: 25, 3.0: 12}[height_mm]


# Of so small a label the EU asks only for some of it: Regulation (EU) 1169/2011 art. 16(2),
# below 10 cm² (as others restate it).
SMALLEST_CM2 = 10.0
