"""`manage.py load_rulesets`: read the rule sets that come with the program."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from compliance.domain.rulesets import RULESETS, read_rulesets
from compliance.domain.watch import system_user


class Command(BaseCommand):
    help = (
        "Read rule sets from a folder of JSON files. What is there stays as it is, so it may be "
        "run again; none of them binds until the manager switches it on."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", nargs="?", type=Path, default=RULESETS)

    def handle(self, *args: Any, folder: Path, **options: Any) -> None:
        if not folder.is_dir():
            raise CommandError(f"There is no folder {folder}.")
        try:
            added = read_rulesets(actor=system_user(), folder=folder)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        for ruleset in added:
            self.stdout.write(f"{ruleset}: {ruleset.limits.count()} limits")
        self.stdout.write(f"{len(added)} new rule set{'' if len(added) == 1 else 's'}.")
