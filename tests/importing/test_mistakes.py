"""Thirty different mistakes: thirty reports, each with its place, and nothing saved."""

from __future__ import annotations

import io

import openpyxl
import pytest

from brewlog.importing.reading import read_files
from brewlog.importing.running import Outcome, import_source
from brewlog.models import ImportedRow, Lot, Supplier
from tests.importing import small

pytestmark = pytest.mark.django_db

_HALF_FILLED = {"Approved on": "", "E-mail": "", "Colour": "", "In use": ""}


def _content() -> small.Sheets:
    """The small brewery, with twenty-nine mistakes in its CSV files."""
    content = small.sheets()
    tea = content["Receiving"][0]
    use = content["Uses"][0]
    content["Suppliers"] += [
        _HALF_FILLED | {"Name": "Orchard Gate", "Approved on": "31/02/2026"},
        _HALF_FILLED | {"Name": "Lemon Row", "E-mail": "lemons at example.com"},
        _HALF_FILLED | {"Name": "Quayside", "In use": "perhaps"},
        _HALF_FILLED | {"Name": "jar exchange "},
    ]
    content["Ingredients"] += [
        {"Name": "Lemons", "Kind": "fruits", "Measured by": "mass"},
        {"Name": "", "Kind": "tea", "Measured by": "mass"},
        {"Name": "Honey", "Kind": "sugar", "Measured by": "mass", "Density, kg/L": "heavy"},
        {"Name": "Mercury", "Kind": "tea", "Measured by": "mass", "Density, kg/L": "21"},
    ]
    content["Vessels"] += [
        {"Name": "Tank", "Material": "glass", "Holds": "60 kg"},
        {"Name": "Drum", "Material": "glass", "Holds": "60"},
    ]
    content["Recipe versions"] += [
        {"Recipe": "Black tea base", "Version": "1.5"},
        {"Recipe": "Black tea base", "Version": "2", "Steep at": "hot"},
        {"Recipe": "Black tea base", "Version": "3", "Steep at": "900 °C"},
        # No mistake: the line below is one of a version nothing else leans on.
        {"Recipe": "Black tea base", "Version": "4"},
    ]
    content["Recipe lines"] += [
        content["Recipe lines"][0]
        | {"Recipe version": "Black tea base v4", "Ingredient": "Blck tea"},
    ]
    content["Receiving"] += [
        tea | {"Lot code": "T2", "Supplier": "Hill and Leaf"},
        tea | {"Lot code": "T3", "Amount": "-5 kg"},
        tea | {"Lot code": "T4", "When": "2099-01-01"},
        tea | {"Lot code": "T5", "When": "4/3"},
        tea | {"Lot code": ""},
        tea | {"Lot code": "T7", "Amount": "1,234 kg"},
        tea | {"Lot code": "T8", "Amount": "5 L"},
        tea | {"Lot code": "T9", "Supplier": ""},
        tea | {"Lot code": "T10", "By": "Nobody Known"},
        tea | {"Lot code": "T11", "When": "2026-03-29 01:30"},
    ]
    content["Uses"] += [
        use | {"Lot used": "T99"},
        use | {"Lot used": "S1", "When": "2026-02-27 09:00"},
        use | {"Lot used": "T1", "Amount": "0 kg", "No.": "2"},
    ]
    content["Recieving"] = [tea]
    return content


def _formula_without_result() -> bytes:
    book = openpyxl.Workbook()
    book.active.title = "Culture lines"
    book.active.append(["Name", "Note"])
    book.active.append(["Harbour", "ours"])
    book.active.append(["Lighthouse", "=A2"])
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()


EXPECTED = [
    ("Recieving", 0, "", "", "Did you mean Receiving?"),
    ("Suppliers", 1, "Colour", "Colour", "has no such column"),
    ("Suppliers", 4, "Approved on", "31/02/2026", "not a day in the calendar"),
    ("Suppliers", 5, "E-mail", "lemons at example.com", "valid email address"),
    ("Suppliers", 6, "In use", "perhaps", "neither yes nor no"),
    ("Suppliers", 7, "Name", "jar exchange", "stands in row 3 already"),
    ("Ingredients", 5, "Kind", "fruits", "is not one of: tea, sugar"),
    ("Ingredients", 6, "Name", "", "required"),
    ("Ingredients", 7, "Density, kg/L", "heavy", "is not a number"),
    ("Ingredients", 8, "Density, kg/L", "21", "more than 20"),
    ("Vessels", 5, "Holds", "60 kg", "is a mass; here a volume is needed"),
    ("Vessels", 6, "Holds", "60", "has no unit"),
    ("Culture lines", 3, "Note", "=A2", "saved without its result"),
    ("Recipe versions", 3, "Version", "1.5", "is not a whole number"),
    ("Recipe versions", 4, "Steep at", "hot", "is not a temperature"),
    ("Recipe versions", 5, "Steep at", "900 °C", "a brewery meets"),
    ("Recipe lines", 4, "Ingredient", "Blck tea", "Did you mean Black tea?"),
    ("Receiving", 5, "Supplier", "Hill and Leaf", "Did you mean Hill & Leaf Teas?"),
    ("Receiving", 6, "Amount", "-5 kg", "less than nothing"),
    ("Receiving", 7, "When", "2099-01-01", "still to come"),
    ("Receiving", 8, "When", "4/3", "is not a date"),
    ("Receiving", 9, "Lot code", "", "tells the row from the others"),
    ("Receiving", 10, "Amount", "1,234 kg", "could be a thousand or a decimal"),
    ("Receiving", 11, "Amount", "5 L", "is counted by mass"),
    ("Receiving", 12, "Supplier", "", "Name the supplier, or the place"),
    ("Receiving", 13, "By", "Nobody Known", "Nobody here is called"),
    ("Receiving", 14, "When", "2026-03-29 01:30", "the clocks went forward"),
    ("Uses", 7, "Lot used", "T99", "No lot has the code 'T99'"),
    ("Uses", 8, "When", "2026-02-27 09:00", "did not exist before"),
    ("Uses", 9, "Amount", "0 kg", "Nothing was taken"),
]


@pytest.fixture
def outcome(brewery, manager) -> Outcome:
    files = [each for each in small.files(_content()) if each[0] != "Culture lines.csv"]
    files.append(("book.xlsx", _formula_without_result()))
    return import_source(read_files("thirty mistakes", files), actor=manager)


def test_thirty_mistakes_are_thirty_reports(outcome):
    assert len(EXPECTED) == 30
    assert [(p.sheet, p.row, p.column, p.value) for p in outcome.problems] == [
        expected[:4] for expected in EXPECTED
    ]


def test_each_report_says_what_is_wrong(outcome):
    missing = [
        (problem.reason, words)
        for problem, (*_, words) in zip(outcome.problems, EXPECTED, strict=True)
        if words not in problem.reason
    ]

    assert missing == []


def test_nothing_is_saved_with_mistakes(outcome):
    assert not outcome.saved
    assert not Supplier.objects.exists()
    assert not Lot.objects.exists()
    assert not ImportedRow.objects.exists()


def test_the_rows_without_mistakes_were_looked_at(outcome):
    assert outcome.leaning == 0
    assert outcome.new == sum(len(rows) for rows in small.sheets().values()) + 1
