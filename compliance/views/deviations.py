"""Deviations: the list, and one with its lots and its corrective action."""

from __future__ import annotations

from typing import Any

from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from brewlog.middleware import BreweryRequest
from brewlog.models.lots import described
from brewlog.views.access import READ, needs
from brewlog.views.links import kind_and_key
from brewlog.views.lists import Column, Filter, Linked, Listing, Word, choice, get
from brewlog.views.nouns.parts import VOIDED, WORK, choice_filter
from brewlog.views.reader import Words
from compliance.models import CorrectiveAction, Deviation, DeviationLot
from compliance.views.computed import headings, shown

LOT_COLUMNS = (
    Column("code", "Lot", lambda link: Linked(link.lot.code, link.lot)),
    Column("what", "What", lambda link: link.lot.detail.describe()),
    Column("when", "Begun", lambda link: link.lot.when),
)


def _rows() -> QuerySet:
    signed = CorrectiveAction.objects.live().filter(
        deviation=OuterRef("pk"), signature__isnull=False
    )
    return Deviation.objects.select_related("done_by").annotate(
        is_corrected=Exists(signed),
        lot_count=Count("lots", filter=Q(lots__voided_at__isnull=True)),
    )


def _has_lot(code: str) -> Q:
    """Deviations that touch a lot of such a code; a join would meet and count them often."""
    links = DeviationLot.objects.live().filter(lot__code__icontains=code)
    return Q(pk__in=links.values("deviation"))


def _word(deviation: Any) -> Word:
    if deviation.is_void:
        return Word("voided")
    return Word("closed", "good") if deviation.is_corrected else Word("open", "look")


DEVIATIONS = Listing(
    noun="deviation",
    path="deviations",
    title="Deviations",
    group=WORK,
    queryset=_rows,
    columns=(
        Column("title", "What went wrong", lambda each: Linked(Words(each.title), each), "title"),
        Column("state", "Standing", _word),
        Column("kind", "Kind", choice("kind"), "kind"),
        Column("when", "When", get("when"), "happened_at"),
        Column("lots", "Lots", get("lot_count"), "lot_count", number=True),
        Column("by", "By", get("done_by")),
    ),
    search=("title", "what_happened"),
    sought=("title",),
    search_also=_has_lot,
    filters=(
        Filter(
            "open",
            "Standing",
            lambda: [("yes", "open"), ("no", "closed")],
            lambda rows, value: rows.filter(is_corrected=value == "no"),
        ),
        choice_filter("kind", "Kind", Deviation.Kind.choices),
        VOIDED,
    ),
    start="deviation",
    empty="Nothing that went wrong is written down.",
)


@require_safe
@needs(READ)
def deviation(request: BreweryRequest, pk: int) -> HttpResponse:
    """What happened, which lots it touches, and the four parts of its correction."""
    found = get_object_or_404(
        Deviation.objects.select_related(
            "done_by",
            "recorded_by",
            "voided_by",
            "limit__ruleset",
            "hold__lot",
            "calibration__instrument",
        ),
        pk=pk,
    )
    links = list(found.lots.live().select_related("lot", *described("lot")))  # type: ignore[attr-defined]
    corrections = found.corrections.select_related("signature", "done_by")  # type: ignore[attr-defined]
    context = {
        "here": "limits",
        "tab": "deviations",
        "deviation": found,
        "record_key": kind_and_key(found),
        "columns": headings(LOT_COLUMNS),
        "rows": shown(request, LOT_COLUMNS, links),
        "corrections": list(corrections),
    }
    return render(request, "compliance/deviation.html", context)


def deviation_url(deviation: Deviation) -> str:
    return reverse("deviation-detail", args=[deviation.pk])
