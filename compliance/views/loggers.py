"""Files of temperature loggers in the browser, and what the temperature of a place was."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from brewlog.domain.places import Stood
from brewlog.entries.base import RECORD
from brewlog.importing import keeping
from brewlog.importing.loggers import (
    Clock,
    LoggerFile,
    LoggerFileError,
    Told,
    read_logger_file,
)
from brewlog.middleware import BreweryRequest
from brewlog.models import Checkpoint, Instrument, Location, Lot, Measurand
from brewlog.views import chosen
from brewlog.views.access import READ, needs
from brewlog.views.details import Link
from brewlog.views.entry_page import form_problems
from brewlog.views.lists import Column, Filter, Linked, Listing, Word, choice, get
from brewlog.views.nouns.parts import IN_USE, choice_filter
from brewlog.when import on_day
from compliance.domain.loggers import (
    Ceiling,
    ceiling_of,
    own_ceiling,
    record_samples,
    recorded_at,
    recorded_samples,
    see,
    stood_during,
    thin,
)
from compliance.forms.loggers import LoggerForm
from compliance.views.plans import GROUP

PERIODS = (7, 30, 90, 365)
_USUAL = 30
# A page lists the first of what there can be very many of, and says how many more.
MOST_SHOWN = 40
_MOST_SAID = 10


# Sending a file --------------------------------------------------------------------------


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@needs(RECORD)
def logger_upload(request: BreweryRequest) -> HttpResponse:
    """Take a logger's file and look at it; nothing is recorded yet."""
    options: dict[str, Any] = {"actor": request.user, "brewery": request.brewery}
    if request.method != "POST":
        given = {"location": request.GET.get("location", "")}
        return _form_page(request, LoggerForm(initial=given, **options))
    lost = chosen.bring_back(request)
    form = LoggerForm(request.POST, request.FILES, **options)
    if "file" in lost:
        form.add_error("file", lost["file"])
    if not form.is_valid():
        return _form_page(request, form)
    said = form.cleaned_data
    content = said["file"].read()
    told = form.told(request.brewery.day_first if request.brewery else True)
    try:
        read_logger_file(content, _zone(), told)
    except LoggerFileError as error:
        form.add_error("file", str(error))
        return _form_page(request, form)
    about = {
        "kind": "logger",
        "told": asdict(told),
        "location": said["location"].pk,
        "instrument": said["instrument"].pk if said["instrument"] else None,
        "every_minutes": said["every_minutes"],
        "limit": "" if said["limit"] is None else str(said["limit"]),
    }
    token = keeping.keep(
        owner_id=request.user.pk,
        name=said["file"].name,
        files=[(said["file"].name, content)],
        found=about,
    )
    chosen.forget(request)
    return redirect("logger-preview", token)


def _zone() -> ZoneInfo:
    """The brewery's zone: the one this request works in."""
    zone = timezone.get_current_timezone()
    return zone if isinstance(zone, ZoneInfo) else ZoneInfo("UTC")


def _form_page(request: BreweryRequest, form: LoggerForm) -> HttpResponse:
    chosen.keep(request, [form])
    context = {"here": "limits", "tab": "rooms", "form": form, "problems": form_problems(form)}
    return render(request, "compliance/logger.html", context)


class _Upload:
    """A file that was sent, read again, and what was told with it."""

    def __init__(self, kept: keeping.Kept) -> None:
        about = kept.found
        told = about["told"] | {"clock": Clock(about["told"]["clock"])}
        self.name, content = kept.files[0]
        self.file: LoggerFile = read_logger_file(content, _zone(), Told(**told))
        self.location = get_object_or_404(Location, pk=about["location"])
        self.instrument = Instrument.objects.filter(pk=about["instrument"]).first()
        self.every_minutes: int = about["every_minutes"]
        own = about["limit"]
        self.ceiling: Ceiling | None = (
            own_ceiling(Decimal(own)) if own else ceiling_of(self.location)
        )


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@needs(RECORD)
def logger_preview(request: BreweryRequest, token: str) -> HttpResponse:
    """What the file holds; sent back, it is recorded from the very bytes that were looked at."""
    kept = keeping.find(token, request.user.pk)
    if kept is None or kept.found.get("kind") != "logger":
        messages.warning(request, "That file is not kept any more. Send it again.")
        return redirect("logger-upload")
    upload = _Upload(kept)
    if request.method == "POST":
        return _record(request, token, upload)
    return render(request, "compliance/logger_preview.html", _preview(upload))


def _preview(upload: _Upload) -> dict[str, Any]:
    seen = see(upload.file.samples, upload.ceiling)
    there = recorded_at(upload.location, upload.instrument, upload.file.samples)
    return {
        "here": "limits",
        "tab": "rooms",
        "upload": upload,
        "file": upload.file,
        "seen": seen,
        "step_minutes": seen.step.total_seconds() / 60 if seen.step else None,
        "first": upload.file.samples[0],
        "last": upload.file.samples[-1],
        "thinned": thin(seen, upload.every_minutes, there),
        "gaps": seen.gaps[:MOST_SHOWN],
        "more_gaps": max(0, len(seen.gaps) - MOST_SHOWN),
        "excursions": seen.excursions[:MOST_SHOWN],
        "more_excursions": max(0, len(seen.excursions) - MOST_SHOWN),
        "unread": upload.file.unread[:MOST_SHOWN],
        "more_unread": max(0, len(upload.file.unread) - MOST_SHOWN),
    }


