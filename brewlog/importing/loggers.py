"""Files of temperature loggers, as a row of samples on one clock.

A logger's file is a text with a time and a temperature in each row, after lines about the
logger itself. The mark between the cells, the columns, the unit and the order of days are
found, or told. Times are read on the brewery's clock, through its changes; samples are to the
minute, and of several in a minute the warmest is kept.
"""

from __future__ import annotations

import csv
import datetime as dt
import re
import zoneinfo
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from django.utils import timezone

from brewlog.importing.reading import decode, plain_cell
from brewlog.units import UnitError, parse_temperature
from brewlog.when import Precision, WhenError, parse_when

MOST_ROWS = 250_000
_DELIMITERS = (",", ";", "\t", "|", " ")
# So many lines may stand before the first sample.
_PREAMBLE = 80
# Letters shown of a row that no cells can be made of.
_SHOWN = 80
_TIME_WORDS = ("time", "date", "datum", "zeit", "hora", "fecha", "heure")
_DATE_ONLY = ("date", "datum", "fecha")
_TEMPERATURE_WORDS = ("temp", "celsius", "fahrenheit", "°c", "°f", "ºc", "ºf")
_UNIT = re.compile(r"(?:[°º(\[]\s*|\b)(c|f|celsius|fahrenheit)\b", re.IGNORECASE)
_OFFSET = re.compile(r"\d(?:Z|\s*[-+]\d{2}:?\d{2})$", re.IGNORECASE)


class LoggerFileError(ValueError):
    """A file that cannot be read as a logger's. The message says what to tell or mend."""


class Clock(StrEnum):
    """What the logger's clock shows."""

    LOCAL = "local"  # the brewery's time, changed in spring and autumn
    STANDARD = "standard"  # the brewery's winter time all year
    UTC = "utc"


@dataclass(frozen=True)
class Told:
    """What a person tells of the file. Columns by heading or by number; '' is found out.

    `unit` is C or F, used where the file itself does not say.
    """

    time_column: str = ""
    temperature_column: str = ""
    unit: str = ""
    day_first: bool = True
    clock: Clock = Clock.LOCAL


@dataclass(frozen=True)
class Sample:
    """A temperature at a minute (UTC), in °C, and as the file had it."""

    at: dt.datetime
    celsius: Decimal
    text: str


@dataclass(frozen=True)
class Unread:
    """A row that was left out, and why."""

    row: int
    value: str
    reason: str


@dataclass
class LoggerFile:
    """What a file holds: samples by time, rows that could not be read, and what was found."""

    time_column: str
    temperature_column: str
    unit: str
    samples: list[Sample] = field(default_factory=list)
    unread: list[Unread] = field(default_factory=list)
    repeated: int = 0


Row = tuple[int, list[str]]


@dataclass(frozen=True)
class _Columns:
    """Where the times (date and time may stand apart) and the temperature are."""

    first_row: int
    times: tuple[int, ...]
    temperature: int
    headings: tuple[str, ...] = ()

    def name(self, places: Sequence[int]) -> str:
        shown = [
            self.headings[place] if place < len(self.headings) else f"column {place + 1}"
            for place in places
        ]
        return " and ".join(shown)


def read_logger_file(content: bytes, zone: zoneinfo.ZoneInfo, told: Told) -> LoggerFile:
    """Read a logger's file. Raises `LoggerFileError` where no times and temperatures are found,
    or the unit is neither in the file nor told."""
    text = decode(content).replace("\0", "")
    columns, rows = _best_table(text, told)
    if len(rows) > MOST_ROWS:
        raise LoggerFileError(f"The file has more than {MOST_ROWS} rows. Send it in parts.")
    unit = _unit_of(columns, rows, told)
    found = LoggerFile(columns.name(columns.times), columns.name([columns.temperature]), unit)
    _read_rows(found, columns, rows, zone, told)
    if not found.samples:
        why = f" Row {found.unread[0].row}: {found.unread[0].reason}" if found.unread else ""
        raise LoggerFileError(f"No temperature with its time was found.{why}")
    return found


# Finding the table -----------------------------------------------------------------------


