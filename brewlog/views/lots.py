"""The page of a lot, by its code; and the way there from a typed or scanned one."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from brewlog.calculations.base import units_of
from brewlog.charts.courses import courses
from brewlog.domain.blocks import blocks
from brewlog.domain.stages import happenings
from brewlog.ledger import MassBalance, mass_balance
from brewlog.middleware import BreweryRequest
from brewlog.models import Batch, Lot, LotKind, LotUse, StockAdjustment
from brewlog.models.lots import DESCRIBED
from brewlog.trace import generation
from brewlog.views.access import READ, needs
from brewlog.views.batch_to_batch import batch_to_batch_url
from brewlog.views.beside import work_out
from brewlog.views.details import Link, next_links, tables_of
from brewlog.views.events import sections_of
from brewlog.views.facts import Fact, facts_of
from brewlog.views.judged import asked_verdict
from brewlog.views.life import pictures_of, strip
from brewlog.views.links import kind_and_key
from brewlog.views.lists import Word
from brewlog.views.panels import lot_panels
from brewlog.views.reader import Amount, reader_of
from brewlog.views.search import near_to
from brewlog.views.standing import stage
from brewlog.views.work import next_for_lot

# Papers made elsewhere, offered where their address exists, and of which kinds of lots.
PAPERS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("lot-sheet-pdf", "Lot sheet", tuple(LotKind)),
    ("lot-labels", "Labels", (LotKind.BOTTLING,)),
    ("lot-card-pdf", "Card", (LotKind.INGREDIENT, LotKind.CULTURE)),
    ("lot-trace-pdf", "Trace sheet", tuple(LotKind)),
)

# The word for how a lot of each kind came to be.
BEGUN = {
    LotKind.INGREDIENT: "Received",
    LotKind.PREPARATION: "Made",
    LotKind.CULTURE: "Begun",
    LotKind.BREW: "Brewed",
    LotKind.BATCH: "Begun",
    LotKind.BOTTLING: "Filled",
}

# The list each kind stands in.
LIST_NOUN = {
    LotKind.INGREDIENT: "ingredient-lot",
    LotKind.PREPARATION: "preparation",
    LotKind.CULTURE: "culture",
    LotKind.BREW: "brew",
    LotKind.BATCH: "batch",
    LotKind.BOTTLING: "bottling",
}
PLURALS = {
    LotKind.INGREDIENT: "Deliveries",
    LotKind.PREPARATION: "Syrups, juices and infusions",
    LotKind.CULTURE: "Starters",
    LotKind.BREW: "Brews of sweet tea",
    LotKind.BATCH: "Batches",
    LotKind.BOTTLING: "Bottling lots",
}


def find_lot(request: BreweryRequest, code: str) -> Lot | None:
    """The live lot of that code; with `?entry=` the very one, voided or not.

    A code only voided lots had leads to the newest of them.
    """
    rows = Lot.objects.with_code(code).select_related(
        "done_by", "recorded_by", "voided_by", *DESCRIBED
    )
    entry = request.GET.get("entry", "")
    if entry.isascii() and entry.isdigit():
        return rows.filter(pk=int(entry)).first()
    return rows.live().first() or rows.order_by("-id").first()


def unknown_lot(request: BreweryRequest, code: str) -> HttpResponse:
    """No such code: what is near it."""
    context = {"here": "records", "code": code, "near": near_to(code)}
    return render(request, "brewlog/lot_unknown.html", context, status=404)


@require_safe
@needs(READ)
def lot_detail(request: BreweryRequest, code: str) -> HttpResponse:
    """Everything about one lot on one page."""
    lot = find_lot(request, code)
    if lot is None:
        return unknown_lot(request, code)
    detail = lot.detail
    balance = mass_balance(lot)
    kept_back = blocks(lot)
    panels = [] if lot.is_void else lot_panels(request, lot)
    kind, key = kind_and_key(lot)
    happened, reader = happenings(lot), reader_of(request)
    context = {
        "here": "records",
        "lot": lot,
        "detail": detail,
        "what": detail.describe(),  # type: ignore[attr-defined]
        "list_noun": LIST_NOUN[LotKind(lot.kind)],
        "list_title": PLURALS[LotKind(lot.kind)],
        "begun": BEGUN[LotKind(lot.kind)],
        "words": [*_words(lot, balance, bool(kept_back)), *(w for p in panels for w in p.words)],
        "blocks": kept_back,
        "balance": balance,
        "balance_rows": balance_rows(balance),
        "strip": strip(lot, happened, reader),
        "pictures": pictures_of(courses(lot, happened, units_of(request.user)), reader),
        "facts": _facts(lot),
        "tables": tables_of(sections_of(lot.kind), detail, reader),
        "work_out": work_out(request, lot),
        "next": next_links(request, detail, next_for_lot(detail, bool(kept_back))),
        "papers": paper_links(lot),
        "record_key": (kind, key),
        "namesakes": _namesakes(lot),
        "panels": panels,
        "verdict": asked_verdict(request, lot),
    }
    return render(request, "brewlog/lot.html", context)


def _words(lot: Lot, balance: MassBalance, is_kept_back: bool) -> list[Word]:
    if lot.is_void:
        return [Word("voided")]
    words = [stage(lot.detail, balance.books)]
    if is_kept_back:
        words.insert(0, Word("kept back", "stop"))
    return words


def _facts(lot: Lot) -> list[Fact]:
    facts = facts_of(lot.detail, without={"when", "done_by"})
    if lot.kind == LotKind.CULTURE:
        line = lot.detail.line  # type: ignore[attr-defined]
        address = f"{reverse('family', args=[line.pk])}?{urlencode({'lot': lot.code})}"
        facts.insert(0, Fact("Transfers since bought", generation(lot)))
        facts.insert(1, Fact("Family", "a picture by generation", address))
    if isinstance(lot.detail, Batch) and lot.detail.recipe is not None:
        address = batch_to_batch_url(lot.detail.recipe.recipe_id)
        facts.append(Fact("Batch to batch", "beside its recipe's others", address))
    return facts


def balance_rows(balance: MassBalance) -> list[tuple[str, Amount]]:
    """The account line by line: what there was, what left and how, what is there."""
    dimension = balance.dimension
    rows = [("Made or received", Amount(balance.made, dimension))]
    if balance.added:
        rows.append(("Added later", Amount(balance.added, dimension)))
    purposes = dict(LotUse.Purpose.choices)
    rows += [
        (f"Used as {purposes[purpose]}", Amount(-amount, dimension))
        for purpose, amount in balance.used.items()
    ]
    if balance.shipped:
        rows.append(("Shipped", Amount(-balance.shipped, dimension)))
    reasons = dict(StockAdjustment.Reason.choices)
    rows += [
        (f"Adjusted: {reasons[reason]}", Amount(change, dimension))
        for reason, change in balance.adjusted.items()
    ]
    if balance.unexplained:
        rows.append(
            ("Unexplained: more left than the books had", Amount(balance.unexplained, dimension))
        )
    return rows


def paper_links(lot: Lot) -> list[Link]:
    """The papers of the lot, of those that exist."""
    links = []
    for name, title, kinds in PAPERS:
        if lot.kind not in kinds:
            continue
        try:
            links.append(Link(title, reverse(name, args=[lot.code])))
        except NoReverseMatch:
            continue
    return links


def _namesakes(lot: Lot) -> list[Any]:
    """Voided lots that had the same code."""
    same = Lot.objects.with_code(lot.code).filter(voided_at__isnull=False)
    return list(same.exclude(pk=lot.pk).order_by("-id"))
