"""Workbooks and CSV files whose bytes depend on what is in them, and on nothing else."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet._write_only import WriteOnlyWorksheet
from openpyxl.worksheet.properties import PageSetupProperties

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
    book = Workbook(write_only=True)
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
    """The sheet, written through row by row: what is said of it as a whole comes first."""
    page = book.create_sheet(sheet.name)
    for column, head in enumerate(sheet.heads, start=1):
        longest = max([len(head), *(len(str(row[column - 1] or "")) for row in sheet.rows)])
        page.column_dimensions[get_column_letter(column)].width = min(longest, _WIDEST) + 2
    page.freeze_panes = "A2"
    page.auto_filter.ref = f"A1:{get_column_letter(len(sheet.heads))}{len(sheet.rows) + 1}"
    page.print_title_rows = "1:1"
    page.page_setup.orientation = "landscape"
    page.page_setup.fitToHeight = 0
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    bold, plain = WriteOnlyCell(page), WriteOnlyCell(page)
    bold.font = Font(bold=True)
    plain.alignment = Alignment(vertical="top", wrap_text=True)
    page.append([_cell(page, head, bold) for head in sheet.heads])
    for row in sheet.rows:
        page.append([_cell(page, value, plain) for value in row])


def _cell(page: WriteOnlyWorksheet, value: Cell, like: WriteOnlyCell) -> WriteOnlyCell:
    """A cell in the style of another: the book is not asked for it cell by cell."""
    cell = WriteOnlyCell(page, fitting(value) if isinstance(value, str) else value)
    if isinstance(value, str):
        # A text that begins with = stays a text.
        cell.data_type = "s"
    cell._style = like._style
    return cell


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
