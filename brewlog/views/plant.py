"""The whole plant on one page: every vessel, what stands still, what works, what is in the stores.

The start page says what needs doing; this one says how everything stands, whether or not
anything is to be done about it. A fixed number of queries, however much there is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from brewlog.calculations.past_bottlings import stock_of
from brewlog.domain.planned import Need, planned_needs
from brewlog.domain.vessels import open_cultures
from brewlog.ledger import ids_in, on_hand
from brewlog.middleware import BreweryRequest
from brewlog.models import (
    BottlingLot,
    Flavour,
    Format,
    Hold,
    Ingredient,
    Measurand,
    Vessel,
)
from brewlog.models.lots import described
from brewlog.recording import reading
from brewlog.units import LEAST_MEASURED, Dimension
from brewlog.views.access import READ, needs
from brewlog.views.details import Section, tables_of
from brewlog.views.judged import limits_beside, mark_verdicts
from brewlog.views.lists import Column, Linked, Word, get
from brewlog.views.names import natural
from brewlog.views.reader import OnHand, reader_of
from brewlog.views.standing import KeptBack, kept_back, mark_kept_back, standing
from brewlog.views.stock import LONG_PAST
from brewlog.views.today.bottles import warm_lots, with_parts
from brewlog.views.today.lines import Line, days_since
from brewlog.views.today.vessels import open_batches, open_keys, with_last_ph

# What this many vessels hold stands here; the lists have all of it.
MOST = 100
# Of what stands still or works, the most pressing.
_A_FEW = 12
# The checks that other apps wait for in the coming days, the first due first: they add themselves
# when they are loaded.
CHECKS_COMING: list[Callable[[], list[Line]]] = []


# The vessels -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Stand:
    """A lot in its vessel, with what its pH is held against and the check that is due first."""

    lot: Any
    limits: list[str]
    check: Line | None

    @property
    def order(self) -> tuple[Any, ...]:
        """By the vessels' names, what stands in none last."""
        return self.lot.vessel is None, natural(str(self.lot.vessel or self.lot.code))


def stands() -> list[Stand]:
    """What there is in the vessels by the books, and what stands in none."""
    lots = [*_batches(), *_cultures()]
    mark_verdicts(lots)
    checks, limits = _next_checks(), limits_beside(lots, Measurand.PH)
    found = [Stand(lot, limits[lot.pk], checks.get(lot.pk)) for lot in lots]
    return sorted(found, key=lambda each: each.order)


def _empty(filled: Iterable[Stand]) -> list[Vessel]:
    """The vessels in use with nothing in them."""
    taken = {stand.lot.vessel_id for stand in filled} - {None}
    rows = Vessel.objects.live().filter(in_use=True).exclude(pk__in=ids_in(taken))
    return sorted(rows, key=lambda each: natural(each.name))[:MOST]


def _batches() -> list[Any]:
    return list(open_batches(open_keys()[:MOST]))


def _cultures() -> list[Any]:
    return list(with_last_ph(open_cultures().select_related("line", "vessel"))[:MOST])


def _next_checks() -> dict[int, Line]:
    """The check of each lot that is due first, by the lot's key."""
    found: dict[int, Line] = {}
    for ask in CHECKS_COMING:
        for line in ask():
            found.setdefault(line.about.record.pk, line)
    return found


def _of_lot(value: Callable[[Any], Any]) -> Callable[[Stand], Any]:
    """A column's value, read from the lot."""
    return lambda stand: value(stand.lot)


def _what(lot: Any) -> Any:
    return lot.recipe if hasattr(lot, "recipe") else f"starter, {lot.line}"


def _since(lot: Any) -> str:
    """Since starter went in; of a starter, since it began."""
    return days_since(getattr(lot, "pitched_at", None) or lot.happened_at)


def _vessel(lot: Any) -> Any:
    return Linked(lot.vessel, lot.vessel) if lot.vessel else Linked(lot.code, lot)


def _check_word(stand: Stand) -> Word | None:
    if stand.check is None:
        return None
    return Word(f"{stand.check.word}: {stand.check.text.rstrip('.')}", stand.check.word.tone)


_VESSELS = (
    Column("vessel", "Vessel", _of_lot(_vessel)),
    Column("lot", "In it", _of_lot(lambda lot: Linked(lot.code, lot))),
    Column("what", "What", _of_lot(_what)),
    Column("standing", "Standing", _of_lot(standing)),
    Column(
        "there", "On hand", _of_lot(lambda lot: OnHand(lot.on_hand, lot.dimension)), number=True
    ),
    Column("since", "Since", _of_lot(_since)),
    Column("ph", "Last pH", _of_lot(get("ph")), number=True),
    Column("read", "Read", _of_lot(get("ph_at"))),
    Column("limits", "Its limits", lambda stand: "; ".join(stand.limits)),
    Column("verdict", "Against them", _of_lot(get("verdict"))),
    Column("check", "Next check", _check_word),
)


# What stands still, and what works --------------------------------------------------------


def _held(kept: KeptBack) -> Section:
    """The open holds, the newest first."""
    rows = Hold.objects.live().filter(lifted_at__isnull=True, lot__in=ids_in(kept.held))
    holds = list(rows.select_related(*described("lot")).order_by("-id")[:_A_FEW])
    title = _title("Held", "newest", len(holds), sum(map(len, kept.held.values())))
    return Section(title, _HOLDS, lambda _: holds, empty="Nothing is held.")


