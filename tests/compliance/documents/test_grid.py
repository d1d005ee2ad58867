from __future__ import annotations

import io
import sys
from collections.abc import Callable

import pypdf
import pytest
from reportlab.platypus import Flowable

from compliance.documents.page import Column, Pair, Row, pairs, render, table
from tests.compliance.documents.papers import ink_in_margins, pages_of, words_of
from tests.compliance.documents.test_page import COLUMNS, HEAD, rows


def calls_in(work: Callable[[], object]) -> int:
    """How many functions the work calls: it is the same on a fast and on a slow machine."""
    count = 0

    def note(frame: object, event: str, arg: object) -> None:
        nonlocal count
        count += event == "call"

    before = sys.getprofile()
    sys.setprofile(note)
    try:
        work()
    finally:
        sys.setprofile(before)
    return count


def long_table(count: int) -> list[Flowable]:
    return [table(COLUMNS, rows(count), "")]


def table_of_broken_cells(count: int) -> list[Flowable]:
    words = "a note of many words " * 8
    return [table(COLUMNS, [Row((f"day {n}", words, ""), (words,)) for n in range(count)], "")]


def list_of_codes(count: int) -> list[Flowable]:
    codes = (f"L26071-{n}, best before 2026-06-10" for n in range(count * 10))
    return pairs([Pair("Lots", "; ".join(codes))])


@pytest.mark.parametrize("parts", [long_table, table_of_broken_cells, list_of_codes])
def test_four_times_as_much_is_no_more_than_four_times_the_work(parts):
    render(HEAD, parts(600))  # What is done once for each word is not counted.
    few = calls_in(lambda: render(HEAD, parts(150)))
    many = calls_in(lambda: render(HEAD, parts(600)))
    assert many < 4.4 * few


def test_a_row_is_not_torn_from_the_lines_beneath_it():
    held = [Row((f"day {n}", f"entry {n}", ""), [f"said {n}", f"done {n}"]) for n in range(120)]
    pages = pages_of(render(HEAD, [table(COLUMNS, held, "")]))
    assert len(pages) > 4
    for number in range(120):
        words = f"day {number} entry {number} said {number} done {number}"
        assert sum(f"{words} " in f"{page} " for page in pages) == 1


def test_the_last_row_does_not_stand_alone_on_a_page():
    lasts = []
    for count in range(30, 90):
        pages = pages_of(render(HEAD, [table(COLUMNS, rows(count), "")]))
        lasts.append(pages[-1].count("entry number"))
        assert sum(page.count("entry number") for page in pages) == count
    assert min(lasts) == 2


@pytest.mark.parametrize(
    ("words", "whole"),
    [
        ("the limit is ≤ 4.2 pH", "≤ 4.2 pH"),
        ("as hot as 82 °C", "82 °C"),
        ("the lot has < 5 mL", "< 5 mL"),
    ],
)
def test_a_figure_is_not_torn_from_its_sign_or_its_unit(words, whole):
    lines = set()
    for room in range(6, 14):
        held = [table([Column("A", room), Column("B", 60)], [Row((words, ""))], "")]
        page = pypdf.PdfReader(io.BytesIO(render(HEAD, held))).pages[0]
        lines |= {line.strip() for line in page.extract_text().splitlines()}
    assert whole in lines
    assert not [line for line in lines if line.endswith(("≤", "<", "82", "5"))]


def test_a_broken_cell_stands_beside_whole_ones():
    essay = " ".join(f"word{n}" for n in range(60))
    pdf = render(HEAD, [table(COLUMNS, [Row(("now", essay, "1 L")), *rows(80)], "")])
    words = words_of(pdf)
    assert "word59" in words
    assert "entry number 79 79 mL" in words
    assert ink_in_margins(pdf, 4) == 0


def test_rows_in_bold_and_struck_out_say_the_same():
    held = [Row(("total", "of all", "9 mL"), is_bold=True), Row(("gone", "a", "b"), is_struck=True)]
    words = words_of(render(HEAD, [table([Column("", 4), *COLUMNS[1:]], held, "")]))
    assert "total of all 9 mL gone a b" in words


def test_a_long_value_loses_none_of_its_words():
    words = words_of(render(HEAD, list_of_codes(100)))
    assert all(f"L26071-{n}," in words for n in range(1000))


def test_a_cell_of_one_line_stands_level_with_the_first_line_of_others():
    columns = [Column("A", 10), Column("B", 10)]
    pdf = render(HEAD, [table(columns, [Row(("level", "level words " * 20))], "")])
    heights = []
    pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text(
        visitor_text=lambda text, cm, tm, font, size: (
            heights.append(round(cm[5] + tm[5], 1)) if text.startswith("level") else None
        )
    )
    assert len(heights) > 2
    assert heights[0] == heights[1]
