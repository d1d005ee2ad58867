"""The course of a lot: its readings as pictures, what lies ahead, and what went before."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from brewlog.calculations.base import units_of
from brewlog.charts.courses import courses, flags_of, overlay
from brewlog.charts.picture import Picture, plotted
from brewlog.domain.stages import BOTTLED, happenings
from brewlog.middleware import BreweryRequest
from brewlog.models import Batch
from brewlog.views.access import READ, needs
from brewlog.views.life import pictures_of, strip
from brewlog.views.lots import find_lot, unknown_lot
from brewlog.views.reader import reader_of


@require_safe
@needs(READ)
def lot_course(request: BreweryRequest, code: str) -> HttpResponse:
    """Every reading of a lot as pictures; a batch's with its forecast, over earlier ones."""
    lot = find_lot(request, code)
    if lot is None:
        return unknown_lot(request, code)
    happened, reader = happenings(lot), reader_of(request)
    detail = lot.detail
    batch = detail if isinstance(detail, Batch) else None
    is_fermenting = batch is not None and all(each.words != BOTTLED for each in happened)
    found = courses(lot, happened, units_of(request.user), with_forecast=is_fermenting)
    context = {
        "here": "records",
        "lot": lot,
        "what": detail.describe(),  # type: ignore[attr-defined]
        "strip": strip(lot, happened, reader),
        "pictures": pictures_of(found, reader),
        "is_batch": batch is not None,
        "is_fermenting": is_fermenting,
        "beside": _beside_earlier(batch) if batch is not None else [],
    }
    return render(request, "brewlog/lot_course.html", context)


def _beside_earlier(batch: Batch) -> list[Picture]:
    pictures = []
    for what in ("ph", "sugar"):
        plot = overlay(batch, what)
        if plot is not None:
            flags = flags_of(batch, what)
            words = f"By its readings it is {', '.join(flags)}." if flags else ""
            pictures.append(plotted(f"beside-{what}", plot, words, when="Since starter was added"))
    return pictures