def _best_table(text: str, told: Told) -> tuple[_Columns, list[Row]]:
    """The table by the mark between cells that makes most rows of it readable."""
    best: tuple[int, _Columns, list[Row]] | None = None
    for delimiter in _DELIMITERS:
        rows = list(_rows(text, delimiter))
        columns = _columns(rows, told)
        if columns is None:
            continue
        body = [row for row in rows if row[0] >= columns.first_row]
        score = sum(_readable(cells, columns, told) for _, cells in body[:200])
        if score and (best is None or score > best[0]):
            best = (score, columns, body)
    if best is None:
        raise LoggerFileError(
            "No column of times and none of temperatures was found. Name them by their headings "
            "or numbers, and see that each row has a date, a time and a temperature."
        )
    return best[1], best[2]


def _rows(text: str, delimiter: str) -> Iterator[Row]:
    for number, line in enumerate(text.splitlines(), start=1):
        cells = [plain_cell(cell) for cell in _cells(line, delimiter)]
        if any(cells):
            yield number, cells


def _cells(line: str, delimiter: str) -> list[str]:
    """A row is a line: a quotation mark that is not closed takes no other row along."""
    if delimiter == " ":
        return line.split()
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:
        return [line[:_SHOWN]]  # No logger writes so long a cell: it is listed as not read.


def _columns(rows: list[Row], told: Told) -> _Columns | None:
    for number, cells in rows[:_PREAMBLE]:
        columns = _by_heading(number, cells, told) or _by_position(number, cells, told)
        if columns is not None:
            return columns
    return None


def _by_heading(number: int, cells: list[str], told: Told) -> _Columns | None:
    """The columns where the row is one of headings."""
    if any(_moment(cell, told) for cell in cells if cell):
        return None
    lowered = [cell.lower() for cell in cells]
    temperatures = _called(lowered, told.temperature_column, _TEMPERATURE_WORDS)
    times = _called(lowered, told.time_column, _TIME_WORDS)
    times = [place for place in times if place not in temperatures[:1]]
    if not temperatures or not times:
        return None
    return _Columns(number + 1, _time_places(lowered, times), temperatures[0], tuple(cells))


def _called(headings: list[str], told: str, words: Sequence[str]) -> list[int]:
    if told.isdigit():
        place = int(told) - 1
        return [place] if place < len(headings) else []
    if told:
        return [place for place, heading in enumerate(headings) if heading == told.lower()]
    return [
        place for place, heading in enumerate(headings) if any(word in heading for word in words)
    ]


def _time_places(headings: list[str], times: list[int]) -> tuple[int, ...]:
    """The date and, where it stands apart, the time of day."""
    first = headings[times[0]]
    is_date_alone = any(word in first for word in _DATE_ONLY) and not any(
        word in first for word in ("time", "zeit", "hora", "heure")
    )
    if is_date_alone and len(times) > 1:
        return (times[0], times[1])
    return (times[0],)


def _by_position(number: int, cells: list[str], told: Told) -> _Columns | None:
    """The columns where the row holds a sample already."""
    times = _numbered(told.time_column, cells)
    if times is None:
        times = next(
            (
                places
                for place in range(len(cells))
                for places in ((place,), (place, place + 1))
                if _moment(_joined(cells, places), told)
            ),
            None,
        )
    temperature = _numbered(told.temperature_column, cells)
    if times is None or (told.temperature_column and temperature is None):
        return None
    if temperature is None:
        after = range(times[-1] + 1, len(cells))
        temperature = next(((place,) for place in after if _degrees(cells[place], "C")), None)
    return None if temperature is None else _Columns(number, times, temperature[0])


def _numbered(told: str, cells: list[str]) -> tuple[int, ...] | None:
    if told.isdigit() and 0 < int(told) <= len(cells):
        return (int(told) - 1,)
    return None


def _joined(cells: list[str], places: Sequence[int]) -> str:
    return " ".join(cells[place] for place in places if place < len(cells)).strip()


def _readable(cells: list[str], columns: _Columns, told: Told) -> bool:
    degrees = _joined(cells, [columns.temperature])
    return bool(_moment(_joined(cells, columns.times), told) and _degrees(degrees, "C"))


# Reading cells ---------------------------------------------------------------------------


def _moment(text: str, told: Told) -> dt.datetime | None:
    """The time as written: aware where it has an offset, else bare. None for anything else."""
    if not text or not text[0].isdigit():
        return None
    try:
        with timezone.override(dt.UTC):
            when = parse_when(text, told.day_first)
    except WhenError:
        return None
    if when.precision != Precision.MINUTE:
        return None
    at = when.at.astimezone(dt.UTC)
    return at if _OFFSET.search(text) else at.replace(tzinfo=None)


