"""Points in time as people give them: to the minute, or only the day.

A time known to the day stands for the whole day in the brewery's time zone, so that
nothing is called earlier or later than the record can show.

A sentence the program makes holds its dates as `str` writes them, 2026-03-04: so it is kept,
signed, handed over and read by machines. Who shows it to a person puts them in that person's
order (`dates_in`), on paper in the brewery's.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from enum import StrEnum

from django.utils import timezone


class Precision(StrEnum):
    """How closely a time is known."""

    MINUTE = "minute"
    DAY = "day"


@dataclass(frozen=True, order=True)
class When:
    """An aware start and how closely it is known."""

    at: dt.datetime
    precision: Precision = Precision.MINUTE

    @property
    def ends(self) -> dt.datetime:
        """The latest moment it can have been (exclusive for a day)."""
        if self.precision == Precision.MINUTE:
            return self.at
        return _start_of(timezone.localtime(self.at).date() + dt.timedelta(days=1))

    def provably_before(self, other: When) -> bool:
        """Whether this was certainly over when the other began."""
        if self.precision == Precision.MINUTE:
            return self.at < other.at
        return self.ends <= other.at

    def __str__(self) -> str:
        local = timezone.localtime(self.at)
        return local.strftime("%Y-%m-%d" if self.precision == Precision.DAY else "%Y-%m-%d %H:%M")


# Showing -----------------------------------------------------------------------------------


def show_day(day: dt.date, day_first: bool) -> str:
    """4 Mar 2026 or Mar 4, 2026: the month in letters cannot be misread."""
    if day_first:
        return f"{day.day} {day:%b} {day.year}"
    return f"{day:%b} {day.day}, {day.year}"


def show_moment(moment: dt.datetime, day_first: bool) -> str:
    """To the minute, on the brewery's clock."""
    local = timezone.localtime(moment)
    return f"{show_day(local.date(), day_first)} {local:%H:%M}"


def show_when(when: When, day_first: bool) -> str:
    """As closely as it is known."""
    if when.precision == Precision.DAY:
        return show_day(timezone.localtime(when.at).date(), day_first)
    return show_moment(when.at, day_first)


# What stays as it is: how a date is to be typed, what stands in quotes, a code that heads a
# sentence ("2026-03-04: pH ..." of the lot of that code), and a part of a longer code or number.
_DATES_IN_WORDS = re.compile(
    r"(?:\b(?:[Ww]rite it|written) like:? .*|(?<!\w)'[^']*'(?!\w)|\A\d{4}-\d\d-\d\d: )"
    r"|(?<![\w./#:-])(?P<day>\d{4}-\d\d-\d\d)"
    r"(?: (?P<clock>\d\d:\d\d)(?![\w+-]|[:.]\d)|(?![\w/+-]|:\d|\.\w| \d\d:\d\d))",
    re.ASCII,
)


def dates_in(text: str, day_first: bool) -> str:
    """A sentence with its dates, 2026-03-04 or 2026-03-04 14:20, in an order people read.

    A lot whose whole code is such a date reads as that day where a sentence names it in its
    middle.
    """

    def shown(found: re.Match[str]) -> str:
        if not found["day"]:
            return found[0]
        try:
            day = show_day(dt.date.fromisoformat(found["day"]), day_first)
        except ValueError:
            return found[0]
        return f"{day} {found['clock']}" if found["clock"] else day

    return _DATES_IN_WORDS.sub(shown, text)


class WhenError(ValueError):
    """A date or time that cannot be read. The message says what to write."""


def now() -> When:
    """This minute."""
    return When(timezone.now().replace(second=0, microsecond=0))


def on_day(day: dt.date) -> When:
    """Some time on that day, in the brewery's time zone."""
    return When(_start_of(day), Precision.DAY)


def _start_of(day: dt.date) -> dt.datetime:
    """The moment the day begins, also where the clocks skip midnight or show it twice."""
    midnight = dt.datetime.combine(day, dt.time(), timezone.get_current_timezone())
    # By way of UTC, a midnight that was skipped becomes the moment the clocks went forward.
    return midnight.astimezone(dt.UTC)


def _local(naive: dt.datetime) -> dt.datetime:
    """The naive time in the brewery's zone; the clock changes ask for an answer."""
    zone = timezone.get_current_timezone()
    first = naive.replace(tzinfo=zone, fold=0)
    second = naive.replace(tzinfo=zone, fold=1)
    if first.utcoffset() == second.utcoffset():
        return first
    if first.astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None) != naive:
        raise WhenError(
            f"{naive:%Y-%m-%d %H:%M} did not happen: the clocks went forward. "
            "Write the time the new clock showed."
        )
    raise WhenError(
        f"{naive:%Y-%m-%d %H:%M} happened twice: the clocks went back. "
        f"Write it with its offset, {first.isoformat(timespec='minutes')} for the first "
        f"or {second.isoformat(timespec='minutes')} for the second."
    )