def _record(request: BreweryRequest, token: str, upload: _Upload) -> HttpResponse:
    try:
        kept = record_samples(
            actor=request.user,
            location=upload.location,
            samples=upload.file.samples,
            every_minutes=upload.every_minutes,
            file_name=upload.name,
            ceiling=upload.ceiling,
            instrument=upload.instrument,
        )
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("logger-preview", token)
    keeping.forget(token)
    number = len(kept.readings)
    messages.success(
        request,
        f"{number} reading{'' if number == 1 else 's'} of {upload.location} recorded from "
        f"{upload.name}. {kept.left_out} left out by one every {upload.every_minutes} minutes; "
        f"{kept.already} were there already.",
    )
    for words in kept.seen[:_MOST_SAID]:
        messages.error(request, words)
    return redirect(temperature_url(upload.location))


# A place ---------------------------------------------------------------------------------


def temperature_url(location: Location) -> str:
    return reverse("location-temperature", args=[location.pk])


def temperature_link(request: HttpRequest, location: Any) -> Link:
    return Link("Temperature and excursions", temperature_url(location))


def logger_link(request: HttpRequest, location: Any) -> Link | None:
    """To a logger's file for the place, for those who record."""
    if not request.user.has_perm(RECORD):
        return None
    query = urlencode({"location": location.name})
    return Link("Read a logger's file", f"{reverse('logger-upload')}?{query}")


@require_safe
@needs(READ)
def location_temperature(request: BreweryRequest, pk: int) -> HttpResponse:
    """What was read in a place in a time, when it was above the limit, and what stood there."""
    location = get_object_or_404(Location, pk=pk)
    asked = request.GET.get("days", "")
    days = next((each for each in PERIODS if str(each) == asked), _USUAL)
    today = timezone.localdate()
    since = on_day(today - dt.timedelta(days=days - 1))
    samples = recorded_samples(location, since, on_day(today))
    ceiling = ceiling_of(location)
    seen = see(samples, ceiling)
    newest = list(reversed(seen.excursions))[:MOST_SHOWN]
    context = {
        "here": "limits",
        "tab": "rooms",
        "location": location,
        "days": days,
        "periods": PERIODS,
        "samples": samples,
        "seen": seen,
        "ceiling": ceiling,
        "longest": max(seen.gaps, key=lambda gap: gap.minutes, default=None),
        "excursions": [(each, _by_lot(stood)) for each, stood in stood_during(location, newest)],
        "more_excursions": max(0, len(seen.excursions) - MOST_SHOWN),
        "upload": logger_link(request, location),
    }
    return render(request, "compliance/location_temperature.html", context)


def _by_lot(stood: list[Stood]) -> list[tuple[Lot, int]]:
    """How much of each lot stood there: its parts came and went at different times."""
    found: dict[int, tuple[Lot, int]] = {}
    for each in stood:
        lot = each.stay.lot
        found[lot.pk] = (lot, found.get(lot.pk, (lot, 0))[1] + each.stay.quantity)
    return list(found.values())


# The list of places ----------------------------------------------------------------------


class _Page(Linked):
    """A place that leads to its temperature page."""

    @property
    def url(self) -> str:
        return temperature_url(self.record)


def _last(field: str) -> QuerySet:
    rows = Checkpoint.objects.live().filter(
        location=OuterRef("pk"), measurand=Measurand.TEMPERATURE
    )
    return rows.order_by("-happened_at", "-id").values(field)[:1]


def _rooms() -> QuerySet[Location]:
    """Places that are kept cold, or whose temperature was ever read."""
    rows = Location.objects.live().annotate(
        last_text=Subquery(_last("value_text")), last_at=Subquery(_last("happened_at"))
    )
    return rows.filter(Q(is_cold=True) | Q(last_at__isnull=False))


def _lately(location: Any) -> Word:
    """Whether a cold place is still looked at: two readings a day are common practice."""
    if not location.is_cold:
        return Word("not kept cold")
    if location.last_at is None:
        return Word("never read", "look")
    if timezone.now() - location.last_at > dt.timedelta(days=1):
        return Word("not read for a day", "look")
    return Word("read today", "good")


ROOMS = Listing(
    noun="room-temperature",
    path="room-temperatures",
    title="Room temperatures",
    group=GROUP,
    queryset=_rooms,
    columns=(
        Column("name", "Place", lambda each: _Page(each.name, each), "name"),
        Column("kind", "Kind", choice("kind"), "kind"),
        Column("standing", "Standing", _lately),
        Column("last", "Last reading", get("last_text"), number=True),
        Column("at", "Read", get("last_at"), "last_at"),
    ),
    search=("name", "note"),
    filters=(
        choice_filter("kind", "Kind", Location.Kind.choices),
        Filter(
            "cold",
            "Kept cold",
            lambda: [("yes", "yes"), ("no", "no")],
            lambda rows, value: rows.filter(is_cold=value == "yes"),
        ),
        IN_USE,
    ),
    order="name",
    start="location",
    empty="Coolers and rooms kept cold stand here with their last reading. Add the place first.",
)
