"""The steps of each lot filled: the line, glass, what other apps ask, pH, where it rests."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from brewlog.domain.places import Stay, in_stock, stays_of
from brewlog.models import (
    BottlingLot,
    Breakage,
    Checkpoint,
    LineClearance,
    Location,
    Lot,
    LotKind,
    Measurand,
)
from brewlog.views.bottling_day.day import FURTHER_STEPS, Day, Part, Step
from brewlog.views.lists import Word
from brewlog.views.today.lines import typed_time


def lot_parts(day: Day) -> list[Part]:
    ids = [lot.pk for lot in day.lots]
    clearances = _by_lot(LineClearance.objects.live().filter(lot__in=ids).order_by("happened_at"))
    breakages = _by_lot(Breakage.objects.live().filter(lot__in=ids).order_by("happened_at"))
    readings = _by_lot(
        Checkpoint.objects.live()
        .filter(lot__in=ids, measurand=Measurand.PH)
        .order_by("happened_at")
    )
    standing = stays_of(ids)
    warm = Location.objects.live().filter(kind=Location.Kind.WARM_ROOM, in_use=True).first()
    cold = Location.objects.live().filter(is_cold=True, in_use=True).order_by("id").first()
    further = [ask(day) for ask in FURTHER_STEPS]
    parts = []
    for lot, previous in zip(day.lots, _ran_before(day.lots), strict=True):
        cleared = clearances.get(lot.pk, [])
        steps = [
            _clear(day, lot, previous, cleared),
            *(steps[lot.pk] for steps in further),
            _broke(day, lot, cleared, breakages.get(lot.pk, [])),
            _ph(day, lot, readings.get(lot.pk, [])),
            _rest(day, lot, standing.get(lot.pk, []), warm if _works_on(lot) else cold),
        ]
        parts.append(Part(f"{lot.describe()}: {lot.made}", steps, lot))
    return parts


def _by_lot(events: Iterable[Any]) -> dict[int, list[Any]]:
    found: dict[int, list[Any]] = {}
    for event in events:
        found.setdefault(event.lot_id, []).append(event)
    return found


def _ran_before(lots: list[BottlingLot]) -> list[Lot | None]:
    """What stood on the line before each: the lot before it, for the first the last of all."""
    first = lots[0]
    earlier = BottlingLot.objects.live().filter(
        kind=LotKind.BOTTLING, happened_at__lt=first.happened_at
    )
    last = earlier.order_by("-happened_at", "-pk").first()
    return [last, *lots[:-1]]


def _works_on(lot: BottlingLot) -> bool:
    return lot.carbonation in {BottlingLot.Carbonation.NATURAL, BottlingLot.Carbonation.MIXED}


def _clear(day: Day, lot: BottlingLot, previous: Lot | None, cleared: list[LineClearance]) -> Step:
    step = Step("Line clear of the last flavour", is_done=bool(cleared))
    for each in cleared:
        labels = [
            name
            for name, kept in (("first", each.first_label_kept), ("last", each.last_label_kept))
            if kept
        ]
        kept = f"{' and '.join(labels)} label kept" if labels else "no label kept"
        step.told.append(f"Cleared {day.reader.when(each.when)}, {kept}.")
    if not cleared:
        before = f"Before it ran {previous}. " if previous else ""
        step.told.append(f"{before}Keep the first and the last label.")
    title = "Clear it once more" if cleared else ""
    step.links += day.form("line-clearance", title, lot=lot.code, previous=previous)
    return step


def _broke(
    day: Day, lot: BottlingLot, cleared: list[LineClearance], broken: list[Breakage]
) -> Step:
    """Bottles are set apart back to the last good check the record knows."""
    checks = [each.when for each in (*cleared, *broken)]
    last_good = max(checks, default=lot.when)
    told = [
        f"{each.broken} broke {day.reader.when(each.when)}, {each.set_apart} set apart."
        for each in broken
    ]
    return Step(
        "Glass broke",
        told=[*told, f"Last good check: {day.reader.when(last_good)}."],
        links=day.form("breakage", lot=lot.code, last_good_check_at=typed_time(last_good)),
        word=Word(f"{sum(each.broken for each in broken)} broken", "look")
        if broken
        else Word("if it happens"),
        caution="Stop the line. Gloves and eye protection. Set apart every open bottle near by "
        "and all filled since the last good check.",
    )


def _ph(day: Day, lot: BottlingLot, readings: list[Checkpoint]) -> Step:
    return Step(
        "pH after flavouring",
        is_done=bool(readings),
        told=[f"pH {each.value_text}, {day.reader.when(each.when)}." for each in readings],
        links=day.form("reading", lot=lot.code, measurand=Measurand.PH.value),
    )


def _rest(day: Day, lot: BottlingLot, stays: list[Stay], place: Location | None) -> Step:
    """Into the warm room where the drink makes its gas in the bottle, else into the cold."""
    standing = in_stock(stays)
    placed = [stay for stay in standing if stay.location is not None]
    step = Step(
        "Begin the second ferment, warm" if _works_on(lot) else "Into the cold",
        is_done=bool(placed) and len(placed) == len(standing),
        told=[
            f"{stay.quantity} in {stay.location} since {day.reader.when(stay.since)}."
            for stay in placed
        ],
    )
    if _works_on(lot):
        step.caution = (
            "A closed crate away from people. Open one bottle on the way, chilled, to see what "
            "the gas does. The sparkle adds alcohol."
        )
    there = sum(stay.quantity for stay in standing if stay.location is None)
    step.links += day.form(
        "move", "Move them there", lot=lot.code, quantity=there or "", to_location=place
    )
    step.links += day.form("keep-bottles", lot=lot.code)
    return step
