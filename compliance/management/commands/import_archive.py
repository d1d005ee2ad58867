"""`manage.py import_archive FILE`: an archive into an empty install."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from compliance.exchange.unpacking import ArchiveRefused, read_archive

READ_IN, REFUSED = 0, 1


class Command(BaseCommand):
    help = (
        "Read an archive of export_archive into this install, which must be empty: `manage.py "
        "migrate` first, and nothing else. Every part is checked against its SHA-256 before "
        "anything is written, and all of it is read in or nothing. Nobody has a password "
        "afterwards: give one by `manage.py changepassword NAME`. Exit code 0: read in; "
        "1: refused, and it says why."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="the archive, a .zip")

    def handle(self, *args: Any, file: str, **options: Any) -> None:
        try:
            read = read_archive(file)
        except ArchiveRefused as refused:
            self.stderr.write(str(refused))
            sys.exit(REFUSED)
        self.stdout.write(
            f"{read['rows']} rows and {read['files']} files read in. Nobody has a password yet: "
            "give each person one by `manage.py changepassword NAME`."
        )
        sys.exit(READ_IN)
