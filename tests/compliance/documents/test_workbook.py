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
