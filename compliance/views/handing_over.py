"""Records to hand over: looked at on a page, taken along as a file."""

from __future__ import annotations

import datetime as dt
import re
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from brewlog.entries.base import MANAGE
from brewlog.middleware import BreweryRequest
from brewlog.models import Brewery, User
from brewlog.views.access import READ, needs
from brewlog.views.entry_page import form_problems
from brewlog.views.lists import XLSX
from brewlog.views.reader import NOTHING
from compliance.documents.binder import binder
from compliance.documents.binder_packet import collect_binder
from compliance.documents.files import usual_paper
from compliance.documents.workbook import Cell
from compliance.exchange.alcohol import collect_alcohol
from compliance.exchange.epcis import MEDIA_TYPE, EventPacket, collect_events
from compliance.exchange.organic import collect_organic
from compliance.exchange.packing import write_archive
from compliance.exchange.report_paper import report_paper
from compliance.exchange.reports import Report, ReportSheet, in_figures, report_workbook
from compliance.exchange.traceability import collect_traceability
from compliance.forms.exchange import (
    AlcoholForm,
    BinderForm,
    OrganicForm,
    PeriodForm,
    ScopeForm,
    TraceabilityForm,
)
from compliance.views.documents import pdf

# What a page shows of a sheet; the file has every row.
MOST_ROWS = 50
# What is asked where nothing is: up to today.
_USUAL_DAYS = 90

_DAY = re.compile(r"\d{4}-\d\d-\d\d( \d\d:\d\d)?$")

Packet = Report | EventPacket
File = tuple[bytes, str]


@dataclass(frozen=True)
class Kind:
    """One thing that is handed over: its form, its collector, and the files it is written as."""

    slug: str
    title: str
    about: str
    form: type[PeriodForm]
    collect: Callable[[Any, User, dt.datetime], Packet]
    files: Mapping[str, Callable[[Any, dt.datetime], File]]


def _workbook(report: Report, at: dt.datetime) -> File:
    return report_workbook(report, at), XLSX


def _json(report: Report, at: dt.datetime) -> File:
    return report.to_json().encode(), "application/json"


def _events(packet: EventPacket, at: dt.datetime) -> File:
    return packet.to_json().encode(), MEDIA_TYPE


def _paper(report: Report, at: dt.datetime) -> File:
    return report_paper(report, usual_paper(Brewery.objects.first())), "application/pdf"


_REPORT_FILES = {"xlsx": _workbook, "pdf": _paper, "json": _json}

KINDS = {
    kind.slug: kind
    for kind in (
        Kind(
            "traceability",
            "Traceability spreadsheet",
            "Receiving, transformation and shipping, one row each, to sort and filter: what the "
            "authority may ask for within a day.",
            TraceabilityForm,
            lambda form, user, at: collect_traceability(
                form.scope,
                listed_only=form.cleaned_data["listed_only"],
                printed_by=user,
                printed_at=at,
            ),
            _REPORT_FILES,
        ),
        Kind(
            "events",
            "Trace events (EPCIS 2.0)",
            "What was received, made, measured, held, released and sent, as events a buyer's or "
            "an authority's system reads.",
            ScopeForm,
            lambda form, user, at: collect_events(form.scope, printed_by=user, printed_at=at),
            {"jsonld": _events},
        ),
        Kind(
            "organic",
            "Organic records",
            "The balance of each organic ingredient, certificates valid at receipt, the way of it "
            "into bottles and back, and clean-downs.",
            OrganicForm,
            lambda form, user, at: collect_organic(
                form.cleaned_data["ingredient"], form.period, printed_by=user, printed_at=at
            ),
            _REPORT_FILES,
        ),
        Kind(
            "alcohol",
            "Alcohol records",
            "The highest alcohol of each lot at any time, and the daily record of a qualified "
            "brewer where a lot was over the line.",
            AlcoholForm,
            lambda form, user, at: collect_alcohol(
                form.period, daily=form.cleaned_data["daily"], printed_by=user, printed_at=at
            ),
            _REPORT_FILES,
        ),
    )
}


@require_safe
@needs(READ)
def hand_over_index(request: BreweryRequest) -> HttpResponse:
    """Everything that can be handed over, and what it is for."""
    context = {
        "here": "records",
        "kinds": KINDS.values(),
        "manages": request.user.has_perm(MANAGE),
    }
    return render(request, "compliance/hand_over_index.html", context)


@require_safe
@needs(READ)
def hand_over(request: BreweryRequest, slug: str) -> HttpResponse:
    """One of them: what is asked, the first rows, and the files."""
    kind = _kind(slug)
    form = _form(request, kind)
    packet = kind.collect(form, _reader(request), timezone.now()) if form.is_valid() else None
    return _page(request, kind, form, packet)


