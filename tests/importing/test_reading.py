"""What spreadsheet programs and people do to a sheet, undone."""

from __future__ import annotations

import datetime as dt
import io
import zipfile

import openpyxl
import pytest

from brewlog.importing.reading import csv_rows, decode, plain_cell, read_files, read_path


def rows_of(content: bytes, name: str = "Receiving.csv") -> list[tuple[int, list[str]]]:
    source = read_files("upload", [(name, content)])
    assert source.problems == []
    return source.grids[0].rows


def workbook(fill) -> bytes:
    """A workbook of one sheet that `fill` was given."""
    book = openpyxl.Workbook()
    fill(book.active)
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()


def cells_of(content: bytes) -> list[list[str]]:
    return [cells for _, cells in rows_of(content, "book.xlsx")]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_file_is_read_in_the_encodings_spreadsheets_are_saved_in(encoding):
    assert decode("Purée, 12 °C".encode(encoding)) == "Purée, 12 °C"


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_commas_semicolons_and_tabs_divide_cells(mark):
    text = f'Lot code{mark}Amount{mark}Note\r\nT1{mark}"12,5 kg"{mark}"a; b, c"\r\n'

    assert csv_rows(text)[1] == (2, ["T1", "12,5 kg", "a; b, c"])


def test_a_decimal_comma_beside_semicolons_stays_in_its_cell():
    assert csv_rows("Lot code;Amount\nT1;12,5 kg\n")[1] == (2, ["T1", "12,5 kg"])


def test_a_file_may_name_its_own_divider():
    assert csv_rows("sep=;\nLot code;Amount\nT1;2 kg\n") == [
        (2, ["Lot code", "Amount"]),
        (3, ["T1", "2 kg"]),
    ]


def test_empty_rows_are_left_out_and_the_others_keep_their_numbers():
    assert csv_rows("Lot code,Amount\n\n,  \nT1,2 kg\n") == [
        (1, ["Lot code", "Amount"]),
        (4, ["T1", "2 kg"]),
    ]


def test_a_row_after_a_cell_of_several_lines_has_the_number_the_spreadsheet_shows():
    assert csv_rows('Lot code,Note\nT1,"two\nlines"\nT2,\n')[2] == (3, ["T2", ""])


@pytest.mark.parametrize(
    ("typed", "plain"),
    [
        ("  T1 ", "T1"),
        ("\u00a0T1\u00a0", "T1"),
        ("12\u00a0kg", "12 kg"),
        ('="007"', "007"),
        ("'007", "007"),
        ("rock 'n' roll", "rock 'n' roll"),
    ],
)
def test_a_cell_loses_what_the_spreadsheet_put_around_it(typed, plain):
    assert plain_cell(typed) == plain


def test_real_date_cells_are_read_as_dates():
    def fill(sheet):
        sheet.append(["When"])
        sheet.append([dt.datetime(2026, 3, 4, 14, 20)])  # noqa: DTZ001 a cell knows no zone
        sheet.append([dt.date(2026, 3, 4)])
        sheet.append([dt.datetime(2026, 3, 4, 14, 19, 59, 999000)])  # noqa: DTZ001
        sheet.append([dt.datetime(2026, 3, 4)])  # noqa: DTZ001
        sheet["A5"].number_format = "yyyy-mm-dd"

    assert cells_of(workbook(fill))[1:] == [
        ["2026-03-04 14:20"],
        ["2026-03-04"],
        ["2026-03-04 14:20"],
        ["2026-03-04"],
    ]


def test_midnight_is_a_time_where_the_cell_shows_a_clock():
    def fill(sheet):
        sheet.append([dt.datetime(2026, 3, 4)])  # noqa: DTZ001 a cell knows no zone
        sheet["A1"].number_format = "yyyy-mm-dd hh:mm"

    assert cells_of(workbook(fill)) == [["2026-03-04 00:00"]]


@pytest.mark.parametrize(
    ("value", "number_format", "text"),
    [
        (1024.0, "General", "1024"),
        (0.1 + 0.2, "General", "0.3"),
        (1e-7, "General", "0.0000001"),
        (12.5, '0.0 "kg"', "12.5 kg"),
        (12.5, '#,##0.00" L"', "12.5 L"),
        (0.985, "0.0%", "98.5"),
        (True, "General", "yes"),
        ("  Hill & Leaf  ", "General", "Hill & Leaf"),
    ],
)
def test_a_workbook_cell_reads_as_it_is_shown(value, number_format, text):
    def fill(sheet):
        sheet["A1"] = value
        sheet["A1"].number_format = number_format

    assert cells_of(workbook(fill)) == [[text]]


