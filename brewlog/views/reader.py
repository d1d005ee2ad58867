"""How the person at hand reads amounts, temperatures and times."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.http import HttpRequest
from django.utils import timezone

from brewlog.models import User, day_first_for
from brewlog.units import (
    METRIC,
    US,
    Dimension,
    UnitSystem,
    show_quantity,
    show_temperature,
    temperatures_in,
)
from brewlog.when import Precision, When

NOTHING = "—"

# A day as the record writes it inside a sentence, with its time or without: 2026-11-02 09:44.
_DAY_IN_WORDS = re.compile(r"(?<![\w./:-])\d{4}-\d\d-\d\d(?![\w/-]|\.\w)")


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
    """A sentence on its way to a page: its temperatures and days become the reader's."""

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
        """4 Mar 2026 or Mar 4, 2026: the month in letters cannot be misread."""
        if value is None:
            return NOTHING
        if self.day_first:
            return f"{value.day} {value:%b} {value.year}"
        return f"{value:%b} {value.day}, {value.year}"

    def moment(self, value: dt.datetime | None) -> str:
        """To the minute, on the brewery's clock."""
        if value is None:
            return NOTHING
        local = timezone.localtime(value)
        return f"{self.day(local.date())} {local:%H:%M}"

    def when(self, value: When | None) -> str:
        """As closely as it is known."""
        if value is None:
            return NOTHING
        if value.precision == Precision.DAY:
            return self.day(timezone.localtime(value.at).date())
        return self.moment(value.at)

    def words(self, text: str) -> str:
        """A sentence, its temperatures in the reader's unit and its days as `day` shows them."""
        return _DAY_IN_WORDS.sub(self._day_found, temperatures_in(text, self.system))

    def _day_found(self, found: re.Match[str]) -> str:
        try:
            return self.day(dt.date.fromisoformat(found[0]))
        except ValueError:
            return found[0]  # a number that only looks like a day

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
