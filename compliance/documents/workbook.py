"""Workbooks and CSV files whose bytes depend on what is in them, and on nothing else."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from xml.sax.saxutils import escape

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
# A few MB.
_MOST_TEXTS = 65_536


@dataclass(frozen=True)
class SheetOf:
    """One sheet: its name, its column heads, its rows."""

    name: str
    heads: Sequence[str]
    rows: Sequence[Sequence[Cell]]


def workbook_bytes(sheets: Sequence[SheetOf], title: str, at: dt.datetime) -> bytes:
    """An XLSX file; `at` stands as when it was made, in the file and in its zip."""
    book = Workbook(write_only=True)
    styles = [_begin(book, sheet) for sheet in sheets]
    naive = at.astimezone(dt.UTC).replace(tzinfo=None, microsecond=0)
    book.properties.title = title
    book.properties.creator = "brewlog"
    book.properties.created = naive
    raw = io.BytesIO()
    book.save(raw)
    return _filled(raw, [_lines(*each) for each in zip(sheets, styles, strict=True)], naive)


def _begin(book: Workbook, sheet: SheetOf) -> int:
    """The sheet with its heads and no rows, all that is said of it as a whole, and the number of
    the style that its rows are in."""
    page = book.create_sheet(sheet.name)
    for place, head in enumerate(sheet.heads):
        values = {head, *(row[place] for row in sheet.rows)}
        longest = max(len(str(value)) for value in values if value)
        page.column_dimensions[get_column_letter(place + 1)].width = min(longest, _WIDEST) + 2
    page.freeze_panes = "A2"
    page.auto_filter.ref = f"A1:{get_column_letter(len(sheet.heads))}{len(sheet.rows) + 1}"
    page.print_title_rows = "1:1"
    page.page_setup.orientation = "landscape"
    page.page_setup.fitToHeight = 0
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    page.append([_bold(page, head) for head in sheet.heads])
    plain = WriteOnlyCell(page)
    plain.alignment = Alignment(vertical="top", wrap_text=True)
    return plain.style_id


def _bold(page: WriteOnlyWorksheet, head: str) -> WriteOnlyCell:
    cell = WriteOnlyCell(page, head)
    cell.font = Font(bold=True)
    return cell


def _lines(sheet: SheetOf, style: int) -> Iterator[bytes]:
    """The rows as they stand in the sheet's file.

    The library makes an object of every cell: of three million, for most of a minute.
    """
    letters = [get_column_letter(number) for number in range(1, len(sheet.heads) + 1)]
    texts = _Texts()
    for number, row in enumerate(sheet.rows, start=2):
        styled = f'{number}" s="{style}"'
        cells = [
            f'<c r="{letter}{styled}{texts[value]}</c>'
            if isinstance(value, str)
            else f'<c r="{letter}{styled}><v>{value}</v></c>'
            for letter, value in zip(letters, row, strict=True)
            if value is not None and value != ""
        ]
        yield f'<row r="{number}">{"".join(cells)}</row>'.encode()


class _Texts(dict[str, str]):
    """Texts as they stand in a cell, each worked out once while they are few: most of a sheet's
    stand in it over and over. A text stays one, also where it begins with =."""

    def __missing__(self, value: str) -> str:
        if len(self) >= _MOST_TEXTS:
            self.clear()
        kept = f' t="inlineStr"><is><t xml:space="preserve">{escape(fitting(value))}</t></is>'
        self[value] = kept
        return kept


_ROWS_END = b"</sheetData>"


def _filled(raw: io.BytesIO, rows: Sequence[Iterator[bytes]], at: dt.datetime) -> bytes:
    """The workbook with the rows of its sheets, and the times of its zip and its last change
    fixed: the same every time."""
    by_name = {f"xl/worksheets/sheet{n}.xml": lines for n, lines in enumerate(rows, start=1)}
    filled = io.BytesIO()
    stamp = f"{at:%Y-%m-%dT%H:%M:%SZ}".encode()
    with zipfile.ZipFile(raw) as before, zipfile.ZipFile(filled, "w") as after:
        for name in before.namelist():
            member = zipfile.ZipInfo(name, date_time=at.timetuple()[:6])
            member.compress_type = zipfile.ZIP_DEFLATED
            content = before.read(name)
            if name == "docProps/core.xml":
                content = _MODIFIED.sub(rb"\g<1>" + stamp + rb"\g<2>", content)
            head, end, foot = content.partition(_ROWS_END)
            with after.open(member, "w") as file:
                file.write(head)
                for lines in _batched(iter(by_name.get(name, ()))):
                    file.write(lines)
                file.write(end + foot)
    return filled.getvalue()


def _batched(lines: Iterator[bytes]) -> Iterator[bytes]:
    """Some hundred rows at a time: the zip takes them faster than one by one."""
    while some := b"".join(islice(lines, 500)):
        yield some


def csv_bytes(heads: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """A CSV file in UTF-8 with its mark, as spreadsheets expect it.

    A text that a spreadsheet would take for a formula is kept a text by an apostrophe.
    """
    content = io.BytesIO()
    out = io.TextIOWrapper(content, "utf-8-sig", newline="")
    writer = csv.writer(out)
    writer.writerow(heads)
    writer.writerows([_harmless(value) for value in row] for row in rows)
    out.flush()
    return content.getvalue()


def _harmless(value: Cell) -> Cell:
    return harmless(value) if isinstance(value, str) else value
