"""A grid of text as a table of a known sheet: which column is which field."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches

from brewlog.importing.problems import Problem
from brewlog.importing.reading import Grid
from brewlog.importing.sheet import Sheet, loose
from brewlog.importing.workbooks import BadCell

# A title and a remark or two may stand above the headings.
_HEADINGS_WITHIN = 10


@dataclass(frozen=True)
class Line:
    """One row: its number in the spreadsheet, and its cells by field, empty ones left out."""

    number: int
    values: dict[str, str]
    bad_cells: tuple[Problem, ...] = ()


@dataclass
class Table:
    """One grid understood as rows of a sheet. `headings` are the file's words, by field."""

    sheet: Sheet
    name: str
    headings: dict[str, str] = field(default_factory=dict)
    lines: list[Line] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    # Without a column that must be there no row can be looked at.
    incomplete: bool = False

    def heading(self, field_name: str) -> str:
        """What the column is called in the file; the sheet's own name where it is not there."""
        if field_name in self.headings:
            return self.headings[field_name]
        return next((c.label for c in self.sheet.columns if c.field == field_name), "")


def find_sheet(name: str, sheets: Sequence[Sheet]) -> Sheet | None:
    """The sheet a file or tab of that name is."""
    return next((sheet for sheet in sheets if sheet.is_called(name)), None)


def unknown_sheet(grid: Grid, sheets: Sequence[Sheet]) -> Problem:
    """What to say of a sheet that is none of ours."""
    near = get_close_matches(grid.name, [sheet.name for sheet in sheets], n=1, cutoff=0.6)
    hint = f"Did you mean {near[0]}? " if near else ""
    reason = f"No sheet is called so. {hint}The template lists the sheets there are."
    return Problem(grid.name, 0, "", "", reason)


def make_table(grid: Grid, sheet: Sheet) -> Table:
    """Read a grid by the sheet's columns."""
    table = Table(sheet, grid.name)
    if not grid.rows:
        return table
    at = _heading_row(grid, sheet)
    number, headings = grid.rows[at]
    places = _places(table, number, headings)
    _note_missing(table, number)
    _note_nameless(table, grid, at, headings)
    if not table.incomplete:
        bad: dict[int, list[BadCell]] = {}
        for cell in grid.bad:
            bad.setdefault(cell.row, []).append(cell)
        table.lines = [
            _line(table, row, places, bad.get(row[0], ())) for row in grid.rows[at + 1 :]
        ]
        table.lines = [line for line in table.lines if line.values or line.bad_cells]
    else:
        table.lines = [Line(row, {}) for row, _ in grid.rows[at + 1 :]]
    return table


def _heading_row(grid: Grid, sheet: Sheet) -> int:
    """Which row holds the headings: of the first few, the one with the most known names."""
    known = sheet.by_label

    def fits(place: int) -> tuple[int, int]:
        return sum(loose(cell) in known for cell in grid.rows[place][1]), -place

    return max(range(min(_HEADINGS_WITHIN, len(grid.rows))), key=fits)


def _places(table: Table, number: int, headings: list[str]) -> dict[int, str]:
    """Field by place in the row. Unknown and repeated headings are problems."""
    places: dict[int, str] = {}
    for place, text in enumerate(headings):
        if not text:
            continue
        column = table.sheet.by_label.get(loose(text))
        if column is None:
            table.problems.append(_unknown_heading(table, number, text, headings))
        elif column.field in table.headings:
            reason = "Two columns have this name. Keep one."
            table.problems.append(Problem(table.name, number, text, text, reason))
        else:
            table.headings[column.field] = " ".join(text.split())
            places[place] = column.field
    return places


def _unknown_heading(table: Table, number: int, text: str, headings: list[str]) -> Problem:
    there = {loose(each) for each in headings}
    free = [c.label for c in table.sheet.columns if loose(c.label) not in there]
    near = get_close_matches(text, free, n=1, cutoff=0.6)
    if near:
        # One mistake, one report: the column meant is not missing as well.
        meant = table.sheet.by_label[loose(near[0])]
        table.headings.setdefault(meant.field, text)
        table.incomplete = table.incomplete or meant.required
    hint = f"Did you mean '{near[0]}'?" if near else f"The columns are: {_listed(table.sheet)}."
    reason = f"The sheet {table.sheet.name} has no such column. {hint}"
    return Problem(table.name, number, text, text, reason)


def _listed(sheet: Sheet) -> str:
    return ", ".join(column.label for column in sheet.columns)


def _note_missing(table: Table, number: int) -> None:
    for column in table.sheet.columns:
        if column.required and column.field not in table.headings:
            table.incomplete = True
            reason = f"The column {column.label} is missing, and every row needs it."
            table.problems.append(Problem(table.name, number, column.label, "", reason))


def _note_nameless(table: Table, grid: Grid, at: int, headings: list[str]) -> None:
    """Values under no heading: once for each such column, at its first value."""
    noted: set[int] = set()
    for number, cells in grid.rows[at + 1 :]:
        for place, text in enumerate(cells):
            if text and place not in noted and (place >= len(headings) or not headings[place]):
                noted.add(place)
                reason = "There is a value here, and no heading over it."
                letter = column_letter(place)
                table.problems.append(Problem(table.name, number, letter, text, reason))


def column_letter(place: int) -> str:
    """A, B... Z, AA: how a spreadsheet program names a column."""
    letters = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _line(
    table: Table,
    row: tuple[int, list[str]],
    places: dict[int, str],
    bad_cells: Sequence[BadCell],
) -> Line:
    number, cells = row
    values = {places[place]: text for place, text in enumerate(cells) if text and place in places}
    bad = tuple(
        Problem(table.name, number, table.heading(places[b.place]), b.value, b.reason)
        for b in bad_cells
        if b.place in places
    )
    return Line(number, values, bad)
