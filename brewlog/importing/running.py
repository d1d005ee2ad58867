"""An import, from grids to records: all of it or nothing, every mistake listed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError
from django.utils import timezone

from brewlog.domain.imports import remember_rows
from brewlog.domain.looking import look_at
from brewlog.importing.lookups import Lookups
from brewlog.importing.planning import Plan
from brewlog.importing.problems import Conflict, Problem
from brewlog.importing.reading import Source
from brewlog.importing.references import Token
from brewlog.importing.rows import Row, SheetReader, State
from brewlog.importing.sheet import Sheet
from brewlog.importing.sheets import FIRST, SHEETS
from brewlog.importing.tables import Table, find_sheet, make_table, unknown_sheet
from brewlog.models import Brewery, ImportedRow, User
from brewlog.recording import recording

Progress = Callable[[int, int], None]


@dataclass
class Tally:
    """What became of a sheet's rows. `leaning` were not looked at: they lean on a mistake."""

    sheet: str
    new: int = 0
    unchanged: int = 0
    changed: int = 0
    bad: int = 0
    leaning: int = 0

    @property
    def numbers(self) -> tuple[int, ...]:
        """All rows, then those of each kind in the order above."""
        each = (self.new, self.unchanged, self.changed, self.bad, self.leaning)
        return (sum(each), *each)


@dataclass
class Outcome:
    """What an import did, or would do. Nothing was saved unless `saved`."""

    name: str
    tallies: list[Tally] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    conflicts: list[Conflict] = field(default_factory=list)
    saved: bool = False
    # What came of looking at all lots afterwards, in words.
    seen: list[str] = field(default_factory=list)

    @property
    def new(self) -> int:
        return sum(tally.new for tally in self.tallies)

    @property
    def unchanged(self) -> int:
        return sum(tally.unchanged for tally in self.tallies)

    @property
    def leaning(self) -> int:
        return sum(tally.leaning for tally in self.tallies)

    def is_sound(self, leave_changed: bool = False) -> bool:
        """Whether all of it may be saved."""
        return not self.problems and (leave_changed or not self.conflicts)


class _NothingIsKeptError(Exception):
    """Leaves the recording without its writes."""


def import_source(
    source: Source,
    *,
    actor: User,
    dry_run: bool = False,
    leave_changed: bool = False,
    progress: Progress | None = None,
) -> Outcome:
    """Record everything in a source, or nothing.

    Nothing is saved on a `dry_run`, with any problem, or with any conflict unless
    `leave_changed` says that the changed rows stay as they were recorded.
    """
    run = _Run(source, actor, progress or (lambda done, total: None))
    try:
        with recording(actor, f"Imported from {source.name}"):
            run.record_all()
            if dry_run or not run.outcome.is_sound(leave_changed):
                raise _NothingIsKeptError
            run.remember()
            run.outcome.seen = look_at(actor, None)
    except _NothingIsKeptError:
        return run.outcome
    run.outcome.saved = True
    return run.outcome


