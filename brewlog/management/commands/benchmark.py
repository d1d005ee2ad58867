"""`manage.py benchmark`: the trace beside the other ways to ask, on this database."""

from __future__ import annotations

import dataclasses
import json
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from rich.console import Console
from rich.progress import track
from rich.table import Table

from brewlog.management.measuring import (
    WAYS,
    Measured,
    measure,
    missing_libraries,
    questions,
)
from brewlog.management.measuring_work import work_questions
from brewlog.management.printing import console_on
from brewlog.models import Lot, LotUse, ShipmentLine

SAME, DIFFERENT = 0, 1


class Command(BaseCommand):
    help = (
        "Median times of the trace on this database, beside hand-written SQL, an ORM walk, "
        "networkx and pandas; the pages asked most; and recall packets, a binder, labels and an "
        "import that is not kept, each with the most memory held while it is made. "
        "Every way must give the same answer before it is timed. Exit code "
        "0: all the same; 1: answers differ; 2: there is nothing to trace."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="for programs")

    def handle(self, *args: Any, **options: Any) -> None:
        left_out = missing_libraries()
        if left_out:
            self.stderr.write(f"Left out, not installed: {', '.join(left_out)}.")
        try:
            asked = [*questions(), *work_questions()]
        except LookupError as error:
            raise CommandError(
                f"{error} Fill an empty database with generate_plant first.", returncode=2
            ) from None
        quiet = not self.stderr.isatty()
        progress = Console(stderr=True)
        results = [
            measure(question, left_out)
            for question in track(asked, "measuring", console=progress, disable=quiet)
        ]
        self._report(results, options["json"])
        sys.exit(exit_code(results))

    def _report(self, results: list[Measured], for_programs: bool) -> None:
        size = {
            "database": connection.vendor,
            "lots": Lot.objects.count(),
            "uses": LotUse.objects.count(),
            "shipment lines": ShipmentLine.objects.count(),
        }
        if for_programs:
            measured = [dataclasses.asdict(result) for result in results]
            self.stdout.write(json.dumps({**size, "measured": measured}, indent=2))
            return
        print_results(console_on(self.stdout), size, results)


def exit_code(results: list[Measured]) -> int:
    """1 where any way gave another answer."""
    return DIFFERENT if any(result.different for result in results) else SAME


def print_results(console: Console, size: dict[str, Any], results: list[Measured]) -> None:
    """The medians as a table, and what differs."""
    console.print(_table(size, results))
    for peak_of in sorted({result.peak_of for result in results if result.peak_of}):
        console.print(f"Peak: the most memory held meanwhile by {peak_of}.")
    for result in results:
        for name in result.different:
            console.print(f"{result.question}: {name} gives another answer.")


def _table(size: dict[str, Any], results: list[Measured]) -> Table:
    title = ", ".join(f"{name} {value}" for name, value in size.items())
    table = Table(title=f"Medians in ms ({title})")
    table.add_column("question")
    table.add_column("size", justify="right")
    for way in WAYS:
        table.add_column(way, justify="right")
    table.add_column("processor", justify="right")
    table.add_column("peak MB", justify="right")
    table.add_column("aimed at")
    for result in results:
        medians = (result.medians.get(way) for way in WAYS)
        table.add_row(
            result.question,
            str(result.size),
            *("-" if median is None else f"{median:.1f}" for median in medians),
            "-" if result.processor_ms is None else f"{result.processor_ms:.0f}",
            "-" if result.peak_mb is None else f"{result.peak_mb:.0f}",
            "; ".join(
                f"{target}: {'yes' if met else 'NO'}" for target, met in result.targets.items()
            ),
        )
    return table
