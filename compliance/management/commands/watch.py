"""`manage.py watch`: write holds for critical limits that were missed since someone last wrote.

Run it every few minutes: a deadline passes without anyone writing anything.
"""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from brewlog.models import Brewery
from compliance.domain.watch import watch


class Command(BaseCommand):
    help = "Hold lots whose critical limits were not met, with the finding as the reason."

    def handle(self, *args: Any, **options: Any) -> None:
        brewery = Brewery.objects.first()
        if brewery is not None:
            timezone.activate(brewery.zone)
        holds = watch()
        for hold in holds:
            self.stdout.write(f"{hold.lot}: {hold.reason}")
        self.stdout.write(f"{len(holds)} new hold{'' if len(holds) == 1 else 's'}.")
