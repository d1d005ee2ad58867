"""`manage.py generate_plant`: an invented plant of any size, to measure with."""

from __future__ import annotations

import time
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

from brewlog.management.generated import generate
from brewlog.models import Lot, User


class Command(BaseCommand):
    help = (
        "Fill an empty database with an invented plant: 5000 batches are about ten years of a "
        "small one. The same seed gives the same plant."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--batches", type=int, default=5000, help="how many (5000)")
        parser.add_argument("--seed", type=int, default=1, help="a whole number (1)")

    def handle(self, *args: Any, batches: int, seed: int, **options: Any) -> None:
        if batches < 1:
            raise CommandError("A plant has at least one batch.", returncode=2)
        if Lot.objects.exists():
            raise CommandError(
                "This database holds lots. An invented plant goes into an empty one only: "
                "set BREWLOG_DATA to a new folder and run migrate there first."
            )
        started = time.perf_counter()
        console = Console(stderr=True)
        with _bar(console) as bar:
            task = bar.add_task("batches", total=batches)
            written = generate(
                actor=_generator(),
                batches=batches,
                seed=seed,
                progress=lambda done: bar.update(task, completed=done),
            )
        _tidy_statistics()
        for name, rows in written.items():
            self.stdout.write(f"{rows:>9,} {name}".replace(",", " "))
        self.stdout.write(f"{time.perf_counter() - started:>9.1f} s")


def _bar(console: Console) -> Progress:
    return Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        console=console,
        disable=not console.is_terminal,
    )


def _generator() -> User:
    """Who the records say wrote them: an account nobody can log in with."""
    user, created = User.objects.get_or_create(
        username="generator", defaults={"last_name": "Generator", "is_active": False}
    )
    if created:
        user.set_unusable_password()
        user.save()
    return user


def _tidy_statistics() -> None:
    """Tell the database's planner what is there now.

    PostgreSQL reads from an index alone only what was vacuumed, which it does by itself
    in time, and never inside a transaction.
    """
    vacuum = connection.vendor == "postgresql" and not connection.in_atomic_block
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE" if vacuum else "ANALYZE")