def _degrees(text: str, unit: str) -> Decimal | None:
    # A comma alone is a decimal comma: no room is in the thousands.
    tidy = text.replace(",", ".") if text.count(",") == 1 and "." not in text else text
    try:
        return parse_temperature(tidy, unit)
    except UnitError:
        return None


def _unit_of(columns: _Columns, rows: list[Row], told: Told) -> str:
    """C or F: of the heading, of the cells, or as told."""
    place = columns.temperature
    said = [columns.headings[place]] if place < len(columns.headings) else []
    said += [cells[place] for _, cells in rows[:1] if place < len(cells)]
    for text in said:
        match = _UNIT.search(text)
        if match:
            return match[1][0].upper()
    if not told.unit:
        raise LoggerFileError(
            "The file does not say whether its temperatures are in °C or in °F. Choose it."
        )
    return told.unit


def _read_rows(
    found: LoggerFile,
    columns: _Columns,
    rows: list[Row],
    zone: zoneinfo.ZoneInfo,
    told: Told,
) -> None:
    written: list[tuple[int, str, dt.datetime, Decimal, str]] = []
    for number, cells in rows:
        time_text = _joined(cells, columns.times)
        degrees_text = _joined(cells, [columns.temperature])
        moment, degrees = _moment(time_text, told), _degrees(degrees_text, found.unit)
        if moment is None:
            found.unread.append(Unread(number, time_text, "no date with a time of day"))
        elif degrees is None:
            found.unread.append(Unread(number, degrees_text, "no temperature"))
        else:
            written.append((number, time_text, moment, degrees, degrees_text))
    if _is_newest_first([each[2] for each in written]):
        written.reverse()
    clock = _Reckoner(zone, told.clock)
    warmest: dict[dt.datetime, Sample] = {}
    for number, time_text, moment, degrees, degrees_text in written:
        at = clock.instant(moment)
        if at is None:
            found.unread.append(Unread(number, time_text, _DID_NOT_HAPPEN))
            continue
        there = warmest.get(at)
        found.repeated += there is not None
        if there is None or degrees > there.celsius:
            warmest[at] = Sample(at, degrees, _shown(degrees_text, found.unit))
    found.samples = [warmest[at] for at in sorted(warmest)]
    found.unread.sort(key=lambda each: each.row)


def _shown(text: str, unit: str) -> str:
    """As the file had it, with its unit: at most as long as a reading's text."""
    return f"{text} °{unit}" if text[-1:].isdigit() else text


_DID_NOT_HAPPEN = (
    "the clocks went forward over this time; if the logger keeps winter time all year, say so"
)


def _is_newest_first(moments: list[dt.datetime]) -> bool:
    bare = [moment.replace(tzinfo=None) for moment in moments]
    falls = sum(later < earlier for earlier, later in zip(bare, bare[1:], strict=False))
    rises = sum(later > earlier for earlier, later in zip(bare, bare[1:], strict=False))
    return falls > rises


class _Reckoner:
    """Turns the logger's clock into moments, in the order of the file.

    In the hour that the brewery's clocks show twice, the first round lasts until the times
    jump back.
    """

    def __init__(self, zone: zoneinfo.ZoneInfo, clock: Clock) -> None:
        self.zone, self.clock = zone, clock
        self.before: dt.datetime | None = None
        self.fold = 0

    def instant(self, moment: dt.datetime) -> dt.datetime | None:
        """The moment in UTC; None for a time that the clocks skipped."""
        if moment.tzinfo is not None:
            return moment
        if self.clock == Clock.UTC:
            return moment.replace(tzinfo=dt.UTC)
        if self.clock == Clock.STANDARD:
            local = moment.replace(tzinfo=self.zone)
            standard = (local.utcoffset() or dt.timedelta()) - (local.dst() or dt.timedelta())
            return (moment - standard).replace(tzinfo=dt.UTC)
        return self._on_the_wall(moment)

    def _on_the_wall(self, moment: dt.datetime) -> dt.datetime | None:
        first = moment.replace(tzinfo=self.zone, fold=0)
        second = moment.replace(tzinfo=self.zone, fold=1)
        if first.utcoffset() == second.utcoffset():
            self.fold, self.before = 0, moment
            return first.astimezone(dt.UTC)
        if first.astimezone(dt.UTC).astimezone(self.zone).replace(tzinfo=None) != moment:
            return None
        if self.before is not None and moment < self.before:
            self.fold = 1
        self.before = moment
        return (second if self.fold else first).astimezone(dt.UTC)
