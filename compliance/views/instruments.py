"""Calibrations due and overdue, and what is in doubt when an instrument was found out."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db.models import F, Q, QuerySet, prefetch_related_objects
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from brewlog.domain.instruments import readings_in_doubt
from brewlog.entries.base import RECORD
from brewlog.ledger import ids_in
from brewlog.middleware import BreweryRequest
from brewlog.models import Calibration, Checkpoint, Instrument, Lot
from brewlog.models.lots import DESCRIBED
from brewlog.views.access import READ, needs
from brewlog.views.details import Link
from brewlog.views.events import RecordLink
from brewlog.views.lists import Column, Filter, Linked, Listing, Word, choice, get, moment
from brewlog.views.nouns.parts import choice_filter, name_column
from brewlog.views.nouns.registers import instruments
from compliance.models import Deviation
from compliance.views.computed import headings, paged, shown
from compliance.views.plans import GROUP

SOON_DAYS = 14


def _due() -> QuerySet[Instrument]:
    """Instruments in use that are calibrated at all, the most pressing first."""
    rows = instruments().filter(voided_at__isnull=True, in_use=True)
    return rows.filter(Q(calibrate_every_days__isnull=False) | Q(last_due__isnull=False))


def due_by(day: dt.date) -> QuerySet[Instrument]:
    """Those that are overdue, or due by a day, the most pressing first."""
    pressing = _overdue() | Q(last_due__lte=day)
    return _due().filter(pressing).order_by(F("last_due").asc(nulls_first=True), "name")


def _overdue() -> Q:
    return (
        Q(last_calibrated__isnull=True)
        | Q(last_due__lt=timezone.localdate())
        | Q(last_outcome=Calibration.Outcome.FAILED)
    )


def due_word(instrument: Any) -> Word:
    """How pressing the next calibration is."""
    if instrument.last_outcome == Calibration.Outcome.FAILED:
        return Word("out of tolerance", "stop")
    if instrument.last_calibrated is None:
        return Word("never calibrated", "stop")
    if instrument.last_due is None:
        return Word("no date set", "look")
    days = (instrument.last_due - timezone.localdate()).days
    if days < 0:
        return Word(f"{-days} day{'' if days == -1 else 's'} overdue", "stop")
    if days == 0:
        return Word("due today", "look")
    words = f"in {days} day{'' if days == 1 else 's'}"
    return Word(words, "look" if days <= SOON_DAYS else "good")


def _standing(rows: QuerySet, value: str) -> QuerySet:
    if value == "overdue":
        return rows.filter(_overdue())
    today = timezone.localdate()
    soon = Q(last_due__gte=today, last_due__lte=today + dt.timedelta(days=SOON_DAYS))
    return rows.filter(soon).exclude(last_outcome=Calibration.Outcome.FAILED)


CALIBRATIONS_DUE = Listing(
    noun="calibration-due",
    path="calibrations-due",
    title="Calibrations due",
    group=GROUP,
    queryset=_due,
    columns=(
        name_column("Instrument"),
        Column("kind", "Kind", choice("kind"), "kind"),
        Column("due_word", "Standing", due_word),
        Column("due", "Next due", get("last_due"), "last_due"),
        Column(
            "last",
            "Last calibrated",
            moment("last_calibrated", "last_precision"),
            "last_calibrated",
        ),
        Column("every", "Every, days", get("calibrate_every_days"), "calibrate_every_days"),
        Column("serial", "Serial number", get("serial"), "serial"),
    ),
    search=("name", "serial", "note"),
    filters=(
        Filter(
            "standing",
            "Standing",
            lambda: [("overdue", "overdue"), ("soon", f"due within {SOON_DAYS} days")],
            _standing,
        ),
        choice_filter("kind", "Kind", Instrument.Kind.choices),
    ),
    order=F("last_due").asc(nulls_first=True),  # type: ignore[arg-type]
    start="calibrate",
    empty="Instruments with an interval between calibrations stand here, the most pressing first.",
)


# Looking back ----------------------------------------------------------------------------


def look_back_url(calibration: Calibration) -> str:
    return reverse("look-back", args=[calibration.pk])


def look_back_link(request: HttpRequest, calibration: Any) -> Link | None:
    """From a calibration that found an instrument out to what that puts in doubt."""
    if not calibration.was_out or calibration.is_void:
        return None
    return Link("What it puts in doubt", look_back_url(calibration))


READ_COLUMNS = (
    Column("when", "When", lambda each: RecordLink(each.when, each)),
    Column("of", "Of", lambda each: _about(each)),
    Column("what", "What", lambda each: _what(each)),
    Column("value", "Reading", lambda each: _value(each), number=True),
    Column("by", "By", get("done_by")),
)
LOT_COLUMNS = (
    Column("code", "Lot", lambda lot: Linked(lot.code, lot)),
    Column("what", "What", lambda lot: lot.detail.describe()),
    Column("when", "Begun", get("when")),
)


def _about(event: Any) -> Linked:
    owner = event.lot or event.location
    return Linked(str(owner), owner)


def _what(event: Any) -> str:
    if isinstance(event, Checkpoint):
        return f"{event.get_measurand_display()}, {event.get_stage_display()}"
    return str(event.get_kind_display())


def _value(event: Any) -> str:
    if isinstance(event, Checkpoint):
        return event.value_text
    return str(event.temperature_text or event.temperature or "")


@require_safe
@needs(READ)
def look_back(request: BreweryRequest, pk: int) -> HttpResponse:
    """Every reading since the last good calibration, and every lot that leaned on one."""
    rows = Calibration.objects.live().select_related("instrument", "done_by")
    calibration = get_object_or_404(rows, pk=pk)
    if not calibration.was_out:
        raise Http404(f"{calibration.instrument} was not out of tolerance then.")
    doubt = readings_in_doubt(calibration)
    lots = ids_in([lot.pk for lot in doubt.lots])
    described = Lot.objects.filter(pk__in=lots).select_related(*DESCRIBED).order_by("pk")
    pages = paged(request, doubt.all)
    in_doubt = list(pages["page"])
    prefetch_related_objects(in_doubt, "done_by")
    opened = Deviation.objects.live().filter(calibration=calibration).first()
    query = urlencode({"calibration": calibration.pk})
    context = {
        "here": "limits",
        "tab": "due",
        "calibration": calibration,
        "doubt": doubt,
        "columns": headings(READ_COLUMNS),
        "rows": shown(request, READ_COLUMNS, in_doubt),
        "lot_columns": headings(LOT_COLUMNS),
        "lots": shown(request, LOT_COLUMNS, described),
        "opened": opened,
        "open_url": f"{reverse('entry', args=['look-back'])}?{query}"
        if opened is None and request.user.has_perm(RECORD)
        else "",
        **pages,
    }
    return render(request, "compliance/look_back.html", context)
