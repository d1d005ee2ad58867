"""Bottles that work on: what stands warm, and what was kept back to be opened."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable

from django.utils import timezone

from brewlog.calculations.base import Units, units_of
from brewlog.calculations.carbonation import bottle_of, judge_brix
from brewlog.calculations.flow import WARM_C, pressure_words
from brewlog.domain.places import Stay, stays_of
from brewlog.ledger import ids_in, with_on_hand
from brewlog.middleware import BreweryRequest
from brewlog.models import (
    BottlingLot,
    Checkpoint,
    Location,
    LotKind,
    LotUse,
    Measurand,
    RetainedBottles,
)
from brewlog.science.bottle_pressure import Judgement, Verdict
from brewlog.science.errors import OutOfRange
from brewlog.views.lists import Linked, Word
from brewlog.views.today.lines import (
    Consequence,
    Form,
    Kind,
    Line,
    days_left,
    days_since,
    entry_form,
)

# Bottles of so long ago that stand warm to this day are a matter for a stock count.
_LOOKED_BACK = dt.timedelta(days=200)
_TONE = {Verdict.BELOW_RATING: "plain", Verdict.CLOSE: "look", Verdict.TOO_HIGH: "stop"}
_PRESSING = {"stop": 0, "look": 1, "plain": 2}


# Standing warm -----------------------------------------------------------------------------


def warm(request: BreweryRequest) -> list[Line]:
    """Lots that make gas in the bottle and stand warm: their pressure by calculation, against
    the rating. Settled by moving them into the cold."""
    lots = {lot.pk: lot for lot in _working_lots()}
    parts = _warm_parts(lots)
    brix = _last_brix(parts)
    cold = Location.objects.live().filter(is_cold=True, in_use=True).order_by("id").first()
    units = units_of(request.user)
    judged: dict[tuple[int, int], Judgement | None] = {}
    lines = []
    for pk, stays in parts.items():
        lot, reading = lots[pk], brix.get(pk)
        if reading is None:
            word, words = Word("sugar not known", "look"), "No Brix was read: no pressure is known."
        else:
            # Many lots are filled from one batch: their pressure is worked out once.
            key = (reading.pk, lot.format_id)
            if key not in judged:
                judged[key] = _judged(reading, lot)
            found = judged[key]
            if found is None:
                word, words = Word("beyond calculation", "stop"), "No bottle holds so much sugar."
            else:
                word = Word(str(found.verdict), _TONE[found.verdict])
                words = f"{pressure_words(found, units)} {_rated(found, units)}"
        there = sum(stay.quantity for stay in stays)
        text = f"{there} of {lot.describe()}, warm {_since(stays)}. {words}"
        move = entry_form(
            "move", "Put it in the cold", lot=lot.code, quantity=there, to_location=cold
        )
        lines.append(Line(word, Linked(lot.code, lot), text, move))
    return sorted(lines, key=lambda line: _PRESSING[line.word.tone])


def _working_lots() -> Iterable[BottlingLot]:
    lots = BottlingLot.objects.live().filter(
        kind=LotKind.BOTTLING,
        happened_at__gte=timezone.now() - _LOOKED_BACK,
        carbonation__in=[BottlingLot.Carbonation.NATURAL, BottlingLot.Carbonation.MIXED],
    )
    rows = with_on_hand(lots.select_related("flavour", "format"))
    return rows.filter(on_hand__gt=0).order_by("happened_at", "pk")


def _warm_parts(lots: Iterable[int]) -> dict[int, list[Stay]]:
    """The parts of each lot that stand anywhere but in the cold."""
    parts = {}
    for pk, stays in stays_of(lots).items():
        standing = [
            stay
            for stay in stays
            if stay.until is None and not (stay.location and stay.location.is_cold)
        ]
        if standing:
            parts[pk] = standing
    return {pk: parts[pk] for pk in lots if pk in parts}


def _last_brix(lots: Iterable[int]) -> dict[int, Checkpoint]:
    """The newest Brix reading of each lot; else of the batches it was filled from."""
    ids = list(lots)
    drawn = LotUse.objects.live().filter(into__in=ids_in(ids), purpose=LotUse.Purpose.DRINK)
    sources = defaultdict(set)
    for into, source in drawn.values_list("into", "source"):
        sources[into].add(source)
    asked = {*ids, *(source for each in sources.values() for source in each)}
    readings = Checkpoint.objects.live().filter(lot__in=ids_in(asked), measurand=Measurand.BRIX)
    newest: dict[int, Checkpoint] = {}
    for reading in readings.select_related("instrument").order_by("happened_at", "id"):
        assert reading.lot_id is not None
        newest[reading.lot_id] = reading
    found = {}
    for pk in ids:
        of_sources = [newest[source] for source in sources[pk] if source in newest]
        own = newest.get(pk) or max(of_sources, key=lambda each: each.happened_at, default=None)
        if own is not None:
            found[pk] = own
    return found


def _judged(reading: Checkpoint, lot: BottlingLot) -> Judgement | None:
    try:
        return judge_brix(reading, bottle_of(lot.format), WARM_C)
    except OutOfRange:
        # So much sugar that no bottle holds its pressure.
        return None


def _rated(found: Judgement, units: Units) -> str:
    if found.rated_gauge_bar is None:
        return "The bottle's rating is not known."
    return f"Rated {units.pressure(found.rated_gauge_bar)}."


def _since(stays: list[Stay]) -> str:
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


def retained(request: BreweryRequest) -> list[Line]:
    """Bottles kept back whose day to be opened has come."""
    due = RetainedBottles.objects.live().filter(
        pulled_at__isnull=True, pull_on__lte=timezone.localdate()
    )
    return [
        Line(
            days_left(each.pull_on),
            Linked(each.lot.code, each.lot),
            f"{each.count} kept back {each.get_kept_display()} of {each.lot.describe()}.",
            opening(each),
        )
        for each in due.select_related("lot__flavour", "lot__format").order_by("pull_on", "id")
    ]


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
