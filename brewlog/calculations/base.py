"""What a calculation is on a page: a question, inputs, the answer and all of its working."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from brewlog.entries.base import Lines
from brewlog.forms.base import EntryForm
from brewlog.forms.fields import NumberField, QuantityField, TemperatureField
from brewlog.models import Lot, LotKind, Measurand, User
from brewlog.science.errors import OutOfRange
from brewlog.science.results import Result
from brewlog.units import METRIC as METRIC_SYSTEM
from brewlog.units import US, Dimension, UnitSystem

LITRE = 1_000_000  # microlitres
KILOGRAM = 1_000_000  # milligrams

# NIST SP 811 (2008), appendix B.8: US gallon and fluid ounce, avoirdupois pound and ounce, psi.
_L_PER_GAL = 3.785411784
_ML_PER_FL_OZ = 29.5735295625
_KG_PER_LB = 0.45359237
_G_PER_OZ = 28.349523125
_BAR_PER_PSI = 0.06894757293168


@dataclass(frozen=True)
class Units:
    """Calculated values in the words and units of whoever reads them.

    `places` are the decimals of the metric figure; a gallon or a pound gets one more.
    """

    us: bool = False

    @property
    def system(self) -> UnitSystem:
        return US if self.us else METRIC_SYSTEM

    def volume(self, litres: float, places: int = 1) -> str:
        if self.us:
            return f"{litres / _L_PER_GAL:.{places + 1}f} gal"
        return f"{litres:.{places}f} L"

    def fill(self, millilitres: float, places: int = 1) -> str:
        if self.us:
            return f"{millilitres / _ML_PER_FL_OZ:.{places + 1}f} fl oz"
        return f"{millilitres:.{places}f} mL"

    def mass(self, kilograms: float, places: int = 2) -> str:
        if self.us:
            return f"{kilograms / _KG_PER_LB:.{places}f} lb"
        return f"{kilograms:.{places}f} kg"

    def strength(self, grams_per_litre: float, places: int = 1) -> str:
        """Sugar in so much drink. The scale of a recipe: ounces to a gallon in the US."""
        metric = f"{grams_per_litre:.{places}f} g/L"
        if self.us:
            per_gallon = grams_per_litre * _L_PER_GAL / _G_PER_OZ
            return f"{per_gallon:.{places + 1}f} oz/gal ({metric})"
        return metric

    def temperature(self, celsius: float, places: int = 0) -> str:
        if self.us:
            return f"{celsius * 9 / 5 + 32:.{places}f} °F"
        return f"{celsius:.{places}f} °C"

    def pressure(self, bar: float, places: int = 1) -> str:
        """Gauges and ratings are in bar everywhere here; psi stands beside it in the US."""
        metric = f"{bar:.{places}f} bar"
        return f"{bar / _BAR_PER_PSI:.0f} psi ({metric})" if self.us else metric

    def sentence(self, error: OutOfRange) -> str:
        """What is out of range, with temperatures in the reader's degrees."""
        if not self.us or error.unit != "°C":
            return str(error)
        low, value, high = (
            celsius * 9 / 5 + 32 for celsius in (error.low, error.value, error.high)
        )
        return str(OutOfRange(error.quantity, value, low, high, "°F"))


METRIC = Units()


def units_of(person: User) -> Units:
    return Units(us=person.units == User.UnitSystem.US)


class DegreesField(TemperatureField):
    """A temperature between two others, in °C: the range in which a calculation holds."""

    def __init__(self, *, least: int, most: int, **options: Any) -> None:
        self.least, self.most = least, most
        super().__init__(**options)

    @property
    def reach(self) -> str:
        """The range in the degrees of whoever types."""
        units = Units(us=self.default_unit == "F")
        ends = (units.temperature(self.least), units.temperature(self.most))
        return f"{ends[0].partition(' ')[0]} to {ends[1]}".replace("-", "\u2212")

    def to_python(self, value: Any) -> Decimal | None:
        celsius = super().to_python(value)
        if celsius is not None and not self.least <= celsius <= self.most:
            raise ValidationError(f"{value} is outside {self.reach}, for which this holds.")
        return celsius


