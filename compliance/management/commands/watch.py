"""`manage.py watch`: write holds for critical limits that were missed since someone last wrote,
and work out again what the list of findings shows.

Run it every few minutes: a deadline passes without anyone writing anything.
"""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from brewlog.models import Brewery
from compliance.domain.watch import look_through


class Command(BaseCommand):
    help = (
        "Hold lots whose critical limits were not met, with the finding as the reason, and keep "
        "what was found for the lists. It looks at the lots that were written about or whose "
        "time has come, and once a day at all of them."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--all", action="store_true", help="look at every lot anew")

    def handle(self, *args: Any, **options: Any) -> None:
        brewery = Brewery.objects.first()
        if brewery is not None:
            timezone.activate(brewery.zone)
        holds = look_through(everything=options["all"])
        for hold in holds:
            self.stdout.write(f"{hold.lot}: {hold.reason}")
        self.stdout.write(f"{len(holds)} new hold{'' if len(holds) == 1 else 's'}.")
