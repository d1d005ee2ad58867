"""`manage.py demo`: an invented brewery from its sheets, the main job done, then served."""

from __future__ import annotations

import csv
import datetime as dt
import os
import subprocess
import sys
from argparse import ArgumentParser
from io import StringIO
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from rich.console import Console
from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn
from rich.table import Table

from brewlog.domain.blocks import all_blocks
from brewlog.domain.people import first_manager, give_password
from brewlog.importing.reading import read_path
from brewlog.importing.running import import_source
from brewlog.management.commands.import_records import show
from brewlog.management.printing import brewery_zone, console_on
from brewlog.management.recalling import print_recall
from brewlog.models import BottlingLot, Brewery, Hold, Lot, LotKind, User
from brewlog.trace import Recall, recall
from compliance.documents.files import usual_paper
from compliance.domain.rulesets import bind
from compliance.domain.watch import watch
from compliance.management.commands.documents import labels_of, papers_of
from compliance.management.commands.recall import write_packet
from compliance.models import RuleSet

SHEETS = settings.BASE_DIR / "fixtures" / "demo"
MANAGER, MANAGER_NAME = "iria", "Iria Salvado"
# Known to everyone who reads this, and good for the invented records only.
PASSWORD = "heron tea 417"
RULES = ("us-federal-alcohol", "kombucha-guidance", "house-template")
RULES_SINCE = dt.date(2026, 1, 1)


class Command(BaseCommand):
    help = (
        "Load the invented brewery's spreadsheets into a folder of their own, show which "
        "bottles came from a mouldy culture and who has them, write the papers as PDF, and "
        "serve it all until Ctrl+C. Run again, it serves what is there."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="end when all is shown")
        parser.add_argument(
            "--directory",
            type=Path,
            default=settings.BASE_DIR / "data" / "demo",
            help="folder of the demo's records (data/demo)",
        )

    def handle(self, *args: Any, directory: Path, no_serve: bool, **options: Any) -> None:
        directory = directory.expanduser().resolve()
        if not _works_in(directory):
            _start_again_in(directory)
        console = console_on(self.stdout)
        if not self._is_loaded(console):
            _load(console)
            with timezone.override(brewery_zone()):
                _show_the_main_job(console, directory / "papers")
        console.print(_people())
        if not no_serve:
            call_command("serve", stdout=self.stdout, stderr=self.stderr)

    def _is_loaded(self, console: Console) -> bool:
        with _progress(console) as progress:
            progress.add_task("Setting up the database", total=None)
            call_command("migrate", interactive=False, verbosity=0)
        there = Brewery.objects.first()
        if there and there.name != _demo_name():
            raise CommandError(
                f"{settings.DATA_DIR} holds the records of {there}. The demo goes into a folder "
                "of its own: name another with --directory."
            )
        return there is not None


def _works_in(directory: Path) -> bool:
    """Whether this program's database is the demo's file."""
    uses_a_file = settings.DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3"
    return directory == settings.DATA_DIR and uses_a_file


def _start_again_in(directory: Path) -> None:
    """Replace this program by one that works in the folder: settings are read once."""
    environment = {**os.environ, "BREWLOG_DATA": str(directory)}
    # A brewery's own server is not the place for invented records.
    environment.pop("DATABASE_URL", None)
    command = [sys.executable, *sys.argv]
    if os.name == "posix":
        os.execve(command[0], command, environment)
    sys.exit(subprocess.run(command, env=environment).returncode)


def _demo_name() -> str:
    with (SHEETS / "Brewery.csv").open(encoding="utf-8-sig", newline="") as file:
        return next(csv.DictReader(file))["Name"]


def _progress(console: Console) -> Progress:
    return Progress(
        SpinnerColumn(),
        TextColumn("{task.description}"),
        BarColumn(),
        TimeElapsedColumn(),
        console=console,
    )


# Loading ---------------------------------------------------------------------------------


def _load(console: Console) -> None:
    """Read the sheets as anyone would, and give the people in them a password."""
    manager = User.objects.filter(username=MANAGER).first() or first_manager(
        username=MANAGER, name=MANAGER_NAME, password=PASSWORD
    )
    with _progress(console) as progress:
        task = progress.add_task("Reading the spreadsheets", total=None)
        source = read_path(SHEETS)
        progress.update(task, description="Recording what is in them")
        outcome = import_source(
            source,
            actor=manager,
            progress=lambda done, total: progress.update(task, completed=done, total=total),
        )
    if not outcome.saved:
        show(console, outcome, dry_run=False)
        raise CommandError("The demo's own sheets have mistakes. Nothing was loaded.")
    for person in User.objects.filter(is_active=True).exclude(pk=manager.pk):
        give_password(actor=manager, person=person, password=PASSWORD, must_change=False)
    console.print(f"{outcome.new} rows of {len(outcome.tallies)} sheets recorded.\n")
    _choose_rules(manager)
    call_command("load_plan", username=MANAGER, stdout=StringIO())


def _choose_rules(manager: User) -> None:
    """Read the rule sets in, and hold the invented brewery to what its buyers ask for."""
    call_command("load_rulesets", stdout=StringIO())
    with timezone.override(brewery_zone()):
        for key in RULES:
            bind(
                actor=manager,
                ruleset=RuleSet.objects.get(key=key),
                since=RULES_SINCE,
                reason="its buyers ask for it",
            )
        watch()


# Showing ---------------------------------------------------------------------------------


def _show_the_main_job(console: Console, papers: Path) -> None:
    """Which bottles came from the mouldy culture, who has them, and the papers of it."""
    answer = _widest_mould()
    console.print(
        f"Culture {answer.scope.lot.code} turned out mouldy. What was made from it, and who "
        "has it?\n"
    )
    print_recall(console, answer)
    with _progress(console) as progress:
        progress.add_task("Writing the papers", total=None)
        write_packet(answer, papers)
        affected = Lot.objects.get(code=answer.bottling_lots[0].code)
        _write(papers, papers_of(affected, _paper()))
        _write(papers, labels_of(_newest_free_lot(), _paper()))
    console.print(f"The papers are in {papers}:")
    for path in sorted(papers.glob("*.pdf")):
        console.print(f"  {path.name}")


def _widest_mould() -> Recall:
    """What was made from the mouldy lot that reached the most bottles."""
    lots = Lot.objects.filter(
        holds__cause=Hold.Cause.MOULD, holds__voided_at__isnull=True, kind=LotKind.CULTURE
    )
    return max((recall(lot) for lot in lots.distinct()), key=lambda answer: answer.totals.made)


def _paper() -> str:
    return usual_paper(Brewery.objects.first())


def _newest_free_lot() -> Lot:
    """The last bottling that nothing keeps back: only that one may be labelled."""
    newest_first = BottlingLot.objects.live().order_by("-happened_at", "-pk")
    return next(lot for lot in newest_first.iterator() if not all_blocks(lot, "sent out"))


def _write(folder: Path, files: dict[str, bytes]) -> None:
    for name, content in files.items():
        (folder / name).write_bytes(content)


def _people() -> Table:
    table = Table(title="Log in as", title_justify="left")
    for heading in ("User name", "Password", "Role"):
        table.add_column(heading)
    for person in User.objects.filter(is_active=True, groups__isnull=False).order_by("id"):
        table.add_row(person.username, PASSWORD, person.role)
    return table
