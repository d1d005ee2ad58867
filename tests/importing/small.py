"""A small brewery as sheets, for the tests of importing. Invented."""

from __future__ import annotations

import csv
import io

Sheets = dict[str, list[dict[str, str]]]


def sheets() -> Sheets:
    """A culture, two brews, two batches and a syrup: a week's work in twelve sheets."""
    return {
        "Suppliers": [
            {"Name": "Hill & Leaf Teas", "Country": "Portugal", "Approved on": "2026-01-02"},
            {"Name": "Jar Exchange"},
        ],
        "Ingredients": [
            {"Name": "Black tea", "Kind": "tea", "Measured by": "mass"},
            {"Name": "Cane sugar", "Kind": "sugar", "Measured by": "mass"},
            {"Name": "Ginger", "Kind": "fruit or flavouring", "Measured by": "mass"},
        ],
        "Vessels": [
            {"Name": "Kettle", "Material": "stainless steel", "Holds": "120 L"},
            {"Name": "Jar 1", "Material": "glass", "Holds": "60 L"},
            {"Name": "Jar 2", "Material": "glass", "Holds": "60 L"},
        ],
        "Culture lines": [{"Name": "Harbour"}],
        "Recipes": [{"Name": "Black tea base"}],
        "Recipe versions": [
            {
                "Recipe": "Black tea base",
                "Version": "1",
                "Steep at": "90 °C",
                "Steep, minutes": "12",
            }
        ],
        "Recipe lines": [
            {
                "Recipe version": "Black tea base v1",
                "Role": "tea",
                "Ingredient": "Black tea",
                "Per litre": "5 g",
            },
            {"Recipe version": "Black tea base v1", "Role": "starter", "Per litre": "100 mL"},
        ],
        "Recipe approvals": [
            {"Recipe version": "Black tea base v1", "When": "2026-03-01", "Remark": "tasted"}
        ],
        "Receiving": [
            {
                "When": "2026-03-01 08:30",
                "Ingredient": "Black tea",
                "Amount": "5 kg",
                "Lot code": "T1",
                "Supplier": "Hill & Leaf Teas",
                "Accepted": "yes",
            },
            {
                "When": "2026-03-01",
                "Ingredient": "Cane sugar",
                "Amount": "25 kg",
                "Lot code": "S1",
                "Supplier": "Hill & Leaf Teas",
                "Accepted": "yes",
            },
            {
                "When": "2026-03-02",
                "Ingredient": "Ginger",
                "Amount": "3 kg",
                "Lot code": "G1",
                "Picked at": "Upper garden",
            },
        ],
        "Decisions": [
            {"Lot": "G1", "Decision": "accepted", "When": "2026-03-02", "Reason": "clean, firm"}
        ],
        "Preparations": [
            {
                "When": "2026-03-02 15:00",
                "Name": "Ginger juice",
                "Kind": "pressed juice",
                "Amount made": "2 L",
                "Lot code": "J1",
            }
        ],
        "Cultures": [
            {
                "When": "2026-03-01",
                "Culture line": "Harbour",
                "Origin": "bought as a culture",
                "Starter liquid": "12 L",
                "Lot code": "C1",
                "Supplier": "Jar Exchange",
            },
            {
                "When": "2026-03-12 10:00",
                "Culture line": "Harbour",
                "Origin": "kept back from a batch",
                "Starter liquid": "6 L",
                "From": "B1",
                "Lot code": "C2",
            },
        ],
        "Brews": [
            {
                "When": "2026-03-03 09:00",
                "Recipe version": "Black tea base v1",
                "Kettle": "Kettle",
                "Volume made": "100 L",
                "Lot code": "K1",
            }
        ],
        "Batches": [
            {
                "When": "2026-03-03 13:00",
                "Recipe version": "Black tea base v1",
                "Vessel": "Jar 1",
                "Lot code": "B1",
            },
            {"When": "2026-03-03 13:10", "Vessel": "Jar 2", "Lot code": "B2"},
        ],
        "Uses": [
            _use("T1", "K1", "500 g", "ingredient", "2026-03-03 09:00"),
            _use("S1", "K1", "6 kg", "ingredient", "2026-03-03 09:00"),
            _use("G1", "J1", "2.5 kg", "ingredient", "2026-03-02 15:00"),
            _use("K1", "B1", "48 L", "sweet tea", "2026-03-03 13:05"),
            _use("K1", "B2", "48 L", "sweet tea", "2026-03-03 13:15"),
        ],
        "Steps": [
            {"When": "2026-03-03 09:05", "Lot": "K1", "Step": "water boiled"},
            {"When": "2026-03-03 09:20", "Lot": "K1", "Step": "tea steeped", "Minutes": "12"},
        ],
        "Starter added": [
            {
                "When": "2026-03-03 13:20",
                "Batch": "B1",
                "Starter": "C1",
                "Amount of starter": "5 L",
                "Volume afterwards": "53 L",
                "Temperature of the tea": "28 °C",
            },
            {
                "When": "2026-03-03 13:30",
                "Batch": "B2",
                "Starter": "C1",
                "Amount of starter": "5 L",
                "Volume afterwards": "53 L",
            },
        ],
        "Starters retired": [
            {"When": "2026-03-03", "Starter": "C1", "Reason": "the rest went down the drain"}
        ],
    }


def _use(source: str, into: str, amount: str, purpose: str, when: str) -> dict[str, str]:
    return {"When": when, "Lot used": source, "Into": into, "Amount": amount, "As": purpose}


def csv_bytes(rows: list[dict[str, str]], headings: list[str] | None = None) -> bytes:
    """Rows as a CSV file, with every heading any of them has."""
    named = headings or list(dict.fromkeys(name for row in rows for name in row))
    text = io.StringIO()
    writer = csv.DictWriter(text, named, restval="")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode()


def files(content: Sheets) -> list[tuple[str, bytes]]:
    """The sheets as files."""
    return [(f"{name}.csv", csv_bytes(rows)) for name, rows in content.items()]