@require_safe
@needs(READ)
def hand_over_download(request: BreweryRequest, slug: str, ending: str) -> HttpResponse:
    """The file, of what the form asks."""
    kind = _kind(slug)
    if ending not in kind.files:
        raise Http404(f"{kind.title}: there are {', '.join(kind.files)}, not {ending}.")
    form = _form(request, kind)
    if not form.is_valid():
        return _page(request, kind, form, None, status=400)
    at = timezone.now()
    content, media_type = kind.files[ending](kind.collect(form, _reader(request), at), at)
    name = f"{kind.slug}-{timezone.localdate():%Y-%m-%d}.{ending}"
    response = HttpResponse(content, content_type=media_type)
    response["Content-Disposition"] = str(content_disposition_header(True, name))
    return response


def _kind(slug: str) -> Kind:
    if slug not in KINDS:
        raise Http404(f"Nothing called '{slug}' is handed over.")
    return KINDS[slug]


def _reader(request: BreweryRequest) -> Any:
    return request.user


def _form(request: BreweryRequest, kind: Kind) -> PeriodForm:
    return kind.form(request.GET or _usual(), actor=_reader(request), brewery=request.brewery)


def _usual() -> dict[str, str]:
    today = timezone.localdate()
    return {"first": str(today - dt.timedelta(days=_USUAL_DAYS)), "last": str(today)}


def _page(
    request: BreweryRequest, kind: Kind, form: PeriodForm, packet: Packet | None, status: int = 200
) -> HttpResponse:
    report = _as_report(packet) if isinstance(packet, EventPacket) else packet
    asked = request.GET.urlencode()
    context = {
        "here": "records",
        "kind": kind,
        "form": form,
        "problems": form_problems(form),
        "report": report,
        "sheets": [_shown(sheet) for sheet in report.sheets] if report else [],
        "files": [
            (ending, reverse("hand-over-download", args=[kind.slug, ending]))
            for ending in kind.files
        ],
        "asked": f"?{asked}" if asked else "",
    }
    return render(request, "compliance/hand_over.html", context, status=status)


def _shown(sheet: ReportSheet) -> dict[str, Any]:
    """The first rows, each cell beside its head, and how it stands: figures right, days whole."""
    rows = [
        [(head, *_cell(value)) for head, value in zip(sheet.heads, row, strict=True)]
        for row in sheet.rows[:MOST_ROWS]
    ]
    return {"sheet": sheet, "rows": rows, "left_out": max(0, len(sheet.rows) - MOST_ROWS)}


def _cell(value: Cell) -> tuple[str, str]:
    """A value as it is read, and its class on the page."""
    if value in (None, ""):
        return NOTHING, "none"
    if isinstance(value, int | float):
        return in_figures(value), "number"
    text = str(value)
    return text, "date" if _DAY.match(text) else ""


def _as_report(packet: EventPacket) -> Report:
    """The events counted by their business step: the page does not show them one by one."""
    return Report(
        head=packet.head,
        asked=packet.scope,
        notes=(),
        sheets=(
            ReportSheet(
                "Events",
                ("business step", "events"),
                list(packet.counts.items()),
                about="What the file holds, by business step.",
                none="Nothing happened to these lots in the period.",
            ),
        ),
    )


# The binder ------------------------------------------------------------------------------


@require_safe
@needs(READ)
def binder_page(request: BreweryRequest) -> HttpResponse:
    """Which period the binder is of."""
    return _binder_page(request, _binder_form(request))


@require_safe
@needs(READ)
def binder_pdf(request: BreweryRequest) -> HttpResponse:
    """The binder of a period, as PDF."""
    form = _binder_form(request)
    if not form.is_valid():
        return _binder_page(request, form, status=400)
    packet = collect_binder(
        form.period,
        every=form.cleaned_data["every"],
        printed_by=_reader(request),
        printed_at=timezone.now(),
    )
    paper = usual_paper(request.brewery)
    return pdf(binder(packet, paper), f"binder-{timezone.localdate():%Y-%m-%d}")


def _binder_form(request: BreweryRequest) -> BinderForm:
    return BinderForm(request.GET or _usual(), actor=_reader(request), brewery=request.brewery)


def _binder_page(request: BreweryRequest, form: BinderForm, status: int = 200) -> HttpResponse:
    context = {"here": "records", "form": form, "problems": form_problems(form)}
    return render(request, "compliance/binder.html", context, status=status)


# The archive -----------------------------------------------------------------------------


@require_safe
@needs(MANAGE)
def archive(request: BreweryRequest) -> HttpResponse:
    """What the archive is, and the way to it."""
    return render(request, "compliance/archive.html", {"here": "records"})


@require_safe
@needs(MANAGE)
def archive_download(request: BreweryRequest) -> FileResponse:
    """Everything recorded, as one file."""
    file = tempfile.TemporaryFile()  # noqa: SIM115 closed by the response
    write_archive(file)
    file.seek(0)
    name = f"brewlog-archive-{timezone.localdate():%Y-%m-%d}.zip"
    return FileResponse(file, as_attachment=True, filename=name, content_type="application/zip")
