"""A hold: what it reaches, what is decided, what left, and what to look at besides."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from brewlog.domain.holds import held_with
from brewlog.ledger import with_on_hand
from brewlog.middleware import BreweryRequest
from brewlog.models import Hold, Lot
from brewlog.models.lots import DESCRIBED
from brewlog.views.access import READ, needs
from brewlog.views.lists import Column, Linked, Word, get
from brewlog.views.reader import OnHand
from compliance.assessment import assess_lot
from compliance.domain.deviations import market_decision_needed, shipped_under, suggested_with
from compliance.models import Deviation, Disposition, Limit
from compliance.views.computed import headings, paged, shown

REACH_COLUMNS = (
    Column("code", "Lot", lambda each: Linked(each.lot.code, each.lot)),
    Column("what", "What", lambda each: each.what),
    Column("standing", "Standing", lambda each: each.word),
    Column("on_hand", "On hand", lambda each: each.on_hand, number=True),
    Column("decision", "What we do with it", lambda each: each.decision),
)
SUGGESTED_COLUMNS = (
    Column("code", "Lot", lambda lot: Linked(lot.code, lot)),
    Column("what", "What", lambda lot: lot.detail.describe()),
    Column("when", "Begun", get("when")),
)


@dataclass(frozen=True)
class Reached:
    """A lot under the hold: how it stands, and where it is decided, for those who may."""

    lot: Lot
    what: str
    word: Word
    on_hand: OnHand
    decision: Any


class _Decide(Linked):
    """A value that leads to the entry that decides it."""

    @property
    def url(self) -> str:
        return str(self.record)


@require_safe
@needs(READ)
def hold(request: BreweryRequest, pk: int) -> HttpResponse:
    """Everything about one hold on one page."""
    rows = Hold.objects.select_related("lot", "done_by", "recorded_by", "voided_by", "lifted_by")
    found = get_object_or_404(rows, pk=pk)
    dispositions = list(
        Disposition.objects.live()
        .filter(hold=found)
        .select_related("lot", "target", "signature", "done_by")
    )
    deviations = list(found.deviations.live().select_related("limit__ruleset"))  # type: ignore[attr-defined]
    decides = request.user.has_perm("brewlog.review_lots") and found.is_open
    lots = list(with_on_hand(held_with(found)).select_related(*DESCRIBED)) if found.is_open else []
    waiting = [lot for lot in lots if lot.on_hand > 0]
    pages = paged(request, [*waiting, *(lot for lot in lots if lot.on_hand <= 0)])
    decided = {each.lot_id: each for each in dispositions}
    allowed = Disposition.ALLOWED[Hold.Cause(found.cause)]
    context = {
        "here": "limits",
        "hold": found,
        "detail": found.lot.detail.describe(),  # type: ignore[attr-defined]
        "is_alcohol": found.cause == Hold.Cause.ALCOHOL,
        "is_mould": found.cause == Hold.Cause.MOULD,
        "allowed": [kind.label for kind in allowed],
        "columns": headings(REACH_COLUMNS),
        "rows": shown(
            request,
            REACH_COLUMNS,
            [_reached(found, lot, decided.get(lot.pk), decides) for lot in pages["page"]],
        ),
        "reach": len(lots),
        "waiting": len(waiting),
        "dispositions": dispositions,
        "ends": list(found.ends.live().select_related("lot", "done_by")),  # type: ignore[attr-defined]
        "suggested_columns": headings(SUGGESTED_COLUMNS),
        "suggested": shown(request, SUGGESTED_COLUMNS, suggested_with(found)),
        "shipped": shipped_under(found),
        "market_needed": market_decision_needed(found),
        "market": list(found.market_decisions.live().select_related("signature")),  # type: ignore[attr-defined]
        "met_by_now": _met_by_now(found, deviations),
        "deviations": deviations,
        "decides": decides,
        **pages,
    }
    return render(request, "compliance/hold.html", context)


def _reached(hold: Hold, lot: Any, decided: Disposition | None, decides: bool) -> Reached:
    on_hand = OnHand(lot.on_hand, lot.dimension)
    word = Word("waits for a decision", "stop") if lot.on_hand > 0 else Word("nothing left of it")
    decision: Any = None
    if decided is not None:
        decision = decided.get_kind_display()
    elif decides and (lot.on_hand > 0 or lot.pk == hold.lot_id):
        query = urlencode({"hold": hold.pk, "lot": lot.code})
        decision = _Decide("Decide", f"{reverse('entry', args=['dispose'])}?{query}")
    return Reached(lot, lot.detail.describe(), word, on_hand, decision)


def _met_by_now(hold: Hold, deviations: list[Deviation]) -> list[Limit]:
    """The limits it was placed for that are met by what has been written since, late or anew."""
    placed_for = [each.limit for each in deviations if each.limit is not None]
    if not hold.is_open or not placed_for:
        return []
    found = {each.limit.pk for each in assess_lot(hold.lot).findings}
    return [limit for limit in placed_for if limit.pk not in found]


def hold_url(hold: Hold) -> str:
    return reverse("hold-detail", args=[hold.pk])
