"""Bottles that work on: what stands warm, and what was kept back to be opened."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from typing import Any, NamedTuple

from django.utils import timezone

from brewlog.calculations.base import Units, units_of
from brewlog.calculations.carbonation import bottle_of, judge_brix
from brewlog.calculations.flow import WARM_C, pressure_words
from brewlog.domain.places import Stay, in_stock, stays_of
from brewlog.ledger import ids_in, with_on_hand
from brewlog.middleware import BreweryRequest
from brewlog.models import (
    BottlingLot,
    Checkpoint,
    Format,
    Location,
    LotKind,
    LotUse,
    Measurand,
    Move,
    RetainedBottles,
)
from brewlog.science.bottle_pressure import Bottle, Judgement, Verdict
from brewlog.science.errors import OutOfRange
from brewlog.views.lists import Linked, Word
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

# Bottles of so long ago that stand warm to this day are a matter for a stock count.
_LOOKED_BACK = dt.timedelta(days=200)
_TONE = {Verdict.BELOW_RATING: "plain", Verdict.CLOSE: "look", Verdict.TOO_HIGH: "stop"}
_PRESSING = {"stop": 0, "look": 1, "plain": 2}


# Standing warm -----------------------------------------------------------------------------


class Warm(NamedTuple):
    """A lot that stands warm: the Brix its pressure follows from, and what that means for its
    bottles, None where no bottle holds so much sugar. What is shown has the rest besides."""

    pk: int
    reading: Checkpoint | None
    judged: Judgement | None
    lot: Any = None
    parts: Sequence[Stay] = ()

    @property
    def word(self) -> Word:
        if self.reading is None:
            return Word("sugar not known", "look")
        if self.judged is None:
            return Word("beyond calculation", "stop")
        return Word(str(self.judged.verdict), _TONE[self.judged.verdict])


def warm(request: BreweryRequest) -> Lines:
    """Lots that make gas in the bottle and stand warm: their pressure by calculation, against
    the rating. Settled by moving them into the cold."""
    found = warm_lots()
    cold = Location.objects.live().filter(is_cold=True, in_use=True).order_by("id")
    to, units = cold.first() if found else None, units_of(request.user)
    return Lines(found, lambda each: _warm_line(each, to, units), with_parts)


def warm_lots() -> list[Warm]:
    """Those lots, the most pressing first."""
    formats = _working()
    standing = _standing_warm(formats)
    brix = _last_brix(standing)
    judge = _judging(formats)
    found = [Warm(pk, brix.get(pk), judge(pk, brix.get(pk))) for pk in standing]
    return sorted(found, key=lambda each: _PRESSING[each.word.tone])


def _warm_line(each: Warm, cold: Location | None, units: Units) -> Line:
    if each.reading is None:
        words = "No Brix was read: no pressure is known."
    elif each.judged is None:
        words = "No bottle holds so much sugar."
    else:
        words = f"{pressure_words(each.judged, units)} {_rated(each.judged, units)}"
    there = sum(part.quantity for part in each.parts)
    lot, text = each.lot, f"{there} of {each.lot.describe()}, warm {_since(each.parts)}. {words}"
    move = entry_form("move", "Put it in the cold", lot=lot.code, quantity=there, to_location=cold)
    return Line(each.word, Linked(lot.code, lot), text, move)


def with_parts(rows: Sequence[Warm]) -> list[Warm]:
    """Those that are shown, with their lots and the parts of them that stand warm."""
    keys = [each.pk for each in rows]
    lots, parts = BottlingLot.objects.select_related("flavour", "format"), _warm_parts(keys)
    found = lots.in_bulk(keys)
    return [each._replace(lot=found[each.pk], parts=parts[each.pk]) for each in rows]


def _working() -> dict[int, int]:
    """The format of each lot that makes gas in the bottle and of which there is something, the
    oldest lot first."""
    lots = BottlingLot.objects.live().filter(
        kind=LotKind.BOTTLING,
        happened_at__gte=timezone.now() - _LOOKED_BACK,
        carbonation__in=[BottlingLot.Carbonation.NATURAL, BottlingLot.Carbonation.MIXED],
    )
    there = with_on_hand(lots).filter(on_hand__gt=0).order_by("happened_at", "pk")
    return dict(there.values_list("pk", "format"))


def _standing_warm(lots: Iterable[int]) -> list[int]:
    """Those that stand anywhere but in the cold, with a part at least.

    What was never put into the cold cannot stand there: only of the others are the parts gone
    through.
    """
    moves = Move.objects.live().filter(lot__in=ids_in(lots), to_location__is_cold=True)
    chilled = set(moves.order_by().values_list("lot", flat=True))
    parts = _warm_parts(chilled) if chilled else {}
    return [pk for pk in lots if pk not in chilled or pk in parts]


def _warm_parts(lots: Iterable[int]) -> dict[int, list[Stay]]:
    """The parts of each lot that stand anywhere but in the cold."""
    parts = {}
    for pk, stays in stays_of(lots).items():
        standing = [
            stay for stay in in_stock(stays) if not (stay.location and stay.location.is_cold)
        ]
        if standing:
            parts[pk] = standing
    return parts


def _last_brix(lots: Sequence[int]) -> dict[int, Checkpoint]:
    """The newest Brix reading of each lot; else of the batches it was filled from."""
    if not lots:
        return {}
    drawn = LotUse.objects.live().filter(into__in=ids_in(lots), purpose=LotUse.Purpose.DRINK)
    sources = defaultdict(set)
    for into, source in drawn.order_by().values_list("into", "source"):
        sources[into].add(source)
    newest = _newest_brix({*lots, *(source for each in sources.values() for source in each)})
    chosen = {}
    for pk in lots:
        of_sources = [newest[source] for source in sources[pk] if source in newest]
        own = newest.get(pk) or max(of_sources, default=None)
        if own is not None:
            chosen[pk] = own[1]
    readings = Checkpoint.objects.filter(pk__in=ids_in(set(chosen.values())))
    whole = readings.select_related("instrument").in_bulk() if chosen else {}
    return {pk: whole[reading] for pk, reading in chosen.items()}


def _newest_brix(lots: Iterable[int]) -> dict[int, tuple[dt.datetime, int]]:
    """When the newest Brix of each was read, and its key."""
    readings = Checkpoint.objects.live().filter(lot__in=ids_in(lots), measurand=Measurand.BRIX)
    rows = readings.order_by("happened_at", "id").values_list("lot", "happened_at", "id")
    return {lot: (at, pk) for lot, at, pk in rows}


def _judging(formats: dict[int, int]) -> Callable[[int, Checkpoint | None], Judgement | None]:
    """What a reading means for the bottles of a lot. Many lots are filled from one batch: their
    pressure is worked out once."""
    bottles = {pk: bottle_of(each) for pk, each in Format.objects.in_bulk().items()}
    judged: dict[tuple[int, int], Judgement | None] = {}

    def judge(lot: int, reading: Checkpoint | None) -> Judgement | None:
        if reading is None:
            return None
        key = (reading.pk, formats[lot])
        if key not in judged:
            judged[key] = _judged(reading, bottles[formats[lot]])
        return judged[key]

    return judge


def _judged(reading: Checkpoint, bottle: Bottle) -> Judgement | None:
    try:
        return judge_brix(reading, bottle, WARM_C)
    except OutOfRange:
        # So much sugar that no bottle holds its pressure.
        return None


def _rated(found: Judgement, units: Units) -> str:
    if found.rated_gauge_bar is None:
        return "The bottle's rating is not known."
    return f"Rated {units.pressure(found.rated_gauge_bar)}."


def _since(stays: Sequence[Stay]) -> str:
    first = min(stay.since.at for stay in stays)
    return "since today" if days_since(first) == "today" else f"for {days_since(first)}"


WARM = Kind(
    "warm",
    "Bottles standing warm",
    Consequence.HARM,
    warm,
    caution="Bottles burst: gloves and eye protection, a closed crate away from people, and chill "
    "before you open one. A pressure by calculation is no promise that the glass holds. The "
    "sparkle adds alcohol, and its gas gathers low in closed rooms: air them.",
)


# Kept back to be opened ----------------------------------------------------------------------


def opening(kept: RetainedBottles) -> Form:
    """The entry that settles bottles kept back, filled in."""
    return entry_form("pull-bottles", "Open them", lot=kept.lot.code, kept=kept.kept)


def retained(request: BreweryRequest) -> Lines:
    """Bottles kept back whose day to be opened has come."""
    due = RetainedBottles.objects.live().filter(
        pulled_at__isnull=True, pull_on__lte=timezone.localdate()
    )
    return Lines(
        due.order_by("pull_on", "id"),
        lambda each: Line(
            days_left(each.pull_on),
            Linked(each.lot.code, each.lot),
            f"{each.count} kept back {each.get_kept_display()} of {each.lot.describe()}.",
            opening(each),
        ),
        _with_their_lots,
    )


def _with_their_lots(rows: Sequence[RetainedBottles]) -> Iterable[RetainedBottles]:
    whole = RetainedBottles.objects.select_related("lot__flavour", "lot__format")
    return whole.filter(pk__in=[each.pk for each in rows]).order_by("pull_on", "id")


RETAINED = Kind(
    "kept-bottles",
    "Bottles kept back, to open now",
    Consequence.CLOCK,
    retained,
    full="kept-bottles-list",
    narrowed="open=due",
    caution="Chill them first. Open them slowly, over a sink, with eye protection and gloves.",
)
KINDS = (WARM, RETAINED)
