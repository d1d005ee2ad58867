"""Workbooks and CSV files whose bytes depend on what is in them, and on nothing else."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import zipfile
from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

from openpyxl import Workbook
from openpyxl.cell.cell import Cell as SheetCell
from openpyxl.styles import Alignment, Font
from openpyxl.styles.cell_style import StyleArray
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from brewlog.spreadsheets import fitting, harmless

Cell = str | int | float | None

_MODIFIED = re.compile(rb"(<dcterms:modified[^>]*>)[^<]*(</dcterms:modified>)")
_WIDEST = 60


@dataclass(frozen=True)
class SheetOf:
    """One sheet: its name, its column heads, its rows."""

    name: str
    heads: Sequence[str]
    rows: Sequence[Sequence[Cell]]


def workbook_bytes(sheets: Sequence[SheetOf], title: str, at: dt.datetime) -> bytes:
    """An XLSX file; `at` stands as when it was made, in the file and in its zip."""
    book = Workbook()
    book.remove(book.active)
    for sheet in sheets:
        _write(book, sheet)
    naive = at.astimezone(dt.UTC).replace(tzinfo=None, microsecond=0)
    book.properties.title = title
    book.properties.creator = "brewlog"
    book.properties.created = naive
    raw = io.BytesIO()
    book.save(raw)
    return _same_every_time(raw, naive)


def _write(book: Workbook, sheet: SheetOf) -> None:
    page = book.create_sheet(sheet.name)
    page.append(list(sheet.heads))
    style = _cell_style(page)
    for row_number, row in enumerate(sheet.rows, start=2):
        for column, value in enumerate(row, start=1):
            held = fitting(value) if isinstance(value, str) else value
            cell = page.cell(row=row_number, column=column, value=held)
            if isinstance(value, str):
                # A text that begins with = stays a text.
                cell.data_type = "s"
            cell._style = copy(style)
    for column, head in enumerate(sheet.heads, start=1):
        page.cell(row=1, column=column).font = Font(bold=True)
        longest = max([len(head), *(len(str(row[column - 1] or "")) for row in sheet.rows)])
        page.column_dimensions[get_column_letter(column)].width = min(longest, _WIDEST) + 2
    page.freeze_panes = "A2"
    page.auto_filter.ref = page.dimensions
    page.print_title_rows = "1:1"
    page.page_setup.orientation = "landscape"
    page.page_setup.fitToHeight = 0
    page.sheet_properties.pageSetUpPr.fitToPage = True


def _cell_style(page: Worksheet) -> StyleArray:
    """How every cell below the heads stands. The book looks each style up among its own: asked
    once and copied, not cell by cell."""
    cell = SheetCell(page)
    cell.alignment = Alignment(vertical="top", wrap_text=True)
    return cell._style


def _same_every_time(raw: io.BytesIO, at: dt.datetime) -> bytes:
    """The same workbook with the times of its zip and its last change fixed."""
    fixed = io.BytesIO()
    stamp = f"{at:%Y-%m-%dT%H:%M:%SZ}".encode()
    with zipfile.ZipFile(raw) as before, zipfile.ZipFile(fixed, "w") as after:
        for name in before.namelist():
            content = before.read(name)
            if name == "docProps/core.xml":
                content = _MODIFIED.sub(rb"\g<1>" + stamp + rb"\g<2>", content)
            member = zipfile.ZipInfo(name, date_time=at.timetuple()[:6])
            member.compress_type = zipfile.ZIP_DEFLATED
            after.writestr(member, content)
    return fixed.getvalue()


def csv_bytes(heads: Sequence[str], rows: Sequence[Sequence[Cell]]) -> bytes:
    """A CSV file in UTF-8 with its mark, as spreadsheets expect it.

    A text that a spreadsheet would take for a formula is kept a text by an apostrophe.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(heads)
    for row in rows:
        writer.writerow([_harmless(value) for value in row])
    return out.getvalue().encode("utf-8-sig")


def _harmless(value: Cell) -> Cell:
    return harmless(value) if isinstance(value, str) else value
