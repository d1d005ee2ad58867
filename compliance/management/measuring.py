"""What `manage.py benchmark` measures besides the trace: the list over every open lot, the recall
packets of a culture of late and of the founding one, a binder of some two hundred pages."""

from __future__ import annotations

import re
from functools import partial
from typing import cast

from django.test import RequestFactory
from django.urls import reverse
from django.utils import timezone

from brewlog.management.measuring import OURS, Question
from brewlog.middleware import BreweryRequest
from brewlog.models import BottlingLot, Brewery, Lot, LotKind, User
from compliance.documents.binder import binder
from compliance.documents.binder_packet import collect_binder
from compliance.documents.printing import COMMAND
from compliance.documents.recall_facts import collect_recall
from compliance.documents.recall_files import recall_folder
from compliance.documents.recall_sending import SentTo
from compliance.domain.keeping import kept_up_to
from compliance.exchange.scopes import Period
from compliance.views.findings import findings

# Server time of any page with ten years of a small plant's records.
_LIMIT_MS = 100
# From the recall question to the finished packet.
_PACKET_MS = 10_000
# Four generations of a generated plant, of which bottles are out and some still here.
_NEWER_CULTURES = 100
# About two hundred pages with their batches, in a generated plant.
_LOTS_OF_A_BINDER = 75


def questions() -> list[Question]:
    """The papers, and the first page of what needs a look once anything was kept for it."""
    found = []
    if kept_up_to() is not None:
        found.append(Question("page of what needs a look", {OURS: _rows}, limit_ms=_LIMIT_MS))
    cultures = Lot.objects.live().filter(kind=LotKind.CULTURE).order_by("-happened_at", "-pk")
    recent = list(cultures[: _newest(cultures.count(), _NEWER_CULTURES)])
    if recent:
        for name, lot in (("culture of late", recent[-1]), ("founding culture", cultures.last())):
            packet = partial(_recall_rows, cast(Lot, lot))
            found.append(
                Question(
                    f"recall packet, {name} (rows)",
                    {OURS: packet},
                    limit_ms=_PACKET_MS,
                    is_made=True,
                )
            )
    if BottlingLot.objects.live().exists():
        found.append(Question("binder (pages)", {OURS: _binder_pages}, is_made=True))
    return found


def _newest(count: int, wanted: int) -> int:
    """How many of the newest to take: of a small plant, a small part."""
    return max(1, min(wanted, count // 40))


def _recall_rows(lot: Lot) -> list[SentTo]:
    """From the question to the folder of everything, with each notice; what was sent, in rows."""
    at = timezone.now()
    packet = collect_recall(lot, printed_by=COMMAND, printed_at=at)
    recall_folder(packet, at, "a4")
    return [lot for each in packet.recipients for lot in each.lots]


def _binder_pages() -> list[bytes]:
    """The binder from the day on which the newest lots were bottled; its pages."""
    at = timezone.now()
    lots = BottlingLot.objects.live().order_by("-happened_at")
    newest = lots[: _newest(lots.count(), _LOTS_OF_A_BINDER)]
    first = min(lot.happened_at for lot in newest)
    period = Period(timezone.localtime(first).date(), None)
    packet = collect_binder(period, every=True, printed_by=COMMAND, printed_at=at)
    return pages_in(binder(packet))


def pages_in(pdf: bytes) -> list[bytes]:
    """The page objects of a PDF of ours."""
    return re.findall(rb"/Type /Page\b", pdf)


def _rows() -> list[bytes]:
    """The rows of the page, as a reader gets it."""
    request = cast(BreweryRequest, RequestFactory().get(reverse("findings")))
    request.user = User(pk=0, is_superuser=True)
    request.brewery = Brewery.objects.first()
    return findings(request).content.split(b"<tr")[1:]
