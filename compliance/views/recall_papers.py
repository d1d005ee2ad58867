"""The recall packet of a lot, by itself or with the answers to a question asked of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from urllib.parse import urlencode

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header

from brewlog.middleware import BreweryRequest
from brewlog.models import Lot
from brewlog.views.access import READ, needs
from brewlog.views.details import Link
from brewlog.views.lists import XLSX
from brewlog.views.traces import SinceForm
from brewlog.when import When
from compliance.documents.files import file_stem
from compliance.documents.recall_facts import RecallPacket, collect_recall
from compliance.documents.recall_files import recall_folder
from compliance.documents.recall_packet import recall_packet, recall_workbook
from compliance.models import RecallRun
from compliance.views.documents import AskedWrongly, paper_of_lot, usual_of

RECALL_FILES: dict[str, tuple[str, Callable[[RecallPacket, dt.datetime, str], bytes]]] = {
    "pdf": ("application/pdf", lambda packet, at, paper: recall_packet(packet, paper)),
    "xlsx": (XLSX, lambda packet, at, paper: recall_workbook(packet, at)),
    "zip": ("application/zip", recall_folder),
}
TITLES = {
    "pdf": "Recall packet",
    "xlsx": "Customers and lots (XLSX)",
    "zip": "Everything, with each notice (ZIP)",
}


@needs(READ)
@paper_of_lot
def lot_recall_file(request: BreweryRequest, lot: Lot, ending: str) -> HttpResponse:
    """The packet as pdf, xlsx, or zip with every notice; `?since=` as on the page of who has it,
    or `?run=`, a question asked of the lot, for the answers to it."""
    if ending not in RECALL_FILES:
        raise AskedWrongly(f"There is no packet as {ending}. There are: {', '.join(RECALL_FILES)}.")
    at, paper = timezone.now(), usual_of(request)
    packet = collect_recall(
        lot,
        printed_by=request.user,  # type: ignore[arg-type]
        printed_at=at,
        since=_since(request),
        run=_run(request, lot),
    )
    media_type, write = RECALL_FILES[ending]
    response = HttpResponse(write(packet, at, paper), content_type=media_type)
    name = f"recall-{file_stem(lot.code)}.{ending}"
    response["Content-Disposition"] = str(content_disposition_header(ending != "pdf", name))
    return response


def packet_links(lot: Lot, **asked: object) -> list[Link]:
    """The packet in its forms, with what is asked of it."""
    query = urlencode({name: value for name, value in asked.items() if value})
    return [
        Link(
            title,
            reverse("lot-recall-file", args=[lot.code, ending]) + (f"?{query}" if query else ""),
        )
        for ending, title in TITLES.items()
    ]


def _link_to(number: int) -> Callable[[BreweryRequest, Lot], Link]:
    return lambda request, lot: packet_links(lot, since=request.GET.get("since", ""))[number]


# On the page of who has what was made from a lot.
PACKET_LINKS = [_link_to(number) for number in range(len(TITLES))]


def _since(request: BreweryRequest) -> When | None:
    form = SinceForm(request.GET, actor=request.user, brewery=request.brewery)  # type: ignore[arg-type]
    if not form.is_valid():
        raise AskedWrongly(" ".join(str(text) for text in form.errors["since"]))
    return form.cleaned_data["since"]


def _run(request: BreweryRequest, lot: Lot) -> RecallRun | None:
    asked = request.GET.get("run", "")
    if not asked:
        return None
    runs = RecallRun.objects.live().filter(lot=lot.pk)
    found = runs.filter(pk=int(asked)).first() if asked.isascii() and asked.isdigit() else None
    if found is None:
        raise AskedWrongly(f"There is no recall question {asked} of {lot}. Open one from its page.")
    return found
