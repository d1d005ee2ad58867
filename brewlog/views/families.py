"""A culture line as a family: a picture by generation, and the same as a table."""

from __future__ import annotations

from typing import Any

from django.db.models import Exists, OuterRef
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from brewlog.charts.families import Family, family_of, family_web
from brewlog.charts.picture import LETTERS, Picture
from brewlog.charts.web import MOST_BOXES, draw_web
from brewlog.ledger import with_on_hand
from brewlog.models import CultureLine, CultureLot, StockAdjustment
from brewlog.views.access import READ, needs
from brewlog.views.reader import Reader, reader_of
from brewlog.views.standing import mark_kept_back

# The batches of a starter that its row in the table names.
_MOST_NAMED = 8


@require_safe
@needs(READ)
def family(request: HttpRequest, pk: int) -> HttpResponse:
    """The newest starters of a line and how they descend from each other."""
    line = get_object_or_404(CultureLine, pk=pk)
    rows = with_on_hand(CultureLot.objects.live().filter(line=line).select_related("line"))
    thrown = StockAdjustment.objects.live().filter(
        lot=OuterRef("pk"), reason=StockAdjustment.Reason.DESTROYED
    )
    newest = rows.annotate(was_thrown=Exists(thrown)).order_by("-happened_at", "-pk")
    cultures = list(newest[: MOST_BOXES + 1])
    more = len(cultures) > MOST_BOXES
    cultures = sorted(cultures[:MOST_BOXES], key=lambda each: (each.happened_at, each.pk))
    mark_kept_back(cultures)
    asked = request.GET.get("lot", "")
    found = family_of(line, cultures)
    context = {
        "here": "records",
        "line": line,
        "asked": asked,
        "picture": _picture(found, asked, more, reader_of(request)),
    }
    return render(request, "brewlog/family.html", context)


def state_of(lot: Any) -> str:
    """In a word: in use, held, discarded, retired or used up. Needs what `family` puts beside."""
    if lot.kept_back:
        return str(lot.kept_back.text)
    if lot.was_thrown and lot.on_hand <= 0:
        return "discarded"
    if lot.retired_at is not None:
        return "retired"
    return "in use" if lot.on_hand > 0 else "used up"


def _batches(codes: tuple[str, ...]) -> str:
    """The batches a starter went into: how many, and the first of them by name."""
    if not codes:
        return "none"
    more = len(codes) - _MOST_NAMED
    named = ", ".join(codes[:_MOST_NAMED])
    return f"{len(codes)}: {named}{f' and {more} more' if more > 0 else ''}"


def _picture(found: Family, asked: str, more: bool, reader: Reader) -> Picture:
    asked_pk = next((each.lot.pk for each in found.members if each.lot.code == asked), None)
    web = family_web(found, state_of, asked_pk)
    codes = {each.lot.pk: each.lot.code for each in found.members}
    parents: dict[int, list[str]] = {pk: [] for pk in codes}
    for each in found.descents:
        by = f" by batch {each.batch}" if each.batch else ""
        parents[each.into].append(f"{codes[each.source]}{by}")
    rows = tuple(
        (
            each.lot.code,
            str(each.generation),
            each.lot.get_origin_display(),
            ", ".join(parents[each.lot.pk]),
            reader.when(each.lot.when),
            state_of(each.lot),
            _batches(each.batches),
        )
        for each in found.members
    )
    sentence = (
        f"The newest {MOST_BOXES} starters of the line are drawn; its page lists them all."
        if more
        else ""
    )
    columns = ("Starter", "Transfers", "Origin", "From", "Begun", "Standing", "Went into")
    return Picture(
        key="family",
        title="By generation" if web else "No starter of this line yet",
        sentence=sentence,
        columns=columns,
        rows=rows,
        described=f"{len(rows)} starters and how they descend from each other.",
        drawing=(lambda width: draw_web(web, LETTERS)) if web else None,
        fits=False,
    )
