"""Reports on paper: the rows of the workbook, and what they lack."""

from __future__ import annotations

import dataclasses

import pytest

from compliance.exchange import report_paper as paper
from compliance.exchange.report_paper import report_paper
from compliance.exchange.reports import Report, ReportSheet
from compliance.exchange.scopes import Scope
from compliance.exchange.traceability import collect_traceability
from tests.compliance.documents import story as told
from tests.compliance.documents.papers import ink_in_margins, pages_of, words_of
from tests.compliance.documents.story import PRINTED_AT
from tests.compliance.documents.test_page import HEAD

HEADS = ("lot", "product", "quantity", "lacking")


def report(*rows, heads=HEADS) -> Report:
    sheet = ReportSheet("Receiving", heads, list(rows), about="One row each.", none="Nothing came.")
    return Report(HEAD, "all lots", ("To be known.",), (sheet,))


def test_every_row_is_on_it_and_beneath_one_what_it_lacks():
    words = words_of(report_paper(report(("R1", "tea", 2.5, ""), ("R2", "sugar", 50, "document"))))
    for part in ("all lots", "To be known.", "One row each.", "R1 tea 2.5", "lacking: document"):
        assert part in words
    assert words.count("lacking") == 1


def test_small_amounts_stand_in_plain_figures():
    words = words_of(report_paper(report(("R1", "tea", 0.000005, ""), ("R2", "tea", 12e9, ""))))
    assert "0.000005" in words
    assert "12000000000" in words


def test_a_sheet_without_rows_says_so():
    assert "Nothing came." in words_of(report_paper(report()))


@pytest.mark.parametrize("size", ["a4", "letter"])
def test_long_codes_are_not_broken_and_words_stay_within_the_page(size):
    heads = tuple(f"column number {n}" for n in range(12))
    row = tuple("2026-06-01" if n % 2 else "Nowhere Lane 5, Saltmarsh, 555-0117" for n in range(12))
    pdf = report_paper(report(*[row] * 40, heads=heads), size)
    assert words_of(pdf).count("2026-06-01") == 40 * 6
    assert ink_in_margins(pdf, 4) == 0
    assert len(pages_of(pdf)) > 1


def test_more_rows_than_paper_can_hold_are_told_of(monkeypatch):
    monkeypatch.setattr(paper, "MOST_ROWS_PRINTED", 3)
    words = words_of(report_paper(report(*[(f"R{n}", "tea", 1, "") for n in range(5)])))
    assert "Printed are 3 of 5 rows" in words
    assert "R2" in words
    assert "R3" not in words


@pytest.mark.django_db
def test_a_traceability_report_has_each_lot_and_the_same_bytes(brewery, manager):
    told.tell(manager)
    made = collect_traceability(
        Scope(), listed_only=False, printed_by=manager, printed_at=PRINTED_AT
    )
    pdf = report_paper(made)
    assert pdf == report_paper(dataclasses.replace(made))
    words = words_of(pdf)
    assert all(code in words for code in ("R26058A", "B26061A", "L26071A"))