def _title(title: str, which: str, shown: int, total: int) -> str:
    """With how many there are, where not all of them stand here."""
    return f"{title}: the {shown} {which} of {total}" if shown < total else title


_HOLDS = (
    Column("lot", "Lot", lambda hold: Linked(hold.lot.code, hold.lot)),
    Column("what", "What", lambda hold: hold.lot.detail.describe()),
    Column("cause", "Held for", lambda hold: Word(hold.get_cause_display(), "stop")),
    Column("when", "Since", lambda hold: days_since(hold.happened_at)),
)


def _warm() -> Section:
    found = warm_lots()
    shown = with_parts(found[:_A_FEW])
    title = _title("Bottles standing warm", "most pressing", len(shown), len(found))
    return Section(title, _WARM, lambda _: shown, empty="None.")


_WARM = (
    Column("lot", "Lot", lambda each: Linked(each.lot.code, each.lot)),
    Column("what", "What", lambda each: each.lot.describe()),
    Column("there", "Bottles", lambda each: sum(part.quantity for part in each.parts), number=True),
    Column("since", "Warm", lambda each: days_since(min(part.since.at for part in each.parts))),
    Column("word", "By calculation", get("word")),
)


# The stores ------------------------------------------------------------------------------


@dataclass
class Bottles:
    """The bottles of a flavour in one format: all there are, those kept back, the first date."""

    flavour: Flavour
    format: Format
    there: int = 0
    kept: int = 0
    first: Any = None


def _bottles(kept: KeptBack) -> list[Bottles]:
    """Bottles long past their date are a matter for a stock count."""
    lots = BottlingLot.objects.live().exclude(best_before__lt=timezone.localdate() - LONG_PAST)
    rows = list(lots.order_by().values_list("pk", "flavour", "format", "best_before"))
    there = on_hand(pk for pk, *_ in rows)
    flavours, formats = Flavour.objects.in_bulk(), Format.objects.in_bulk()
    found: dict[tuple[int, int], Bottles] = {}
    for pk, flavour, format, day in rows:
        if there[pk] <= 0:
            continue
        stock = found.setdefault((flavour, format), Bottles(flavours[flavour], formats[format]))
        stock.there += there[pk]
        stock.kept += there[pk] if pk in kept else 0
        stock.first = min(filter(None, (stock.first, day)), default=None)
    return sorted(found.values(), key=lambda each: (each.flavour.name, each.format.name))


_BOTTLES = (
    Column("flavour", "Flavour", lambda each: Linked(each.flavour, each.flavour)),
    Column("format", "Format", get("format")),
    Column("there", "On hand", get("there"), number=True),
    Column("kept", "Kept back", lambda each: Word(str(each.kept), "stop") if each.kept else None),
    Column("first", "Best before from", get("first")),
)


@dataclass(frozen=True)
class Store:
    """An ingredient: what there is, and what planned batches take of it."""

    ingredient: Ingredient
    there: int
    need: Need | None

    @property
    def left(self) -> Any:
        """What would be left of it; short in words."""
        if self.need is None:
            return None
        left = self.there - self.need.amount
        return Word("short", "look") if left < 0 else OnHand(left, self.ingredient.dimension)


def _stores() -> list[Store]:
    """Every ingredient there is something of, or that a planned batch takes."""
    ingredients = Ingredient.objects.live().in_bulk()
    there, needs_of = stock_of(set(ingredients)), planned_needs()
    return [
        Store(each, there[each.pk], needs_of.get(each.pk))
        for each in sorted(ingredients.values(), key=lambda each: each.name)
        if there[each.pk] >= LEAST_MEASURED[Dimension(each.dimension)] or each.pk in needs_of
    ]


_THERE = (
    Column("ingredient", "Ingredient", lambda each: Linked(each.ingredient, each.ingredient)),
    Column(
        "there", "On hand", lambda each: OnHand(each.there, each.ingredient.dimension), number=True
    ),
)
_PLANNED = (
    Column(
        "need",
        "Planned batches take",
        lambda each: each.need and OnHand(each.need.amount, each.ingredient.dimension),
        number=True,
    ),
    Column("left", "Would leave", get("left"), number=True),
)


# The page --------------------------------------------------------------------------------


@require_safe
@needs(READ)
def plant(request: BreweryRequest) -> HttpResponse:
    """How everything stands now."""
    with reading():
        kept, filled, stores = kept_back(), stands(), _stores()
        mark_kept_back([stand.lot for stand in filled], kept)
        in_stores = (*_THERE, *_PLANNED) if any(each.need for each in stores) else _THERE
        whole = (
            Section("In the vessels", _VESSELS, lambda _: filled, empty="Nothing, by the books."),
        )
        halves = (
            _held(kept),
            _warm(),
            Section("Bottles", _BOTTLES, lambda _: _bottles(kept), empty="None on hand."),
            Section(
                "Ingredients and packaging", in_stores, lambda _: stores, empty="None on hand."
            ),
        )
        reader = reader_of(request)
        context = {
            "here": "home",
            "now": timezone.now(),
            "whole": tables_of(whole, None, reader),
            "empty": _empty(filled),
            "halves": tables_of(halves, None, reader),
        }
    return render(request, "brewlog/plant.html", context)
