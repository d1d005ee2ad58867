"""From values to places on a picture, and the round values written along its sides."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from enum import StrEnum
from zoneinfo import ZoneInfo

Tick = tuple[float, str]

_DAY_H = 24.0


class Axis(StrEnum):
    """What stands along the foot of a picture."""

    HOURS = "hours"  # elapsed, in days where there are many
    DATES = "dates"  # seconds since 1970, shown as days in the brewery's zone
    NUMBERS = "numbers"


@dataclass(frozen=True)
class Scale:
    """A stretch of values laid along a stretch of the picture."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)


def round_ticks(low: float, high: float, most: int) -> list[Tick]:
    """Round values from low to high, at most so many, at 1, 2 or 5 times a power of ten."""
    rough = (high - low) / max(1, most - 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(m * power for m in (1, 2, 5, 10) if m * power >= rough * (1 - 1e-9))
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [(n * step, f"{n * step:.{places}f}".replace("-", "−")) for n in range(first, last + 1)]


def hour_ticks(high: float, most: int) -> tuple[list[Tick], str]:
    """Elapsed time from nothing, and its unit: hours up to five days, days beyond."""
    unit, length = ("hours", 1.0) if high <= 5 * _DAY_H else ("days", _DAY_H)
    steps = (1, 2, 3, 6, 12, 24, 48) if unit == "hours" else (1, 2, 3, 5, 7, 14, 28, 56, 112, 365)
    whole = high / length
    step = next((each for each in steps if whole / each <= most - 1), math.ceil(whole))
    return [(n * length, str(n)) for n in range(0, math.floor(whole + 1e-9) + 1, step)], unit


def date_ticks(low: float, high: float, most: int, zone: str) -> list[Tick]:
    """Midnights in the zone: some days apart, or the first days of months."""
    tz = ZoneInfo(zone)
    first = dt.datetime.fromtimestamp(low, tz).date()
    days = (high - low) / 86400
    gap = next((each for each in (1, 2, 7, 14, 28) if days / each <= most - 1), 0)
    if gap:
        dates = [first + dt.timedelta(days=n * gap) for n in range(1, int(days / gap) + 2)]
        return _within(low, high, [(d, f"{d.day} {d:%b}") for d in dates], tz)
    months = next((n for n in (1, 3, 6, 12, 24, 60) if days / 30 / n <= most - 1), 120)
    found = []
    this_month = first.year * 12 + first.month - 1
    for number in range(this_month, this_month + 3000):
        day = dt.date(number // 12, number % 12 + 1, 1)
        if dt.datetime.combine(day, dt.time(), tz).timestamp() > high:
            break
        if number % months == 0:
            found.append((day, f"{day:%b %Y}"))
    return _within(low, high, found, tz)


def _within(low: float, high: float, dates: list[tuple[dt.date, str]], tz: ZoneInfo) -> list[Tick]:
    ticks = [(dt.datetime.combine(day, dt.time(), tz).timestamp(), name) for day, name in dates]
    return [(at, name) for at, name in ticks if low <= at <= high]
