"""Workbooks (.xlsx) as grids of text, each cell as a person would have typed it."""

from __future__ import annotations

import datetime as dt
import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import openpyxl
from openpyxl.cell.cell import Cell
from openpyxl.utils.exceptions import InvalidFileException
from openpyxl.worksheet.worksheet import Worksheet

Rows = list[tuple[int, list[str]]]

# A number format that shows a unit behind the number: `0.0 "kg"`, `#,##0.00\ "L"`.
_SHOWN_UNIT = re.compile(r'^[#0,.?\s\\]+"\s*([^"]+?)\s*"(?:;.*)?$')
_SHOWS_A_CLOCK = re.compile(r"[hH]")


class WorkbookError(ValueError):
    """A workbook that cannot be opened. The message says why."""


@dataclass(frozen=True)
class BadCell:
    """A cell that shows nothing readable: its row number, its place in the row (from 0)."""

    row: int
    place: int
    value: str
    reason: str


def workbook_grids(content: bytes) -> Iterator[tuple[str, Rows, bool, list[BadCell]]]:
    """Each sheet's title, rows that hold anything, whether it is hidden, and its bad cells.

    Raises `WorkbookError`.
    """
    book = _open(content, data_only=False)
    results = None
    if any(_has_formula(sheet) for sheet in book.worksheets):
        results = _open(content, data_only=True)
    for sheet in book.worksheets:
        shown = results[sheet.title] if results is not None else sheet
        bad: list[BadCell] = []
        rows = _rows(sheet, shown, bad)
        yield sheet.title, rows, sheet.sheet_state != "visible", bad


def _open(content: bytes, *, data_only: bool) -> openpyxl.Workbook:
    try:
        with warnings.catch_warnings():
            # It says which decoration of a sheet it does not read: none is needed here.
            warnings.simplefilter("ignore", UserWarning)
            return openpyxl.load_workbook(io.BytesIO(content), data_only=data_only)
    except (InvalidFileException, KeyError, ValueError, OSError, zipfile.BadZipFile) as error:
        raise WorkbookError(f"it is damaged, locked, or not an .xlsx file ({error})") from None


def _has_formula(sheet: Worksheet) -> bool:
    return any(cell.data_type == "f" for row in sheet.iter_rows() for cell in row)


def _rows(sheet: Worksheet, shown: Worksheet, bad: list[BadCell]) -> Rows:
    below = _merged_downwards(sheet)
    rows: Rows = []
    for formulas, results in zip(sheet.iter_rows(), shown.iter_rows(), strict=True):
        number = formulas[0].row
        cells: list[str] = []
        for typed, result in zip(formulas, results, strict=True):
            top = below.get((typed.row, typed.column))
            if top is not None:
                typed, result = sheet.cell(*top), shown.cell(*top)
            reason = _unreadable(typed, result)
            if reason:
                bad.append(BadCell(number, len(cells), str(typed.value), reason))
            cells.append("" if reason else cell_text(result))
        while cells and not cells[-1]:
            cells.pop()
        if cells:
            rows.append((number, cells))
    return rows


def _merged_downwards(sheet: Worksheet) -> dict[tuple[int, int], tuple[int, int]]:
    """Cells hidden under a cell above that they were merged with: they show its value.

    Cells merged sideways are titles or headings; only their first cell counts.
    """
    return {
        (row, area.min_col): (area.min_row, area.min_col)
        for area in sheet.merged_cells.ranges
        if area.min_col == area.max_col
        for row in range(area.min_row + 1, area.max_row + 1)
    }


def _unreadable(typed: Cell, result: Cell) -> str:
    if result.data_type == "e":
        return "The cell shows an error. Mend the formula, or type the value."
    if typed.data_type == "f" and result.value is None:
        return (
            "The formula was saved without its result. Open the file in the spreadsheet "
            "program and save it again, or type the value."
        )
    return ""


def cell_text(cell: Cell) -> str:
    """The cell as a person would have typed it: `2026-03-04 14:20`, `1024`, `12.5 kg`, `yes`."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return _number_text(value, cell.number_format)
    if isinstance(value, dt.datetime):
        return _moment_text(value, cell.number_format)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, dt.time):
        return value.strftime("%H:%M")
    return _tidy(value)


def _tidy(value: Any) -> str:
    return str(value).replace("\u00a0", " ").replace("\u200b", "").strip()


def _number_text(value: float, number_format: str) -> str:
    # Fifteen figures are what a spreadsheet program keeps: 0.1 + 0.2 is 0.3 there.
    percent = number_format.rstrip().endswith("%")
    text = format(Decimal(format(value * 100 if percent else value, ".15g")), "f")
    unit = _SHOWN_UNIT.match(number_format)
    return f"{text} {unit[1]}" if unit else text


def _moment_text(value: dt.datetime, number_format: str) -> str:
    # The clock is kept as a fraction of a day: 14:20 can come out as 14:19:59.999.
    moment = value + dt.timedelta(seconds=30)
    if (moment.hour or moment.minute) or _SHOWS_A_CLOCK.search(number_format):
        return moment.strftime("%Y-%m-%d %H:%M")
    return moment.strftime("%Y-%m-%d")
