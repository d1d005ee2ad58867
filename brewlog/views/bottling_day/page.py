"""The page of a bottling day."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from brewlog.calculations.base import units_of
from brewlog.calculations.flow import beside_bottle
from brewlog.domain.vessels import open_batches
from brewlog.entries.base import RECORD
from brewlog.entries.bottling import BURST_CAUTION
from brewlog.middleware import BreweryRequest
from brewlog.models import (
    Batch,
    Lot,
)
from brewlog.science.carbonation import alcohol_from_carbonation
from brewlog.views.access import READ, needs
from brewlog.views.bottling_day.after import reconcile
from brewlog.views.bottling_day.before import fill_step, plan_step, starter_step, sugar_step
from brewlog.views.bottling_day.day import FURTHER_CHECKS, Day, Part, filled_from
from brewlog.views.bottling_day.lots import lot_parts
from brewlog.views.details import FURTHER_LINKS, Link
from brewlog.views.drafts import draft_of
from brewlog.views.lists import Word
from brewlog.views.reader import reader_of
from brewlog.views.standing import kept_back


@require_safe
@needs(READ)
def bottling_day(request: BreweryRequest) -> HttpResponse:
    """The day of the batches named in the address; without any, the batches to choose from."""
    codes = [each.strip() for each in request.GET.getlist("batch") if each.strip()]
    batches = [lot.detail for code in codes if (lot := Lot.objects.coded(code))]
    # In one order, so that a form put aside is found again.
    found = sorted({batch for batch in batches if isinstance(batch, Batch)}, key=lambda b: b.pk)
    unknown = [code for code in codes if code.upper() not in {b.code.upper() for b in found}]
    if not found or unknown:
        return _choose(request, unknown)
    here = f"{reverse('bottling-day')}?{urlencode({'batch': [b.code for b in found]}, doseq=True)}"
    day = Day(
        found,
        filled_from(found),
        here,
        request.user.has_perm(RECORD),
        reader_of(request),
        units_of(request.user),
        draft_of(request, "bottle", here),
    )
    parts = _parts(day)
    _mark_next(parts)
    context = {
        "here": "record",
        "batches": [(batch, beside_bottle(batch, day.units)) for batch in found],
        "blocked": _blocked(found),
        "parts": parts,
        "checks": [line for ask in FURTHER_CHECKS for line in ask([*found, *day.lots])],
        "may_record": day.may_record,
        "caution": BURST_CAUTION,
        "per_volume": f"{alcohol_from_carbonation(1.0):.2f}",
    }
    return render(request, "brewlog/bottling_day.html", context)


def _choose(request: BreweryRequest, unknown: list[str]) -> HttpResponse:
    batches = open_batches().filter(pitched_at__isnull=False)
    context = {
        "here": "record",
        "unknown": unknown,
        "batches": list(batches.select_related("recipe__recipe", "vessel")[:50]),
    }
    return render(request, "brewlog/bottling_day_choose.html", context)


def _blocked(batches: Iterable[Batch]) -> list[tuple[Batch, Word]]:
    held = kept_back()
    return [(batch, word) for batch in batches if (word := held.word(batch))]


def _parts(day: Day) -> list[Part]:
    steps = [sugar_step(day), starter_step(day), plan_step(day), fill_step(day)]
    before = Part("Before filling", steps)
    if not day.lots:
        return [before]
    after = Part("After filling", [reconcile(day, batch) for batch in day.batches])
    return [before, *lot_parts(day), after]


def _mark_next(parts: list[Part]) -> None:
    """The first step that is not done is the next one."""
    for part in parts:
        for step in part.steps:
            if not step.is_done and step.word is None:
                step.word = Word("next", "look")
                return


def bottling_day_link(request: HttpRequest, batch: Any) -> Link | None:
    """From the page of a batch with starter in it."""
    if batch.pitched_at is None or not request.user.has_perm(RECORD):
        return None
    return Link("Bottling day", f"{reverse('bottling-day')}?{urlencode({'batch': batch.code})}")


FURTHER_LINKS.setdefault(Batch, []).append(bottling_day_link)