_DATE = re.compile(r"^(\d{1,4})([-./])(\d{1,2})\2(\d{1,4})(?:,?[ T]+(.+))?$", re.ASCII)
_TIME = re.compile(
    r"^(\d{1,2})(?:[:.h](\d{2})(?::\d{2}(?:\.\d+)?)?)?\s*([ap]m)?$", re.ASCII | re.IGNORECASE
)
_OFFSET = re.compile(r"\s*(Z|[-+]\d{2}(?::?\d{2})?)$", re.ASCII | re.IGNORECASE)
# A sheet's serial days: 20000 is in 1954 and 80000 in 2119, so lot codes are not taken for dates.
_SERIAL = re.compile(r"^([2-7]\d{4})(\.\d+)?$", re.ASCII)
_SERIAL_EPOCH = dt.datetime(1899, 12, 30)  # a sheet's dates know no zone
# Years outside these are slips of the finger: 0026, 2206.
_YEARS = range(1954, 2120)


def parse_when(text: str, day_first: bool = True) -> When:
    """Read a date or a date and time.

    ISO (`2026-03-04`, `2026-03-04 14:20`, with or without an offset), the brewery's own
    order (`4/3/2026` or `3/4/2026`, by `day_first`), `now`, `today`, and a spreadsheet's
    serial day. A date alone is known to the day. Raises `WhenError`.
    """
    cleaned = " ".join(text.split())
    if cleaned.lower() == "now":
        return now()
    if cleaned.lower() == "today":
        return on_day(timezone.localdate())
    serial = _SERIAL.match(cleaned)
    if serial:
        return _from_serial(float(cleaned))
    match = _DATE.match(cleaned)
    if not match:
        raise WhenError(f"'{text}' is not a date. Write it like 2026-03-04 or 2026-03-04 14:20.")
    first, _, second, third, clock = match.groups()
    day = _date(text, first, second, third, day_first)
    return on_day(day) if clock is None else _timed(text, day, clock)


def _from_serial(days: float) -> When:
    moment = _SERIAL_EPOCH + dt.timedelta(minutes=round(days * 24 * 60))
    if days == int(days):
        return on_day(moment.date())
    return When(_local(moment))


def _date(text: str, first: str, second: str, third: str, day_first: bool) -> dt.date:
    if len(first) == 4:
        year, month, day = int(first), int(second), int(third)
    elif len(third) == 4:
        year = int(third)
        day, month = (int(first), int(second)) if day_first else (int(second), int(first))
    else:
        raise WhenError(f"'{text}' has no four-figure year. Write it like 2026-03-04.")
    if year not in _YEARS:
        raise WhenError(f"'{text}' is in the year {year}. Write it like 2026-03-04.")
    try:
        return dt.date(year, month, day)
    except ValueError:
        order = "day, month, year" if day_first else "month, day, year"
        raise WhenError(
            f"'{text}' is not a day in the calendar (read as {order}). Write it like 2026-03-04."
        ) from None


def _timed(text: str, day: dt.date, clock: str) -> When:
    offset = _OFFSET.search(clock)
    time = _time_of_day(clock[: offset.start()] if offset else clock)
    naive = dt.datetime.combine(day, time)
    if not offset:
        return When(_local(naive))
    try:
        return When(dt.datetime.fromisoformat(f"{naive.isoformat()}{offset[1].upper()}"))
    except ValueError:
        raise WhenError(
            f"'{text}' has an offset that cannot be read. Write it like 2026-03-04 14:20+01:00."
        ) from None


def _time_of_day(clock: str) -> dt.time:
    """`14:20`, `14.20`, `14h20`, `2:20 pm`, `2 pm`; seconds are left out."""
    match = _TIME.match(clock)
    half = (match[3] or "").lower() if match else ""
    if not match or not (match[2] or half):
        raise WhenError(f"'{clock}' is not a time of day. Write it like 14:20.")
    hour, minute = int(match[1]), int(match[2] or 0)
    if half and not 1 <= hour <= 12:
        raise WhenError(f"'{clock}' is not a time of day. Write it like 2:20 pm or 14:20.")
    if half:
        hour = hour % 12 + (12 if half == "pm" else 0)
    try:
        return dt.time(hour, minute)
    except ValueError:
        raise WhenError(f"'{clock}' is not a time of day. Write it like 14:20.") from None
