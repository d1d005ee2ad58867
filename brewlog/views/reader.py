"""How the person at hand reads amounts, temperatures and times."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.http import HttpRequest

from brewlog.models import User, day_first_for
from brewlog.units import (
    METRIC,
    US,
    Dimension,
    UnitSystem,
    amounts_in,
    show_quantity,
    show_temperature,
    temperatures_in,
)
from brewlog.when import When, dates_in, show_day, show_moment, show_when

NOTHING = "—"


@dataclass(frozen=True)
class Amount:
    """A canonical quantity on its way to a page: mg, µL or pieces."""

    canonical: int | None
    dimension: str


@dataclass(frozen=True)
class OnHand:
    """What the entries leave of a lot, on its way to a page, in its canonical unit.

    Less than nothing where more left than was there: nothing is on hand then, and the difference
    is unexplained, as the lot's own page says (`ledger.MassBalance`).
    """

    books: int | None
    dimension: str


@dataclass(frozen=True)
class Celsius:
    """A temperature on its way to a page."""

    degrees: Decimal | None


class Words(str):
    """A sentence on its way to a page: its dates and temperatures become the reader's."""

    __slots__ = ()


class Account(Words):
    """A sentence of worked-out amounts, without names: its amounts become the reader's too."""

    __slots__ = ()


@dataclass(frozen=True)
class Reader:
    """Units and date order of one person in one brewery."""

    system: UnitSystem = METRIC
    day_first: bool = True

    def amount(self, canonical: int | None, dimension: str) -> str:
        if canonical is None:
            return NOTHING
        shown = show_quantity(abs(canonical), dimension, self.system)
        return f"\u2212{shown}" if canonical < 0 else shown

    def on_hand(self, books: int | None, dimension: str) -> str:
        """How much there is, and beside it what more left than was there."""
        if books is None or books >= 0:
            return self.amount(books, dimension)
        return f"{self.amount(0, dimension)}, {self.amount(-books, dimension)} unexplained"

    def temperature(self, celsius: Decimal | None) -> str:
        if celsius is None:
            return NOTHING
        return show_temperature(celsius, self.system).replace("-", "\u2212")

    def day(self, value: dt.date | None) -> str:
        """4 Mar 2026 or Mar 4, 2026."""
        return NOTHING if value is None else show_day(value, self.day_first)

    def moment(self, value: dt.datetime | None) -> str:
        """To the minute, on the brewery's clock."""
        return NOTHING if value is None else show_moment(value, self.day_first)

    def when(self, value: When | None) -> str:
        """As closely as it is known."""
        return NOTHING if value is None else show_when(value, self.day_first)

    def words(self, text: str) -> str:
        """A sentence with its dates in the reader's order, its temperatures in the reader's
        unit."""
        read = amounts_in(text, self.system) if isinstance(text, Account) else text
        return dates_in(temperatures_in(read, self.system), self.day_first)

    def show(self, value: Any) -> str:
        """Any value of a record as words: the same in pages and in downloads."""
        if value is None or value == "":
            return NOTHING
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, Words):
            return self.words(value)
        if isinstance(value, Amount):
            return self.amount(value.canonical, value.dimension)
        if isinstance(value, OnHand):
            return self.on_hand(value.books, value.dimension)
        if isinstance(value, Celsius):
            return self.temperature(value.degrees)
        if isinstance(value, When):
            return self.when(value)
        if isinstance(value, dt.datetime):
            return self.moment(value)
        if isinstance(value, dt.date):
            return self.day(value)
        if isinstance(value, int):
            return show_quantity(value, Dimension.COUNT).replace("-", "\u2212")
        if isinstance(value, Decimal):
            return plain_decimal(value)
        return str(value)


def plain_decimal(value: Decimal) -> str:
    """3.4100 as 3.41: the database pads what was typed."""
    text = f"{value:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return text.replace("-", "\u2212")


def reader_of(request: HttpRequest) -> Reader:
    """The reader of this request; metric and day first before anything is known."""
    system = US if getattr(request.user, "units", "") == User.UnitSystem.US else METRIC
    return Reader(system, day_first_for(request.user, getattr(request, "brewery", None)))