class CalculationForm(EntryForm):
    """Inputs of a calculation, each with its range. Nothing typed here is a record."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for each in self.fields.values():
            each.help_text = f"{_reach(each)}{each.help_text}".strip()


def _reach(field: forms.Field) -> str:
    """The range a field takes, as a sentence; '' where it has none."""
    if isinstance(field, DegreesField):
        return f"{field.reach}. "
    if isinstance(field, QuantityField):
        return "" if field.help_text else f"{_EXAMPLE[field.dimensions[0]]}. "
    if not isinstance(field, NumberField) or field.least is None or field.most is None:
        return ""
    if 0 < field.least < Decimal("0.001"):
        return f"More than 0, to {field.most}. "
    return f"{field.least} to {field.most}. ".replace("-", "\u2212")


_EXAMPLE = {
    Dimension.MASS: "Such as 2.5 kg or 6 lb",
    Dimension.VOLUME: "Such as 40 L or 10 gal",
    Dimension.COUNT: "Such as 240",
}


class InUnits(CalculationForm):
    """A calculation whose answer names amounts: `units` goes to its `work` with the inputs."""

    def clean(self) -> dict[str, Any]:
        return {**super().clean(), "units": units_of(self.actor)}


@dataclass(frozen=True)
class Known:
    """An input taken from the records: the text for the field, and where it comes from."""

    text: str
    source: str


@dataclass(frozen=True)
class Table:
    """A table of the answer, such as a plan's rows."""

    title: str
    heads: Sequence[str]
    rows: Sequence[Sequence[str]]
    comes_first: bool = False


@dataclass(frozen=True)
class Keep:
    """The entry an answer leads to, if the person says so, prefilled.

    `fields` by name; those of a row as `<lines>-<number>-<field>`, with `<lines>-rows`.
    """

    entry: str
    label: str
    fields: Mapping[str, str]


@dataclass(frozen=True)
class Answer:
    """The answer in words first, then the values it stands on.

    `verdict` is a word for the moment of decision ('close', 'below the rating by
    calculation'); `results` open to their working; `warnings` are sentences that must be
    read before acting; `sources` say where what is not in a `Result` comes from, and how
    good it is.
    """

    headline: str
    verdict: str = ""
    results: tuple[Result, ...] = ()
    tables: tuple[Table, ...] = ()
    warnings: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    keep: Keep | None = None

    @property
    def first_tables(self) -> list[Table]:
        """What is the answer itself, above what is to be heeded."""
        return [table for table in self.tables if table.comes_first]

    @property
    def later_tables(self) -> list[Table]:
        return [table for table in self.tables if not table.comes_first]


def keep_reading(lot: Lot | None, measurand: Measurand, value: str, how: str) -> Keep | None:
    """The reading entry, filled with what was worked out and how; None without a lot."""
    if lot is None:
        return None
    return Keep(
        entry="reading",
        label=f"Keep it as a reading of {lot}",
        fields={"lot": lot.code, "measurand": measurand.value, "value": value, "note": how},
    )


def known_lot(lot: Lot, field: str = "for_lot") -> dict[str, Known]:
    """The lot itself in its field; by default the one that tells where to keep the answer."""
    return {field: Known(lot.code, "the lot asked about")}


def nothing_known(lot: Lot) -> dict[str, Known]:
    """For calculations that no record can prefill."""
    return {}


def no_rows_known(lot: Lot) -> dict[str, list[dict[str, str]]]:
    """For calculations without rows, or whose rows no record can prefill."""
    return {}


@dataclass(frozen=True)
class Calculation:
    """One calculation. `work` takes the cleaned form by name and returns an `Answer`.

    `work` may raise `OutOfRange` or `ValidationError`; the page shows the sentence where a
    number would stand. `about` are the kinds of lot whose records can prefill the form.
    """

    slug: str
    title: str
    group: str
    question: str
    formula: str
    form: type[CalculationForm]
    work: Callable[..., Answer]
    about: tuple[LotKind, ...] = ()
    known: Callable[[Lot], dict[str, Known]] = nothing_known
    caution: str = ""
    see_also: tuple[str, ...] = field(default=())
    # Rows below the form: `work` takes each as a list by its name.
    lines: tuple[Lines, ...] = ()
    known_rows: Callable[[Lot], dict[str, list[dict[str, str]]]] = no_rows_known


def litres(quantity: Any) -> float:
    """A volume `Quantity` in litres."""
    return quantity.canonical / LITRE


def kilograms(quantity: Any) -> float:
    """A mass `Quantity` in kilograms."""
    return quantity.canonical / KILOGRAM
