"""Empty sheets: complete, described, and readable by the importer."""

from __future__ import annotations

import io

import openpyxl
import pytest

from brewlog.importing.reading import read_files, read_path
from brewlog.importing.running import import_source
from brewlog.importing.sheets import BY_NAME, SHEETS
from brewlog.importing.template import cell_help, template_workbook, write_template


def help_of(sheet: str, label: str) -> str:
    found = BY_NAME[sheet]
    return cell_help(found, next(c for c in found.columns if c.label == label))


@pytest.mark.django_db
def test_the_empty_sheets_are_imported_without_a_row_or_a_mistake(tmp_path, manager):
    write_template(tmp_path)

    outcome = import_source(read_path(tmp_path), actor=manager)

    assert (outcome.saved, outcome.problems, outcome.tallies) == (True, [], [])


@pytest.mark.django_db
def test_the_empty_workbook_is_imported_without_a_row_or_a_mistake(manager):
    source = read_files("sheets", [("sheets.xlsx", template_workbook())])

    outcome = import_source(source, actor=manager)

    assert [grid.name for grid in source.grids] == [sheet.name for sheet in SHEETS]
    assert (outcome.saved, outcome.problems) == (True, [])


@pytest.mark.django_db
def test_a_row_written_into_an_empty_sheet_is_recorded(tmp_path, manager):
    write_template(tmp_path)
    with (tmp_path / "Culture lines.csv").open("a", encoding="utf-8") as sheet:
        sheet.write("Harbour,,ours,\n")

    assert import_source(read_path(tmp_path), actor=manager).new == 1


def test_every_sheet_and_column_is_described(tmp_path):
    write_template(tmp_path)
    text = (tmp_path / "README.md").read_text(encoding="utf-8")

    missing = [
        f"{sheet.name}: {column.label}"
        for sheet in SHEETS
        for column in sheet.columns
        if f"\n## {sheet.name}\n" not in text or f"| {column.label} |" not in text
    ]
    assert missing == []


def test_files_that_are_there_are_left_alone(tmp_path):
    (tmp_path / "Uses.csv").write_text("When,Lot used\n")

    written = write_template(tmp_path)

    assert (tmp_path / "Uses.csv").read_text() == "When,Lot used\n"
    assert len(written) == len(SHEETS)


@pytest.mark.parametrize(
    ("sheet", "label", "words"),
    [
        ("Vessels", "Holds", "an amount: 40 L or 1.5 gal"),
        ("Starter added", "Starter", "a lot code of culture"),
        ("Uses", "Into", "a lot code"),
        ("Vessels", "Material", "one of: glass / stainless steel / "),
        ("Steps", "Temperature", "21.5 °C or 70 °F"),
        ("Batches", "Recipe version", "Black tea base v2"),
        ("Receiving", "Supplier", "a name from the sheet of each supplier"),
    ],
)
def test_a_column_says_what_it_takes(sheet, label, words):
    assert words in help_of(sheet, label)


def test_a_workbooks_headings_carry_what_they_take_as_remarks():
    book = openpyxl.load_workbook(io.BytesIO(template_workbook()))

    (heading,) = [cell for cell in book["Vessels"][1] if cell.value == "Holds"]

    assert "40 L or 1.5 gal" in heading.comment.text