class _Run:
    """One pass over a source."""

    def __init__(self, source: Source, actor: User, progress: Progress) -> None:
        self.actor = actor
        self.progress = progress
        self.outcome = Outcome(source.name, problems=list(source.problems))
        self.tables = self._tables(source)
        self.total = sum(len(table.lines) for table in self.tables)
        self.done = 0
        self.readers: dict[str, SheetReader] = {}
        self.known: dict[tuple[str, str], str] = {}
        self.rows: list[Row] = []
        self.broken: set[Token] = set()
        self.lookups = Lookups()

    def _tables(self, source: Source) -> list[Table]:
        tables = []
        for grid in source.grids:
            sheet = find_sheet(grid.name, SHEETS)
            if sheet is not None:
                tables.append(make_table(grid, sheet))
            elif grid.rows and not grid.hidden:
                self.outcome.problems.append(unknown_sheet(grid, SHEETS))
        ranks = {sheet.name: rank for rank, sheet in enumerate(SHEETS)}
        tables.sort(key=lambda table: (ranks[table.sheet.name], table.name))
        for table in tables:
            self.outcome.problems += table.problems
        return tables

    def record_all(self) -> None:
        """Record every row, the brewery's own first: its clock and dates hold for the rest."""
        names = {table.sheet.name for table in self.tables}
        self.known = {
            (row.sheet, row.key): row.said for row in ImportedRow.objects.filter(sheet__in=names)
        }
        with self.lookups.watching():
            self._record([table for table in self.tables if table.sheet in FIRST])
            brewery = Brewery.objects.first()
            with timezone.override(brewery.zone) if brewery else nullcontext():
                self._record([table for table in self.tables if table.sheet not in FIRST])
        self._tally()

    def remember(self) -> None:
        """Keep what the recorded rows said, so that reading them again changes nothing."""
        remember_rows(
            [(row.sheet.name, row.key, row.said) for row in self.rows if row.state is State.NEW]
        )

    def _record(self, tables: Sequence[Table]) -> None:
        plan = Plan(self._rows(tables))
        for row, circle in plan.ordered():
            self._settle(row, plan, circle)
            self.done += 1
            self.progress(self.done, self.total)

    def _reader(self, sheet: Sheet) -> SheetReader:
        if sheet.name not in self.readers:
            brewery = Brewery.objects.first()
            self.readers[sheet.name] = SheetReader(sheet, self.actor, brewery, self.lookups)
        return self.readers[sheet.name]

    def _rows(self, tables: Sequence[Table]) -> list[Row]:
        """The rows to plan. Those that are there twice are problems and take no part."""
        planned = []
        first: dict[tuple[str, str], Row] = {}
        for table in tables:
            reader = self._reader(table.sheet)
            for line in table.lines:
                row = reader.row(table, line)
                self.rows.append(row)
                if table.incomplete:
                    row.state = State.LEANING
                elif line.bad_cells:
                    self._fail(row, list(line.bad_cells))
                earlier = first.setdefault((table.sheet.name, row.key), row)
                if earlier is row or row.state is not State.WAITING:
                    planned.append(row)
                else:
                    self._fail(row, [_there_twice(row, earlier)])
        return planned

    def _settle(self, row: Row, plan: Plan, circle: list[tuple[Row, str]]) -> None:
        if row.state is not State.WAITING:
            return
        reader = self._reader(row.sheet)
        said = self.known.get((row.sheet.name, row.key))
        if said is not None:
            self._compare(row, reader, said)
        elif row.sequence in self.broken or any(
            each.state in {State.BAD, State.LEANING} for each in plan.leans_on(row)
        ):
            row.state = State.LEANING
            self._fail(row, reader.check_cells(row))
        elif circle:
            self._fail(row, [_in_a_circle(circle)])
        else:
            self._write(row, reader)

    def _fail(self, row: Row, problems: list[Problem]) -> None:
        if problems:
            row.state = State.BAD
            self.outcome.problems += problems
            if row.sequence:
                self.broken.add(row.sequence)

    def _compare(self, row: Row, reader: SheetReader, said: str) -> None:
        differences = reader.differences(said, row)
        row.state = State.CHANGED if differences else State.UNCHANGED
        self.outcome.conflicts += [
            Conflict(row.table.name, row.number, row.table.heading(name) or name, before, now)
            for name, before, now in differences
        ]

    def _write(self, row: Row, reader: SheetReader) -> None:
        """Carry out the row's verb, which opens a savepoint of its own."""
        cleaned, problems = reader.read(row)
        if not problems:
            try:
                row.sheet.verb(actor=self.actor, **row.sheet.fixed, **cleaned)
                row.state = State.NEW
            except ValidationError as error:
                problems = _problems(row, error)
                self.lookups.forget_lots()
        self._fail(row, problems)

    def _tally(self) -> None:
        tallies: dict[str, Tally] = {}
        for row in self.rows:
            tally = tallies.setdefault(row.sheet.name, Tally(row.sheet.name))
            setattr(tally, row.state.value, getattr(tally, row.state.value) + 1)
        self.outcome.tallies = list(tallies.values())
        ranks = {table.name: rank for rank, table in enumerate(self.tables)}
        self.outcome.problems.sort(key=lambda p: (ranks.get(p.sheet, -1), p.row))
        self.outcome.conflicts.sort(key=lambda c: (ranks.get(c.sheet, -1), c.row))


def _problems(row: Row, error: ValidationError) -> list[Problem]:
    """A verb's refusal, by the columns it is about."""
    if not hasattr(error, "error_dict"):
        return [row.problem("", reason) for reason in error.messages]
    return [
        row.problem(name if name in row.sheet.fields else "", reason)
        for name, reasons in error.message_dict.items()
        for reason in reasons
    ]


def _there_twice(row: Row, earlier: Row) -> Problem:
    where = f"row {earlier.number}"
    if earlier.table.name != row.table.name:
        where += f" of {earlier.table.name}"
    more = " If both happened, number them in a column 'No.'." if row.sheet.numbered else ""
    return row.problem(row.sheet.key[0], f"The same stands in {where} already.{more}")


def _in_a_circle(circle: list[tuple[Row, str]]) -> Problem:
    row, name = circle[0]
    others = ", ".join(f"{each.table.name} row {each.number}" for each, _ in circle[1:])
    return row.problem(
        name,
        f"This leans on {others}, which leans on this row again. Nothing is made from what is "
        "made of it: mend one of them.",
    )


def describe(outcome: Outcome) -> dict[str, Any]:
    """The outcome as plain data."""
    return {
        "name": outcome.name,
        "saved": outcome.saved,
        "tallies": [vars(tally) for tally in outcome.tallies],
        "problems": [problem.as_dict() for problem in outcome.problems],
        "conflicts": [conflict.as_dict() for conflict in outcome.conflicts],
    }
