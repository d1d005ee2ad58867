"""The start page, and the index of all records."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from brewlog.entries import BY_SLUG
from brewlog.entries.base import RECORD, Entry
from brewlog.ledger import with_on_hand
from brewlog.middleware import BreweryRequest
from brewlog.models import (
    BottlingLot,
    IngredientLot,
    Lot,
    LotKind,
)
from brewlog.views.access import READ, needs
from brewlog.views.details import Section, tables_of
from brewlog.views.lists import Column, Linked, Listing, get, link
from brewlog.views.nouns import FURTHER_LISTINGS, LISTINGS
from brewlog.views.nouns.parts import CODE, ON_HAND, STANDING, WHEN
from brewlog.views.panels import RECORDS_LINKS
from brewlog.views.reader import reader_of
from brewlog.views.setting_up import checklist
from brewlog.views.standing import kept_back, mark_kept_back
from brewlog.views.today.lines import days_since, once
from brewlog.views.today.page import groups_for
from brewlog.views.today.vessels import open_batches, open_keys

COMMONEST = ("reading", "condition", "batch", "pitch", "ship", "receive")
MOST_BATCHES = 50
LATELY = 6
# Without it nothing else on the page makes sense yet.
_COMES_FIRST = "brewery"


def _lately(model: type[Lot], *links: str) -> QuerySet:
    """The last few lots of a kind, found by the index on kind and time."""
    kind = LotKind.BOTTLING if model is BottlingLot else LotKind.INGREDIENT
    newest = Lot.objects.live().filter(kind=kind).order_by("-happened_at")
    keys = list(newest.values_list("pk", flat=True)[:LATELY])
    lots = model._default_manager.filter(pk__in=keys).select_related(*links)
    return with_on_hand(lots).order_by("-happened_at", "-lot_id")


def _days_in(batch: Any) -> str:
    """How long since the starter went in, in words."""
    return days_since(batch.pitched_at) if batch.pitched_at else ""


class _ReadPh(Linked):
    """The way to the reading's form, with the batch filled in."""

    @property
    def url(self) -> str:
        return f"{reverse('entry', args=['reading'])}?{urlencode({'lot': self.record.code})}"


_READ_PH = Column("reading", "Reading", lambda lot: _ReadPh("Read pH", lot))
_IN_VESSELS = (
    CODE,
    Column("vessel", "Vessel", link("vessel")),
    Column("recipe", "Recipe", get("recipe")),
    STANDING,
    ON_HAND,
    Column("days", "Since starter", _days_in),
    Column("ph", "Last pH", get("ph"), number=True),
    Column("ph_at", "Read", get("ph_at")),
)


def _vessels(request: BreweryRequest) -> Section:
    """What stands in the vessels, with the way to its reading for those who record."""
    keys = once(request, open_keys)[:MOST_BATCHES]
    may = request.user.has_perm(RECORD)
    return Section(
        "In the vessels",
        (*_IN_VESSELS, _READ_PH) if may else _IN_VESSELS,
        lambda _: open_batches(keys),
        empty="No batch is in a vessel.",
    )


_SECTIONS = (
    Section(
        "Bottled lately",
        (
            CODE,
            Column("flavour", "Flavour", link("flavour")),
            Column("format", "Format", get("format")),
            STANDING,
            ON_HAND,
            WHEN,
        ),
        lambda _: _lately(BottlingLot, "flavour", "format"),
    ),
    Section(
        "Received lately",
        (
            CODE,
            Column("ingredient", "Ingredient", lambda lot: Linked(lot.ingredient, lot.ingredient)),
            STANDING,
            ON_HAND,
            WHEN,
        ),
        lambda _: _lately(IngredientLot, "ingredient"),
    ),
)


@require_safe
@needs(READ)
def home(request: BreweryRequest) -> HttpResponse:
    """What needs doing now, what stands in the vessels, and the way to what is recorded most."""
    steps = checklist(request)
    today = timezone.localdate()
    mark = partial(mark_kept_back, known=once(request, kept_back))
    context = {
        "here": "home",
        "today": today,
        "weekday": f"{today:%A}",
        "buttons": _allowed(request, COMMONEST),
        "steps": steps,
        "steps_done": sum(each.is_done for each in steps),
        "is_new": any(each.step.slug == _COMES_FIRST and not each.is_done for each in steps),
        "groups": groups_for(request),
        "tables": tables_of(
            [replace(each, prepare=mark) for each in (_vessels(request), *_SECTIONS)],
            None,
            reader_of(request),
        ),
    }
    return render(request, "brewlog/home.html", context)


def _allowed(request: BreweryRequest, slugs: tuple[str, ...]) -> list[Entry]:
    found = [BY_SLUG[slug] for slug in slugs if slug in BY_SLUG]
    return [entry for entry in found if request.user.has_perm(entry.permission)]


@require_safe
@needs(READ)
def records(request: BreweryRequest) -> HttpResponse:
    """Every list there is, by group."""
    groups: dict[str, list[Listing]] = {}
    for listing in (*LISTINGS, *FURTHER_LISTINGS):
        groups.setdefault(listing.group, []).append(listing)
    context = {"here": "records", "groups": groups, "further": RECORDS_LINKS}
    return render(request, "brewlog/records.html", context)
