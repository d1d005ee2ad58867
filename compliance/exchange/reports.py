"""A report: sheets of rows about a scope, as a workbook, as JSON, and on a page."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from decimal import Decimal

from django.utils import timezone

from brewlog.units import Dimension
from brewlog.when import When
from compliance.documents.page import Head
from compliance.documents.workbook import Cell, SheetOf, workbook_bytes

_UNITS = {Dimension.MASS: "kg", Dimension.VOLUME: "L", Dimension.COUNT: "pieces"}


@dataclass(frozen=True)
class ReportSheet(SheetOf):
    """A sheet with what it is about, and what is said where it has no rows."""

    about: str = ""
    none: str = "Nothing of that is recorded."


@dataclass(frozen=True)
class Report:
    """What was asked, and its sheets. `notes` are what a reader must know of them."""

    head: Head
    asked: str
    notes: tuple[str, ...]
    sheets: tuple[ReportSheet, ...]

    def to_json(self) -> str:
        """The same facts as JSON: each row under the names of its columns."""
        said = {
            "head": asdict(self.head),
            "asked": self.asked,
            "notes": self.notes,
            "sheets": [
                {
                    "name": sheet.name,
                    "about": sheet.about,
                    "rows": [dict(zip(sheet.heads, row, strict=True)) for row in sheet.rows],
                }
                for sheet in self.sheets
            ],
        }
        return json.dumps(said, ensure_ascii=False, indent=2) + "\n"


def in_figures(value: float) -> str:
    """A figure as it is read: at most ten of them, and never with an exponent (`0.000005`)."""
    return f"{Decimal(f'{value:.10g}'):f}"


def report_workbook(report: Report, at: dt.datetime) -> bytes:
    """The report's sheets, after one that says what was asked, by whom and when."""
    head = report.head
    about: list[tuple[Cell, Cell]] = [
        ("what", head.title),
        ("brewery", head.brewery),
        ("address", head.address),
        ("asked", report.asked),
        ("printed", f"{head.printed_at} ({head.time_zone}) by {head.printed_by}"),
        *(("note", words) for words in report.notes),
        *((sheet.name, sheet.about if sheet.rows else sheet.none) for sheet in report.sheets),
    ]
    sheets = [SheetOf("About", ("of", "says"), about), *report.sheets]
    return workbook_bytes(sheets, f"{head.title}: {report.asked}", at)


def in_units(canonical: int | None, dimension: str) -> float | int | None:
    """An amount in kilograms, litres or pieces, as a figure to sort and add."""
    if canonical is None:
        return None
    return canonical if dimension == Dimension.COUNT else canonical / 1_000_000


def unit_of(dimension: str) -> str:
    return _UNITS[Dimension(dimension)]


def day_of(at: dt.datetime | When) -> str:
    """The brewery's day of a time, as it sorts."""
    moment = at.at if isinstance(at, When) else at
    return timezone.localtime(moment).date().isoformat()


def lacking(needed: Iterable[tuple[str, object]]) -> str:
    """The names of what is empty, for the column that says so."""
    return ", ".join(name for name, value in needed if value in (None, ""))
