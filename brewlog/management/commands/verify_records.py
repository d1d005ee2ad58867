"""`manage.py verify_records`: whether the records are as they were written."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from rich.progress import Progress

from brewlog.management.printing import console_on
from brewlog.verify import recorded_models, verify

SOUND, UNSOUND = 0, 1


class Command(BaseCommand):
    help = (
        "Look for what no entry can have written: changes past the history, uses before their "
        "source began, lots made from themselves, links to nothing. Nothing is changed. "
        "Exit code 0: the records are sound; 1: they are not."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--quiet", action="store_true", help="print findings only")

    def handle(self, *args: Any, quiet: bool, **options: Any) -> None:
        console = console_on(self.stdout)
        with Progress(console=console, transient=True, disable=quiet) as progress:
            task = progress.add_task("", total=None)
            findings = verify(lambda step: progress.update(task, description=step))
        for finding in findings:
            self.stdout.write(f"{finding.kind}: {finding}")
        if findings:
            self.stderr.write(
                f"{len(findings)} findings. Keep a copy of the data folder as it is, and compare "
                "it with your last back-up before anything is mended."
            )
            sys.exit(UNSOUND)
        if not quiet:
            self.stdout.write(f"The records are sound: {len(recorded_models())} kinds looked at.")
        sys.exit(SOUND)
