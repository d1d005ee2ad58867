"""The demo's sheets in the test database, through the importer as the manager reads them in."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import transaction
from django.utils import timezone

from brewlog.domain.people import first_manager
from brewlog.importing.reading import read_path
from brewlog.importing.running import Outcome, import_source
from brewlog.models import Brewery
from tests.demo.raw_sheets import FOLDER


@contextmanager
def demo_records() -> Iterator[Outcome]:
    """The demo's records while the block lasts; afterwards the database is as it was."""
    with transaction.atomic():
        manager = first_manager(username="iria", name="Iria Salvado", password="nine months of tea")
        outcome = import_source(read_path(FOLDER), actor=manager)
        with timezone.override(Brewery.objects.get().zone):
            yield outcome
        transaction.set_rollback(True)
