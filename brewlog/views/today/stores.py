"""Deliveries waiting for a decision, what is short for planned batches, and what gets old."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any, NamedTuple

from django.db.models import QuerySet
from django.utils import timezone

from brewlog.calculations.past_bottlings import stock_of
from brewlog.domain.planned import Need, planned_needs
from brewlog.ledger import with_on_hand
from brewlog.middleware import BreweryRequest
from brewlog.models import (
    BottlingLot,
    IngredientLot,
    Lot,
    PreparationLot,
    StockAdjustment,
)
from brewlog.models.lots import DESCRIBED
from brewlog.units import LEAST_MEASURED
from brewlog.views.lists import Linked, Word
from brewlog.views.reader import reader_of
from brewlog.views.today.lines import (
    Consequence,
    Form,
    Kind,
    Line,
    Lines,
    days_left,
    days_since,
    entry_form,
)

# Told so long before its day (common practice).
_NEAR = dt.timedelta(days=14)
# What is older than that and still on the books is a matter for a stock count.
_LONG_PAST = dt.timedelta(days=400)


# Deliveries ----------------------------------------------------------------------------------


def awaiting(request: BreweryRequest) -> Lines:
    """Deliveries nobody has accepted or rejected, the oldest first."""
    rows = IngredientLot.objects.live().filter(acceptance=IngredientLot.Acceptance.AWAITING)
    return Lines(
        rows.select_related("ingredient", "supplier").order_by("happened_at", "pk"),
        lambda lot: Line(
            Word(days_since(lot.happened_at), "look"),
            Linked(lot.code, lot),
            f"{lot.ingredient}, {lot.made_text}{_from(lot)}: not looked at yet.",
            entry_form("accept", "Accept it", lot=lot.code),
        ),
    )


def _from(lot: IngredientLot) -> str:
    return f" from {lot.supplier}" if lot.supplier else ""


AWAITING = Kind("deliveries", "Deliveries to accept or reject", Consequence.STORES, awaiting)


# Short for what is planned ---------------------------------------------------------------------


def short(request: BreweryRequest) -> Lines:
    """Ingredients of which planned batches, still empty, take more than there is."""
    needed = planned_needs()
    there = stock_of(set(needed)) if needed else {}
    reader = reader_of(request)

    def line(need: Need) -> Line:
        of, own = need.ingredient, there[need.ingredient.pk]
        text = (
            f"{reader.amount(need.amount, of.dimension)} for {', '.join(need.batches)}; "
            f"{reader.amount(own, of.dimension)} on hand."
        )
        word = Word(f"{reader.amount(need.amount - own, of.dimension)} short", "look")
        return Line(word, Linked(of.name, of), text, entry_form("receive", ingredient=of))

    return Lines([need for pk, need in needed.items() if need.amount > there[pk]], line)


SHORT = Kind("short", "Short for planned batches", Consequence.STORES, short)


# Getting old ---------------------------------------------------------------------------------


class _Dated(NamedTuple):
    """Something with a date about now, how much of it there is, and its lot."""

    day: dt.date
    pk: int
    there: int
    lot: Any


def dated(request: BreweryRequest) -> Lines:
    """Stock past its date, to be written off, and stock near it, to be used first.

    A remainder that nobody could measure out is none: it stays in the lists of lots.
    """
    reader = reader_of(request)

    def line(each: _Dated) -> Line:
        lot, amount = each.lot, reader.amount(each.there, each.lot.dimension)
        text = f"{lot.describe()}, {amount} on hand, {_KEEPS[lot.kind]} {reader.day(each.day)}."
        return Line(_word(each.day), Linked(lot.code, lot), text, _away(lot, each.day, amount))

    return Lines(_dated(), line, _with_lots)


_KEEPS = {"ingredient": "best before", "preparation": "use by", "bottling": "best before"}


def _dated() -> list[tuple[dt.date, int, int]]:
    """The day, the key and the amount of everything with a date about now, where there is some,
    the earliest first: a query for each kind of lot."""
    today = timezone.localdate()
    span = (today - _LONG_PAST, today + _NEAR)
    deliveries = IngredientLot.objects.live().filter(best_before__range=span)
    sound = deliveries.exclude(acceptance=IngredientLot.Acceptance.REJECTED)
    preparations = PreparationLot.objects.live().filter(use_by__range=span)
    bottles = BottlingLot.objects.live().filter(best_before__range=span)
    found = [
        *_there(sound, "best_before"),
        *_there(preparations, "use_by"),
        *_there(bottles, "best_before"),
    ]
    return sorted(found)


def _there(lots: QuerySet[Any], date: str) -> list[tuple[dt.date, int, int]]:
    """Those of which there is something. Of a year's bottlings the database returns no others."""
    least = {dimension.value: amount for dimension, amount in LEAST_MEASURED.items()}
    rows = with_on_hand(lots).filter(on_hand__gt=0).order_by()
    return [
        (day, pk, there)
        for day, pk, there, dimension in rows.values_list(date, "pk", "on_hand", "dimension")
        if there >= least[dimension]
    ]


def _with_lots(rows: Sequence[tuple[dt.date, int, int]]) -> list[_Dated]:
    lots = Lot.objects.select_related(*DESCRIBED).in_bulk([pk for _, pk, _ in rows])
    return [_Dated(day, pk, there, lots[pk].detail) for day, pk, there in rows]


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
