"""`manage.py export_archive FILE`: everything recorded, in open forms, in one file."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from compliance.exchange.packing import write_archive

WRITTEN, REFUSED = 0, 1


class Command(BaseCommand):
    help = (
        "Write every table, its history and every file as one zip of open forms, with the "
        "SHA-256 of each part; import_archive reads it into an empty install. Passwords are left "
        "out. Exit code 0: written; 1: it could not be written."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the archive to write, a .zip; not there yet")

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        try:
            with file.open("xb") as to:
                manifest = write_archive(to)
        except OSError as error:
            self.stderr.write(f"{file} cannot be written: {error.strerror}.")
            sys.exit(REFUSED)
        rows = sum(part.get("rows", 0) for part in manifest["parts"])
        self.stdout.write(f"{rows} rows written to {file}")
        for name in manifest["files named and not there"]:
            self.stderr.write(f"A record names the file {name}, and it is not there.")
        sys.exit(WRITTEN)
