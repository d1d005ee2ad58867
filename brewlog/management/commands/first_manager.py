"""`manage.py first_manager`: the person who sets a new brewery up."""

from __future__ import annotations

import getpass
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand

from brewlog.domain.people import first_manager

MADE, REFUSED = 0, 1


class Command(BaseCommand):
    help = (
        "Make the first manager, who adds everyone else in the browser. The password is asked "
        "for, or read as one line where it is piped in. Exit code 0: made; 1: refused."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username")
        parser.add_argument("name", help="as it stands on papers")

    def handle(self, *args: Any, username: str, name: str, **options: Any) -> None:
        asked = sys.stdin.isatty()
        password = getpass.getpass("Password: ") if asked else sys.stdin.readline().rstrip("\n")
        try:
            person = first_manager(username=username, name=name, password=password)
        except ValidationError as error:
            self.stderr.write(" ".join(error.messages))
            sys.exit(REFUSED)
        self.stdout.write(f"{person} can log in as {person.username}.")
        sys.exit(MADE)