def test_a_formula_without_its_result_is_a_bad_cell():
    def fill(sheet):
        sheet.append(["Lot code", "Amount"])
        sheet.append(["T1", "=2*6"])

    (grid,) = read_files("upload", [("book.xlsx", workbook(fill))]).grids

    assert grid.rows[1] == (2, ["T1"])
    assert [(bad.row, bad.place, bad.value) for bad in grid.bad] == [(2, 1, "=2*6")]
    assert "saved without its result" in grid.bad[0].reason


def test_a_cell_that_shows_an_error_is_a_bad_cell():
    def fill(sheet):
        sheet.append(["Lot code", "Amount"])
        sheet.append(["T1", "#REF!"])
        sheet["B2"].data_type = "e"

    (grid,) = read_files("upload", [("book.xlsx", workbook(fill))]).grids

    assert [(bad.row, bad.place, bad.value) for bad in grid.bad] == [(2, 1, "#REF!")]


def test_cells_merged_downwards_all_hold_the_value_they_show():
    def fill(sheet):
        for row in (["When", "Lot"], ["2026-03-04", "B1"], ["", "B2"], ["", "B3"]):
            sheet.append(row)
        sheet.merge_cells("A2:A4")

    assert cells_of(workbook(fill))[2:] == [["2026-03-04", "B2"], ["2026-03-04", "B3"]]


def test_cells_merged_sideways_hold_their_value_once():
    def fill(sheet):
        sheet.append(["March", "", ""])
        sheet.merge_cells("A1:C1")

    assert cells_of(workbook(fill)) == [["March"]]


def test_every_sheet_of_a_workbook_is_read_and_hidden_ones_are_told():
    book = openpyxl.Workbook()
    book.active.title = "Uses"
    book.active.append(["When"])
    lists = book.create_sheet("Lists")
    lists.append(["tea"])
    lists.sheet_state = "hidden"
    written = io.BytesIO()
    book.save(written)

    grids = read_files("upload", [("book.xlsx", written.getvalue())]).grids

    assert [(grid.name, grid.hidden) for grid in grids] == [("Uses", False), ("Lists", True)]


def test_a_folder_gives_its_spreadsheets_and_nothing_else(tmp_path):
    (tmp_path / "Uses.csv").write_text("When\n2026-03-04\n")
    (tmp_path / "README.md").write_text("about the sheets")
    (tmp_path / "~$book.xlsx").write_bytes(b"a lock")
    (tmp_path / ".hidden.csv").write_text("x")

    source = read_path(tmp_path)

    assert [grid.name for grid in source.grids] == ["Uses"]
    assert source.problems == []


def test_an_archive_is_read_like_a_folder():
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("sheets/Uses.csv", "When\n2026-03-04\n")
        archive.writestr("__MACOSX/sheets/._Uses.csv", "x")

    source = read_files("upload", [("sheets.zip", packed.getvalue())])

    assert [grid.name for grid in source.grids] == ["Uses"]


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("old.xls", b"\xd0\xcf", "Save it as .xlsx or .csv"),
        ("book.xlsx", b"not a workbook", "cannot be read"),
        ("book.zip", b"not an archive", "cannot be read"),
        ("notes.txt", b"hello", "There is no spreadsheet in it"),
    ],
)
def test_a_file_that_cannot_be_read_is_a_problem_with_a_way_out(name, content, words):
    source = read_files("upload", [(name, content)])

    assert source.grids == []
    assert [words in problem.reason for problem in source.problems] == [True]


@pytest.mark.parametrize(
    ("rows", "row"),
    [
        ('T1,"sweet\nT2,dry\nT3,dry\n', "row 2: unexpected end of data"),
        ('T1,sweet\nT2,"dry" today\nT3,dry\n', "row 3: ',' expected"),
    ],
)
def test_a_quotation_mark_left_open_is_told_by_its_row_and_hides_no_rows(rows, row):
    content = f"Lot code,Note\n{rows}".encode()

    source = read_files("upload", [("Uses.csv", content)])

    assert source.grids == []
    (problem,) = source.problems
    assert row in problem.reason
    assert "closed at its end" in problem.reason


def test_a_path_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(FileNotFoundError, match="no file or folder"):
        read_path(tmp_path / "nowhere")
