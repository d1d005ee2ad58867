"""`manage.py back_up FOLDER`: a whole copy of the records, also while brewlog is served."""

from __future__ import annotations

import shutil
import sqlite3
import sys
from argparse import ArgumentParser
from contextlib import closing
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import connection
from django.utils import timezone

DONE, REFUSED = 0, 1


class Command(BaseCommand):
    help = (
        "Copy the database as it is at one moment, and the uploaded files, into a new folder "
        "named after the time inside FOLDER. The secret key is left out: a new one is made "
        "where the copy is put to use. Exit code 0: done; 1: refused."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, help="on another disk, best in another building")

    def handle(self, *args: Any, folder: Path, **options: Any) -> None:
        if connection.vendor != "sqlite":
            self.stderr.write(
                f"The records are on a PostgreSQL server: copy them by pg_dump, and the folder "
                f"{settings.MEDIA_ROOT}."
            )
            sys.exit(REFUSED)
        copy = folder / f"brewlog-{timezone.now():%Y-%m-%d-%H%M%S}"
        try:
            copy.mkdir(parents=True)
            _copy_database(copy / "brewlog.sqlite3")
            if Path(settings.MEDIA_ROOT).exists():
                shutil.copytree(settings.MEDIA_ROOT, copy / "files")
        except OSError as error:
            self.stderr.write(f"{error.filename or folder} cannot be written: {error.strerror}.")
            sys.exit(REFUSED)
        self.stdout.write(f"Copied to {copy}")
        sys.exit(DONE)


def _copy_database(to: Path) -> None:
    """SQLite's own copy: of one moment, whatever is being written meanwhile."""
    source = str(connection.settings_dict["NAME"])
    with closing(sqlite3.connect(source)) as live, closing(sqlite3.connect(to)) as copied:
        live.backup(copied)
