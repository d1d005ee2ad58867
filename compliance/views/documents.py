"""Papers of a lot, as PDF."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from brewlog.middleware import BreweryRequest
from brewlog.models import Lot, Vessel
from brewlog.views.access import READ, needs
from brewlog.views.details import Link
from brewlog.views.lots import find_lot, unknown_lot
from compliance.documents.barcodes import BarcodeError
from compliance.documents.cards import card, collect_card, collect_vessel_card
from compliance.documents.collect_lot import collect_lot
from compliance.documents.files import file_stem, usual_paper
from compliance.documents.lot_sheet import lot_sheet
from compliance.documents.page import PAPERS
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
def lot_card_pdf(request: BreweryRequest, lot: Lot) -> HttpResponse:
    """The card of a culture, or the tag of a delivery."""
    url = request.build_absolute_uri(reverse("lot-detail", args=[lot.code]))
    packet = collect_card(lot, url=url, printed_by=_reader(request), printed_at=timezone.now())
    return pdf(card(packet), f"card-{file_stem(lot.code)}")


@require_safe
@needs(READ)
def vessel_card_pdf(request: BreweryRequest, pk: int) -> HttpResponse:
    """The card that hangs on a vessel."""
    vessel = get_object_or_404(Vessel, pk=pk)
    url = request.build_absolute_uri(reverse("vessel-detail", args=[pk]))
    packet = collect_vessel_card(
        vessel, url=url, printed_by=_reader(request), printed_at=timezone.now()
    )
    return pdf(card(packet), f"card-{file_stem(vessel.name)}")


def vessel_card_link(request: HttpRequest, vessel: Vessel) -> Link:
    """From a vessel's page to its card."""
    return Link("Card (PDF)", reverse("vessel-card-pdf", args=[vessel.pk]))


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
