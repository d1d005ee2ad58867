"""Record what stands in spreadsheets: all of it, or nothing and the list of mistakes."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table

from brewlog.importing.reading import read_path
from brewlog.importing.running import Outcome, import_source
from brewlog.importing.template import write_template
from brewlog.management.printing import console_on
from brewlog.models import User

DONE, PROBLEMS, USAGE = 0, 1, 2


class Command(BaseCommand):
    help = (
        "Record what stands in a folder of CSV files or in a workbook. Every mistake is listed, "
        "and nothing is saved while there is one. Reading the same again changes nothing. "
        "Exit code 0: done; 1: there are mistakes; 2: it was called wrongly."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("source", nargs="?", type=Path, help="folder, .xlsx, .csv or .zip")
        parser.add_argument("--dry-run", action="store_true", help="check only, save nothing")
        parser.add_argument(
            "--leave-changed",
            action="store_true",
            help="import the new rows although rows imported before were changed; "
            "those stay as recorded",
        )
        parser.add_argument(
            "--as", dest="username", help="who records; needed with several managers"
        )
        parser.add_argument("--template", type=Path, help="write empty sheets to this folder")

    def handle(self, *args: Any, **options: Any) -> None:
        console = console_on(self.stdout)
        if options["template"]:
            written = write_template(options["template"])
            console.print(f"{len(written)} files written to {options['template']}.")
            return
        sys.exit(self._import(console, options))

    def _import(self, console: Console, options: dict[str, Any]) -> int:
        actor = _actor(options["username"])
        if isinstance(actor, str) or options["source"] is None:
            self.stderr.write(actor if isinstance(actor, str) else "Name a folder or a workbook.")
            return USAGE
        try:
            source = read_path(options["source"])
        except FileNotFoundError as error:
            self.stderr.write(str(error))
            return USAGE
        with Progress(
            TextColumn("Checking" if options["dry_run"] else "Recording"),
            BarColumn(),
            MofNCompleteColumn(),
            TimeRemainingColumn(),
            console=console,
            transient=True,
        ) as bar:
            task = bar.add_task("")
            outcome = import_source(
                source,
                actor=actor,
                dry_run=options["dry_run"],
                leave_changed=options["leave_changed"],
                progress=lambda done, total: bar.update(task, completed=done, total=total),
            )
        show(console, outcome, dry_run=options["dry_run"])
        return DONE if outcome.is_sound(options["leave_changed"]) else PROBLEMS


def _actor(username: str | None) -> User | str:
    """Who records, or what is wrong with the answer."""
    if username:
        named = User.objects.filter(username=username, is_active=True).first()
        if named is None:
            return f"Nobody is called '{username}'."
        if not named.has_perm("brewlog.manage_brewery"):
            return f"{named} may not import. Name a manager."
        return named
    managers = User.objects.filter(groups__name="manager", is_active=True)
    if len(managers) != 1:
        return "Say who records: --as USERNAME of a manager."
    return managers[0]


def show(console: Console, outcome: Outcome, *, dry_run: bool) -> None:
    """Print what became of the rows, every mistake and every conflict."""
    console.print(_tallies(outcome))
    if outcome.problems:
        console.print(
            _table(
                f"{len(outcome.problems)} to mend",
                ("Sheet", "Row", "Column", "Value", "What is wrong"),
                [
                    (p.sheet, str(p.row or ""), p.column, p.value, p.reason)
                    for p in outcome.problems
                ],
            )
        )
    if outcome.conflicts:
        console.print(
            _table(
                f"{len(outcome.conflicts)} cells changed since they were imported",
                ("Sheet", "Row", "Column", "Recorded", "Now"),
                [(c.sheet, str(c.row), c.column, c.recorded, c.now) for c in outcome.conflicts],
            )
        )
        console.print(
            "What is recorded stays as it is. Correct the record itself, with a reason, and "
            "put the row back; or import the rest with --leave-changed."
        )
    if outcome.leaning:
        console.print(f"{outcome.leaning} rows not looked at: they lean on a row with a mistake.")
    if outcome.saved:
        console.print(f"Saved: {outcome.new} rows.")
        for words in outcome.seen:
            console.print(words)
    elif dry_run:
        console.print("Checked only: nothing was saved.")
    else:
        console.print("Nothing was saved.")


def _tallies(outcome: Outcome) -> Table:
    rows = [(t.sheet, *(str(n or "") for n in t.numbers)) for t in outcome.tallies]
    headings = ("Sheet", "Rows", "New", "As before", "Changed", "Wrong", "Not looked at")
    return _table(outcome.name, headings, rows)


def _table(title: str, headings: tuple[str, ...], rows: list[tuple[str, ...]]) -> Table:
    table = Table(title=title, title_justify="left")
    for heading in headings:
        table.add_column(heading, overflow="fold")
    for row in rows:
        table.add_row(*row)
    return table
