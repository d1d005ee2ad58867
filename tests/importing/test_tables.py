"""Headings: found, matched loosely, missing, unknown, twice."""

from __future__ import annotations

import pytest

from brewlog.importing.reading import Grid
from brewlog.importing.sheets import BY_NAME, SHEETS
from brewlog.importing.tables import column_letter, find_sheet, make_table, unknown_sheet

DECISIONS = BY_NAME["Decisions"]
HEADINGS = ["Lot", "Decision", "When", "By", "Reason"]
ROW = ["T1", "accepted", "2026-03-04", "", "sound"]


def table_of(*rows: list[str]):
    return make_table(Grid("Decisions", list(enumerate(rows, 1))), DECISIONS)


@pytest.mark.parametrize(
    "name",
    [
        "Recipe lines",
        "recipe line",
        "RECIPE_LINES",
        "Recipe-Lines",
        " Recipe  lines ",
        "05 Recipe lines",
        "Recipe lines 2026",
        "Recipe lines (2)",
    ],
)
def test_a_sheet_is_found_by_any_likely_spelling(name):
    assert find_sheet(name, SHEETS) is BY_NAME["Recipe lines"]


def test_batch_is_the_sheet_batches():
    assert find_sheet("batch", SHEETS) is BY_NAME["Batches"]


def test_an_unknown_sheet_names_the_one_that_may_be_meant():
    problem = unknown_sheet(Grid("Recieving", [(1, ["When"])]), SHEETS)

    assert (problem.sheet, problem.row) == ("Recieving", 0)
    assert "Did you mean Receiving?" in problem.reason


def test_headings_are_matched_whatever_their_case_and_spaces():
    table = table_of(["  LOT ", "decision", "When", "by", "reason "], ROW)

    assert table.problems == []
    assert table.lines[0].values == {
        "lot": "T1",
        "decision": "accepted",
        "when": "2026-03-04",
        "reason": "sound",
    }


def test_columns_may_stand_in_any_order_and_optional_ones_be_left_out():
    table = table_of(
        ["Reason", "When", "Lot", "Decision"], ["sound", "2026-03-04", "T1", "accepted"]
    )

    assert table.problems == []
    assert table.lines[0].values["lot"] == "T1"


def test_a_title_above_the_headings_is_passed_over():
    table = table_of(["Our deliveries of March"], HEADINGS, ROW)

    assert table.problems == []
    assert [line.number for line in table.lines] == [3]


def test_a_sheet_of_headings_only_has_no_rows_and_no_problems():
    table = table_of(HEADINGS)

    assert (table.lines, table.problems) == ([], [])


def test_a_missing_column_is_one_problem_and_its_rows_are_not_looked_at():
    table = table_of(["Lot", "Decision", "Reason"], ["T1", "accepted", "sound"])

    (problem,) = table.problems
    assert (problem.row, problem.column) == (1, "When")
    assert table.incomplete
    assert [line.values for line in table.lines] == [{}]


def test_a_column_that_may_be_missing_is_no_problem():
    assert table_of([each for each in HEADINGS if each != "By"], ROW[:3] + ROW[4:]).problems == []


def test_a_misspelt_needed_column_is_one_problem_that_names_the_right_one():
    table = table_of(["Lot", "Decison", "When", "By", "Reason"], ROW)

    (problem,) = table.problems
    assert problem.column == "Decison"
    assert "Did you mean 'Decision'?" in problem.reason
    assert table.incomplete


def test_an_unknown_column_lists_the_columns_there_are():
    (problem,) = table_of([*HEADINGS, "Colour of the van"], [*ROW, "blue"]).problems

    assert problem.column == "Colour of the van"
    assert "The columns are: Lot, Decision, When, By, Reason." in problem.reason


def test_a_column_that_is_there_twice_is_a_problem():
    (problem,) = table_of([*HEADINGS, "Lot"], [*ROW, "T2"]).problems

    assert "Two columns have this name" in problem.reason


def test_a_value_under_no_heading_is_a_problem_once_for_its_column():
    (problem,) = table_of([*HEADINGS, ""], [*ROW, "x"], [*ROW, "y"]).problems

    assert (problem.row, problem.column, problem.value) == (2, "F", "x")


def test_an_empty_column_without_a_heading_is_no_problem():
    assert table_of(["", *HEADINGS], ["", *ROW]).problems == []


@pytest.mark.parametrize(("place", "letter"), [(0, "A"), (25, "Z"), (26, "AA"), (701, "ZZ")])
def test_columns_have_the_letters_spreadsheets_show(place, letter):
    assert column_letter(place) == letter
