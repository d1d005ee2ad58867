"""`manage.py load_plan`: read in the example hazard plan, and the rule sets it refers to."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from brewlog.models import User
from compliance.domain.plans import STARTER_PLAN, read_starter_plan


class Command(BaseCommand):
    help = (
        "Read in the example hazard plan for live-culture tea, to copy and adapt, and the rule "
        "sets it refers to. Run again, it changes nothing."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--as", dest="username", help="the manager who reads it in; needed with several"
        )
        parser.add_argument("--file", type=Path, default=STARTER_PLAN, help="another plan's file")

    def handle(self, *args: Any, username: str | None, file: Path, **options: Any) -> None:
        actor = _manager(username)
        if not file.exists():
            raise CommandError(f"There is no file {file}.")
        try:
            version = read_starter_plan(actor=actor, file=file)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from None
        self.stdout.write(f"Read in: {version}." if version else "It is there already.")


def _manager(username: str | None) -> User:
    """The manager of that user name, or the only one there is."""
    managers = User.objects.filter(is_active=True, groups__name="manager")
    found = list(managers.filter(username=username) if username else managers)
    if len(found) != 1:
        known = ", ".join(managers.order_by("username").values_list("username", flat=True))
        raise CommandError(f"Say which manager reads it in, with --as. There are: {known}.")
    return found[0]
