"""What `manage.py benchmark` measures of daily work: the pages asked most, and reading sheets."""

from __future__ import annotations

import csv
import io
from functools import partial
from typing import Any, cast

from django.test import RequestFactory
from django.urls import resolve, reverse
from django.utils import timezone
from django_htmx.middleware import HtmxDetails

from brewlog.importing.reading import read_files
from brewlog.importing.running import import_source
from brewlog.management.measuring import OURS, Question
from brewlog.middleware import BreweryRequest
from brewlog.models import Brewery, Lot, LotKind, User

# Server time of any page with ten years of a small plant's records.
_PAGE_MS = 100
_ROWS, _LOTS_READ, _ROWS_A_SECOND = 500, 50, 300


def work_questions() -> list[Question]:
    """The start page, the lists, the newest lots' pages, and a sheet of readings."""
    addresses = {"start": reverse("home"), "find": f"{reverse('find')}?q=26"}
    addresses |= {f"{noun} list": reverse(f"{noun}-list") for noun in ("batch", "bottling")}
    newest = Lot.objects.live().order_by("-happened_at", "-pk")
    for kind in (LotKind.BATCH, LotKind.BOTTLING):
        lot = newest.filter(kind=kind).first()
        if lot is not None:
            addresses[f"newest {kind.label}"] = reverse("lot-detail", args=[lot.code])
    pages = [
        Question(
            f"page: {name} (lines)",
            {OURS: partial(page_lines, address)},
            # A page holds the minute, and secrets of its own.
            same=lambda one, other: len(one) == len(other),
            limit_ms=_PAGE_MS,
        )
        for name, address in addresses.items()
    ]
    batches = list(newest.filter(kind=LotKind.BATCH)[:_LOTS_READ])
    writer = User.objects.order_by("pk").first()
    if not batches or writer is None:
        return pages
    read = partial(_rows_checked, batches, writer)
    name = "readings from a sheet, not kept (rows)"
    return [
        *pages,
        Question(name, {OURS: read}, per_second=_ROWS_A_SECOND, is_made=True),
    ]


def page_lines(address: str) -> list[bytes]:
    """The lines of a page as a manager gets it. Raises `LookupError` where it is not shown."""
    request = cast(BreweryRequest, RequestFactory().get(address))
    request.user = User(pk=0, is_superuser=True)
    request.brewery = Brewery.objects.first()
    request.htmx = HtmxDetails(request)
    cast(Any, request).session = {}
    found = resolve(request.path)
    response = found.func(request, *found.args, **found.kwargs)
    if response.status_code != 200:
        raise LookupError(f"{address} answers {response.status_code}.")
    return response.content.splitlines()


def _rows_checked(batches: list[Lot], writer: User) -> range:
    """A sheet of readings recorded with every check and its history, and taken back again."""
    source = read_files("benchmark", [("Readings.csv", _sheet(batches))])
    outcome = import_source(source, actor=writer, dry_run=True)
    if outcome.problems:
        raise LookupError(f"The sheet of readings is refused: {outcome.problems[0]}")
    return range(outcome.new)


def _sheet(batches: list[Lot]) -> bytes:
    out = io.StringIO()
    write = csv.writer(out)
    write.writerow(["When", "Lot", "Measured", "Reading", "Replicate"])
    now = f"{timezone.localtime():%Y-%m-%d %H:%M}"
    for number in range(_ROWS):
        lot = batches[number % len(batches)]
        replicate = number // len(batches) + 1
        write.writerow([now, lot.code, "pH", f"{3 + number % 100 / 1000:.3f}", replicate])
    return out.getvalue().encode()
