from __future__ import annotations

import csv
import datetime as dt
import io

import openpyxl
import pytest
import time_machine

from compliance.documents.workbook import SheetOf, csv_bytes, workbook_bytes

AT = dt.datetime(2026, 5, 2, 8, 30, tzinfo=dt.UTC)


def test_workbook_bytes_do_not_depend_on_the_clock():
    sheets = [SheetOf("Lots", ["lot", "made"], [["L1", 150]])]
    with time_machine.travel("2026-05-02"):
        first = workbook_bytes(sheets, "Lots", AT)
    with time_machine.travel("2027-01-31 13:02:03"):
        assert workbook_bytes(sheets, "Lots", AT) == first


def test_workbook_says_when_it_was_made():
    book = openpyxl.load_workbook(io.BytesIO(workbook_bytes([SheetOf("A", ["a"], [])], "t", AT)))
    assert book.properties.created == dt.datetime(2026, 5, 2, 8, 30)
    assert book.properties.modified == dt.datetime(2026, 5, 2, 8, 30)


def test_workbook_keeps_numbers_numbers_and_text_text():
    raw = workbook_bytes([SheetOf("A", ["a", "b"], [["=1+1", 3], ["007", None]])], "t", AT)
    rows = list(openpyxl.load_workbook(io.BytesIO(raw))["A"].iter_rows(min_row=2))
    assert [(cell.value, cell.data_type) for cell in rows[0]] == [("=1+1", "s"), (3, "n")]
    assert rows[1][0].value == "007"


@pytest.mark.parametrize(
    ("value", "read"),
    [
        ("less < more & 'both' \"said\"", "less < more & 'both' \"said\""),
        (" room before and after ", " room before and after "),
        ("4 Causeway\nSaltmarsh", "4 Causeway\nSaltmarsh"),
        ("Ría Norte, كومبوتشا, 康普茶, 🫖", "Ría Norte, كومبوتشا, 康普茶, 🫖"),
        ("</t></is></c>", "</t></is></c>"),
        ("bell \x07 and \x0b", "bell   and  "),
        ("", None),
        (None, None),
        (0, 0),
        (-3, -3),
        (4.125, 4.125),
        (1e-07, 1e-07),
    ],
)
def test_a_cell_is_read_back_as_it_was(value, read):
    raw = workbook_bytes([SheetOf("A", ["a", "b"], [[value, "last"]])], "t", AT)
    [row] = openpyxl.load_workbook(io.BytesIO(raw))["A"].iter_rows(min_row=2, values_only=True)
    assert row == (read, "last")


def test_every_sheet_has_its_own_rows_under_its_heads():
    first = SheetOf("A", ["a", "b"], [[f"a{n}", n] for n in range(1100)])
    second = SheetOf("B", ["c"], [["only"]])
    book = openpyxl.load_workbook(io.BytesIO(workbook_bytes([first, second], "t", AT)))
    assert list(book["A"].values) == [("a", "b"), *((f"a{n}", n) for n in range(1100))]
    assert list(book["B"].values) == [("c",), ("only",)]
    assert book["A"].auto_filter.ref == "A1:B1101"
    assert book["A"]["A3"].alignment.wrap_text


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("=HYPERLINK(1)", "'=HYPERLINK(1)"),
        ("@sum", "'@sum"),
        ("+cmd|x", "'+cmd|x"),
        ("-2+3+cmd", "'-2+3+cmd"),
        ("+351 555 0117", "+351 555 0117"),
        ("-12", "-12"),
        ("Café, Ñandú", "Café, Ñandú"),
    ],
)
def test_csv_never_starts_a_formula(typed, kept):
    raw = csv_bytes(["a"], [[typed]])
    assert list(csv.reader(io.StringIO(raw.decode("utf-8-sig"))))[1] == [kept]
