"""Empty sheets to fill in, and what each column takes."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import openpyxl
from django import forms
from openpyxl.comments import Comment
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from brewlog.forms.fields import (
    ChoiceField,
    DayField,
    LotField,
    NamedField,
    NumberField,
    PersonField,
    QuantityField,
    TemperatureField,
    WhenField,
    WholeField,
    YesNoField,
)
from brewlog.forms.recipes import RecipeVersionField
from brewlog.importing.sheet import Column, Sheet
from brewlog.importing.sheets import SHEETS
from brewlog.models import LotKind
from brewlog.units import Dimension

_KINDS_OF_CELL: tuple[tuple[type[forms.Field], str], ...] = (
    (WhenField, "a date, with the time if it is known: 2026-03-04 14:20"),
    (DayField, "a date: 2026-03-04"),
    (TemperatureField, "a temperature: 21.5 °C or 70 °F"),
    (YesNoField, "yes or no"),
    (PersonField, "a user name or a full name"),
    (WholeField, "a whole number"),
    (NumberField, "a number"),
)
_ABOUT = """# The sheets

One file (or one sheet of a workbook) for each record type. Leave out what you do not have.
Rows may stand in any order. Dates may also be written in the brewery's own order.
"""
_AMOUNTS = {
    Dimension.MASS: "12.5 kg or 2 lb",
    Dimension.VOLUME: "40 L or 1.5 gal",
    Dimension.COUNT: "240",
}


def cell_help(sheet: Sheet, column: Column) -> str:
    """What a cell of the column takes, in words."""
    found = sheet.fields.get(column.field)
    return "; ".join(text for text in (_takes(found), column.help) if text)


def _takes(found: forms.Field | None) -> str:
    if isinstance(found, ChoiceField):
        return "one of: " + " / ".join(str(label) for value, label in found.listed if value)
    if isinstance(found, LotField):
        kinds = [LotKind(kind).label for kind in found.kinds]
        which = "" if len(kinds) == len(LotKind) else f" of {' or '.join(kinds)}"
        return f"a lot code{which}"
    if isinstance(found, NamedField):
        return f"a name from the sheet of each {found.model._meta.verbose_name}"
    if isinstance(found, QuantityField):
        return "an amount: " + " or ".join(_AMOUNTS[each] for each in found.dimensions)
    if isinstance(found, RecipeVersionField):
        return "a recipe's name and version: Black tea base v2"
    return next((words for kind, words in _KINDS_OF_CELL if isinstance(found, kind)), "")


def write_template(folder: Path) -> list[Path]:
    """Write an empty CSV file for each sheet, and a README that describes their columns.

    Files that are there already are left alone: they may be filled in.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for sheet in SHEETS:
        text = io.StringIO()
        csv.writer(text).writerow([column.label for column in sheet.columns])
        written += _write_new(folder / f"{sheet.name}.csv", "\ufeff" + text.getvalue())
    return written + _write_new(folder / "README.md", describe_sheets())


def _write_new(path: Path, text: str) -> list[Path]:
    if path.exists():
        return []
    path.write_text(text, encoding="utf-8", newline="")
    return [path]


def describe_sheets() -> str:
    """Every sheet and column in words, as Markdown."""
    parts = [_ABOUT]
    for sheet in SHEETS:
        parts.append(f"\n## {sheet.name}\n\n{sheet.help}\n\n")
        parts.append("| column | needed | takes |\n|---|---|---|\n")
        for column in sheet.columns:
            needed = "yes" if column.required else ""
            parts.append(f"| {column.label} | {needed} | {cell_help(sheet, column)} |\n")
    return "".join(parts)


def template_workbook() -> bytes:
    """One workbook of empty sheets, each heading with a remark that says what it takes."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for sheet in SHEETS:
        page = book.create_sheet(sheet.name)
        page.freeze_panes = "A2"
        for number, column in enumerate(sheet.columns, 1):
            cell = page.cell(1, number, column.label)
            cell.font = Font(bold=column.required)
            remark = ("Needed. " if column.required else "") + cell_help(sheet, column)
            if remark:
                cell.comment = Comment(remark, "brewlog", width=280, height=90)
            page.column_dimensions[get_column_letter(number)].width = max(12, len(column.label) + 3)
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()
