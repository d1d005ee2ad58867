"""Deliveries waiting for a decision, what is short for planned batches, and what gets old."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Exists, OuterRef
from django.utils import timezone

from brewlog.calculations.base import LITRE
from brewlog.calculations.past_bottlings import stock_of
from brewlog.ledger import on_hand
from brewlog.middleware import BreweryRequest
from brewlog.models import (
    Batch,
    BottlingLot,
    Ingredient,
    IngredientLot,
    Lot,
    LotUse,
    PreparationLot,
    RecipeLine,
    StockAdjustment,
)
from brewlog.views.lists import Linked, Word
from brewlog.views.reader import reader_of
from brewlog.views.today.lines import (
    Consequence,
    Form,
    Kind,
    Line,
    days_left,
    days_since,
    entry_form,
)

# Told so long before its day (common practice).
_NEAR = dt.timedelta(days=14)
# What is older than that and still on the books is a matter for a stock count.
_LONG_PAST = dt.timedelta(days=400)


# Deliveries ----------------------------------------------------------------------------------


def awaiting(request: BreweryRequest) -> list[Line]:
    """Deliveries nobody has accepted or rejected, the oldest first."""
    rows = IngredientLot.objects.live().filter(acceptance=IngredientLot.Acceptance.AWAITING)
    return [
        Line(
            Word(days_since(lot.happened_at), "look"),
            Linked(lot.code, lot),
            f"{lot.ingredient}, {lot.made_text}{_from(lot)}: not looked at yet.",
            entry_form("accept", "Accept it", lot=lot.code),
        )
        for lot in rows.select_related("ingredient", "supplier").order_by("happened_at", "pk")
    ]


def _from(lot: IngredientLot) -> str:
    return f" from {lot.supplier}" if lot.supplier else ""


AWAITING = Kind("deliveries", "Deliveries to accept or reject", Consequence.STORES, awaiting)


# Short for what is planned ---------------------------------------------------------------------


@dataclass
class _Need:
    """What planned batches take of one ingredient."""

    ingredient: Ingredient
    amount: int = 0
    batches: list[str] = field(default_factory=list)


def short(request: BreweryRequest) -> list[Line]:
    """Ingredients of which planned batches, still empty, take more than there is."""
    needs = _needs()
    there = stock_of(set(needs)) if needs else {}
    reader = reader_of(request)
    lines = []
    for pk, need in needs.items():
        missing = need.amount - there[pk]
        if missing <= 0:
            continue
        text = (
            f"{reader.amount(need.amount, need.ingredient.dimension)} for "
            f"{', '.join(need.batches)}; {reader.amount(there[pk], need.ingredient.dimension)} "
            "on hand."
        )
        word = Word(f"{reader.amount(missing, need.ingredient.dimension)} short", "look")
        form = entry_form("receive", ingredient=need.ingredient)
        lines.append(Line(word, Linked(need.ingredient.name, need.ingredient), text, form))
    return lines


def _needs() -> dict[int, _Need]:
    uses = LotUse.objects.live().filter(into=OuterRef("pk"))
    planned = Batch.objects.live().filter(
        ~Exists(uses), pitched_at__isnull=True, planned__isnull=False, recipe__isnull=False
    )
    by_version: dict[int, list[Batch]] = defaultdict(list)
    for batch in planned.order_by("happened_at", "pk"):
        by_version[batch.recipe_id].append(batch)  # type: ignore[index]
    lines = RecipeLine.objects.live().filter(version__in=by_version, ingredient__isnull=False)
    needs: dict[int, _Need] = {}
    for line in lines.exclude(role=RecipeLine.Role.WATER).select_related("ingredient"):
        assert line.ingredient is not None
        need = needs.setdefault(line.ingredient.pk, _Need(line.ingredient))
        for batch in by_version[line.version_id]:
            need.amount += line.per_litre * (batch.planned or 0) // LITRE
            need.batches.append(batch.code)
    return needs


SHORT = Kind("short", "Short for planned batches", Consequence.STORES, short)


# Getting old ---------------------------------------------------------------------------------


def dated(request: BreweryRequest) -> list[Line]:
    """Stock past its date, to be written off, and stock near it, to be used first."""
    found = _dated()
    amounts = on_hand([lot.pk for _, lot in found])
    reader = reader_of(request)
    lines = []
    for day, lot in found:
        there = amounts[lot.pk]
        if there <= 0:
            continue
        amount = reader.amount(there, lot.dimension)
        text = f"{lot.describe()}, {amount} on hand, {_KEEPS[lot.kind]} {reader.day(day)}."  # type: ignore[attr-defined]
        lines.append(Line(_word(day), Linked(lot.code, lot), text, _away(lot, day, amount)))
    return lines


_KEEPS = {"ingredient": "best before", "preparation": "use by", "bottling": "best before"}


def _dated() -> list[tuple[dt.date, Lot]]:
    """Everything with a date about now, the earliest first: three queries."""
    today = timezone.localdate()
    span = (today - _LONG_PAST, today + _NEAR)
    deliveries = IngredientLot.objects.live().filter(best_before__range=span)
    sound = deliveries.exclude(acceptance=IngredientLot.Acceptance.REJECTED)
    bottles = BottlingLot.objects.live().filter(best_before__range=span)
    found: list[tuple[Any, Lot]] = [
        *((lot.best_before, lot) for lot in sound.select_related("ingredient")),
        *((lot.use_by, lot) for lot in PreparationLot.objects.live().filter(use_by__range=span)),
        *((lot.best_before, lot) for lot in bottles.select_related("flavour", "format")),
    ]
    return sorted(found, key=lambda each: (each[0], each[1].pk))


def _word(day: dt.date) -> Word:
    return Word("past its date", "stop") if day < timezone.localdate() else days_left(day)


def _away(lot: Lot, day: dt.date, amount: str) -> Form:
    """Past its date it is written off; before, bottles are sent out and the rest is used."""
    if day < timezone.localdate():
        why = StockAdjustment.Reason.EXPIRED.value
        return entry_form("adjust", "Write it off", lot=lot.code, quantity=amount, why=why)
    if isinstance(lot, BottlingLot):
        return entry_form("ship", "Send it out first", lot=lot.code)
    return entry_form("use", "Use it first", source=lot.code)


DATED = Kind("dates", "Near its date, or past it", Consequence.STORES, dated)
KINDS = (AWAITING, SHORT, DATED)
