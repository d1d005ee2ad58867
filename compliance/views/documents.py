"""Papers of a lot, as PDF."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from functools import wraps
from urllib.parse import urlencode

from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from brewlog.middleware import BreweryRequest
from brewlog.models import Lot
from brewlog.views.access import READ, needs
from brewlog.views.details import Link
from brewlog.views.lists import XLSX
from brewlog.views.lots import find_lot, unknown_lot
from brewlog.views.traces import SinceForm
from brewlog.when import When
from compliance.documents.barcodes import BarcodeError
from compliance.documents.collect_lot import collect_lot
from compliance.documents.files import file_stem, usual_paper
from compliance.documents.lot_sheet import lot_sheet
from compliance.documents.page import PAPERS
from compliance.documents.recall_facts import RecallPacket, collect_recall
from compliance.documents.recall_files import recall_folder
from compliance.documents.recall_packet import recall_packet, recall_workbook
from compliance.documents.trace_packet import DIRECTIONS, FORWARD, collect_trace
from compliance.documents.trace_sheet import trace_sheet
from compliance.label_stock import LabelError


class AskedWrongly(ValueError):
    """An address that asks for what there is not. The message says what there is."""


def paper_of_lot(
    view: Callable[..., HttpResponse],
) -> Callable[..., HttpResponse]:
    """Find the lot; say on a page why a paper is not made: refused (409), asked wrongly (400)."""

    @require_safe
    @wraps(view)
    def answered(request: BreweryRequest, code: str, **asked: str) -> HttpResponse:
        lot = find_lot(request, code)
        if lot is None:
            return unknown_lot(request, code)
        try:
            return view(request, lot, **asked)
        except AskedWrongly as error:
            return no_paper(request, lot, [str(error)], 400)
        except (LabelError, BarcodeError) as error:
            return no_paper(request, lot, [str(error)], 409)
        except ValidationError as error:
            return no_paper(request, lot, error.messages, 409)

    return answered


@needs(READ)
@paper_of_lot
def lot_sheet_pdf(request: BreweryRequest, lot: Lot) -> HttpResponse:
    """The lot sheet. `?paper=` is a4 or letter; without it, what the country uses."""
    packet = collect_lot(lot, printed_by=_reader(request), printed_at=timezone.now())
    return pdf(lot_sheet(packet, usual_of(request)), f"lot-{file_stem(lot.code)}")


@needs(READ)
@paper_of_lot
def lot_trace_pdf(request: BreweryRequest, lot: Lot) -> HttpResponse:
    """The trace sheet. `?direction=` is forward (the usual) or backward."""
    direction = _choice(request, "direction", DIRECTIONS, FORWARD)
    packet = collect_trace(lot, direction, printed_by=_reader(request), printed_at=timezone.now())
    return pdf(trace_sheet(packet, usual_of(request)), f"trace-{direction}-{file_stem(lot.code)}")


@needs(READ)
@paper_of_lot
def lot_recall_file(request: BreweryRequest, lot: Lot, ending: str) -> HttpResponse:
    """The recall packet as pdf, xlsx, or zip with every notice; `?since=` as on its page."""
    if ending not in RECALL_FILES:
        raise AskedWrongly(f"There is no packet as {ending}. There are: {', '.join(RECALL_FILES)}.")
    at, paper = timezone.now(), _paper(request)
    packet = collect_recall(lot, printed_by=_reader(request), printed_at=at, since=_since(request))
    media_type, write = RECALL_FILES[ending]
    response = HttpResponse(write(packet, at, paper), content_type=media_type)
    name = f"recall-{file_stem(lot.code)}.{ending}"
    response["Content-Disposition"] = str(content_disposition_header(ending != "pdf", name))
    return response


RECALL_FILES: dict[str, tuple[str, Callable[[RecallPacket, dt.datetime, str], bytes]]] = {
    "pdf": ("application/pdf", lambda packet, at, paper: recall_packet(packet, paper)),
    "xlsx": (XLSX, lambda packet, at, paper: recall_workbook(packet, at)),
    "zip": ("application/zip", recall_folder),
}


def packet_link(ending: str, title: str) -> Callable[[BreweryRequest, Lot], Link]:
    """A link from "who has it" to the packet, with what the page was asked."""

    def link(request: BreweryRequest, lot: Lot) -> Link:
        since = request.GET.get("since", "")
        query = f"?{urlencode({'since': since})}" if since else ""
        return Link(title, reverse("lot-recall-file", args=[lot.code, ending]) + query)

    return link


PACKET_LINKS = (
    packet_link("pdf", "Recall packet"),
    packet_link("xlsx", "Customers and lots (XLSX)"),
    packet_link("zip", "Everything, with each notice (ZIP)"),
)


def _since(request: BreweryRequest) -> When | None:
    form = SinceForm(request.GET, actor=_reader(request), brewery=request.brewery)
    if not form.is_valid():
        raise AskedWrongly(" ".join(str(text) for text in form.errors["since"]))
    return form.cleaned_data["since"]


def _reader(request: BreweryRequest):
    return request.user


def _choice(request: BreweryRequest, name: str, choices: tuple[str, ...], usual: str) -> str:
    chosen = request.GET.get(name) or usual
    if chosen not in choices:
        raise AskedWrongly(f"There is no {name} '{chosen}'. There are: {', '.join(choices)}.")
    return chosen


def usual_of(request: BreweryRequest) -> str:
    """`?paper=`, a4 or letter; without it, what the country prints on."""
    usual = usual_paper(getattr(request, "brewery", None))
    return _choice(request, "paper", tuple(PAPERS), usual)


def pdf(content: bytes, name: str) -> HttpResponse:
    """A PDF shown in the browser, under a name for who keeps it."""
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = str(content_disposition_header(False, f"{name}.pdf"))
    return response


def no_paper(request: BreweryRequest, lot: Lot, why: list[str], status: int) -> HttpResponse:
    """The page that says why a paper of a lot was not made."""
    context = {"here": "records", "lot": lot, "why": why}
    return render(request, "compliance/no_paper.html", context, status=status)
