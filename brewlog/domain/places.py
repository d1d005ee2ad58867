"""Where each part of a lot stood, and from when to when: worked out, never stored.

A lot begins where its first move took it from. What is moved, used or sent leaves the
oldest part of a place first. A shipment leaves the place it names; anything else that
leaves is taken from where the lot arrived last.

More may be carried or leave than the books have. What was carried beyond them arrives all the
same, as it may have stood there when the cold failed, but it is no stock and is told apart.
What left beyond them is owed: what is made or found later makes up for it first. So what stands
and is stock adds up to what is on hand.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from django.utils import timezone

from brewlog.ledger import ids_in
from brewlog.models import Location, Lot, LotUse, Move, ShipmentLine, StockAdjustment
from brewlog.models.base import Guarded
from brewlog.when import Precision, When


@dataclass(frozen=True)
class Stay:
    """So much of a lot in one place, from then until then.

    `quantity` is in the lot's canonical unit. `location` is None where no move tells;
    `until` is None while it stands there. `beyond_books` is what was carried there beyond what
    the books had of the lot.
    """

    lot: Lot
    location: Location | None
    quantity: int
    since: When
    until: When | None = None
    beyond_books: bool = False


@dataclass(frozen=True)
class Stood:
    """A stay within a time asked about, and how long it lasted within it."""

    stay: Stay
    since: dt.datetime
    until: dt.datetime

    @property
    def duration(self) -> dt.timedelta:
        return self.until - self.since


@dataclass(frozen=True)
class _Event:
    """An amount leaving a place, arriving in one, or both.

    `from_id` is only looked at where `from_named`; None is then the place no move tells.
    """

    when: When
    quantity: int
    leaves: bool = False
    arrives: bool = False
    from_named: bool = False
    from_id: int | None = None
    to_id: int | None = None

    @property
    def order(self) -> tuple[dt.datetime, int]:
        """What only leaves is taken as late as it can have been, as the trace takes it."""
        return (self.when.at, 0) if self.arrives else (self.when.ends, 1)


def stays(lot: Lot, at: When | None = None) -> list[Stay]:
    """Where the parts of a lot stood, in the order they came there; with `at`, as it was
    at that time."""
    return stays_of([lot.pk], at).get(lot.pk, [])


def standing(lot: Lot, at: When | None = None) -> list[Stay]:
    """The stays that have not ended (by then)."""
    return [stay for stay in stays(lot, at) if stay.until is None]


def in_stock(found: Iterable[Stay]) -> list[Stay]:
    """Of all stays of a lot, those of what is there now: they add up to what is on hand."""
    return [stay for stay in found if stay.until is None and not stay.beyond_books]


def stays_of(lot_ids: Iterable[int], at: When | None = None) -> dict[int, list[Stay]]:
    """The stays of several lots, by lot, in seven queries however many there are."""
    ids = list(lot_ids)
    lots = {lot.pk: lot for lot in Lot.objects.live().filter(pk__in=ids_in(ids)).order_by("id")}
    places = Location.objects.in_bulk()
    events = _events(ids)
    return {pk: _walk(lot, events[pk], places, at) for pk, lot in lots.items()}


def stood_in(location: Location, since: When, until: When | None = None) -> list[Stood]:
    """What stood in a place within that time, longest first: for a warm weekend, a broken
    cooler, a leak. Without `until`, up to now."""
    moved = Move.objects.live().order_by()
    ids = set(moved.filter(to_location=location).values_list("lot", flat=True))
    ids |= set(moved.filter(from_location=location).values_list("lot", flat=True))
    end = until.ends if until else timezone.now()
    found = []
    for lot_stays in stays_of(ids).values():
        for stay in lot_stays:
            if stay.location is None or stay.location.pk != location.pk:
                continue
            begun = max(stay.since.at, since.at)
            ended = min(stay.until.ends if stay.until else end, end)
            if begun < ended:
                found.append(Stood(stay, begun, ended))
    return sorted(found, key=lambda stood: (-stood.duration, stood.stay.lot.pk, stood.since))


def _events(ids: list[int]) -> dict[int, list[_Event]]:
    found: dict[int, list[_Event]] = defaultdict(list)
    moves = _rows(Move, "lot", ids, "quantity", "from_location", "to_location")
    for lot, quantity, from_id, to_id, when in moves:
        found[lot].append(_Event(when, quantity, True, True, True, from_id, to_id))
    for lot, quantity, when in _rows(LotUse, "source", ids, "quantity"):
        found[lot].append(_Event(when, quantity, leaves=True))
    for lot, added, when in _rows(LotUse, "into", ids, "added"):
        if added:
            found[lot].append(_Event(when, added, arrives=True))
    for lot, change, when in _rows(StockAdjustment, "lot", ids, "change"):
        found[lot].append(_Event(when, abs(change), leaves=change < 0, arrives=change > 0))
    lines = _rows(ShipmentLine, "lot", ids, "quantity", "shipment__ship_from", at="shipment__")
    for lot, quantity, from_id, when in lines:
        named = from_id is not None
        found[lot].append(_Event(when, quantity, True, False, named, from_id))
    return found


def _rows(
    model: type[Guarded], link: str, ids: list[int], *fields: str, at: str = ""
) -> Iterator[tuple[Any, ...]]:
    """The lot, the named fields and the time of each live row of those lots."""
    rows = model.objects.live().filter(**{f"{link}__in": ids_in(ids)}).order_by("id")
    columns = (link, *fields, f"{at}happened_at", f"{at}happened_precision")
    for *values, moment, precision in rows.values_list(*columns):
        yield (*values, When(moment, Precision(precision)))


def _walk(
    lot: Lot, events: list[_Event], places: dict[int, Location], at: When | None
) -> list[Stay]:
    ordered = sorted(events, key=lambda each: each.order)
    moves = [each for each in ordered if each.leaves and each.arrives]
    account = _Account(lot, places)
    if lot.made:
        account.arrive(moves[0].from_id if moves else None, lot.made, lot.when)
    for event in ordered:
        if at is not None and at.provably_before(event.when):
            continue
        if event.leaves and event.arrives:
            account.carry(event)
        elif event.leaves:
            account.leave(event)
        else:
            account.arrive(event.to_id, event.quantity, event.when)
    return sorted(account.stays, key=lambda stay: stay.since.at)


class _Account:
    """The parts of one lot as they come and go. Parts that stand are in order of arrival."""

    def __init__(self, lot: Lot, places: dict[int, Location]) -> None:
        self.lot, self.places = lot, places
        self.stays: list[Stay] = []
        self.owed = 0

    def arrive(self, place_id: int | None, quantity: int, when: When) -> None:
        """More of the lot: what left before the books had it is made up for first."""
        made_up = min(self.owed, quantity)
        self.owed -= made_up
        self._stand(place_id, quantity - made_up, when)

    def leave(self, event: _Event) -> None:
        """So much is gone; what the books did not have is owed."""
        self.owed += event.quantity - self._take(event)

    def carry(self, event: _Event) -> None:
        """So much stands elsewhere; of a lot not counted yet, all of it is taken as had."""
        had = self._take(event)
        if self.lot.made is None:
            had = event.quantity
        self._stand(event.to_id, had, event.when)
        self._stand(event.to_id, event.quantity - had, event.when, beyond_books=True)

    def _stand(
        self, place_id: int | None, quantity: int, when: When, beyond_books: bool = False
    ) -> None:
        if quantity:
            place = self.places.get(place_id) if place_id is not None else None
            stay = Stay(self.lot, place, quantity, when, beyond_books=beyond_books)
            self.stays.append(stay)

    def _take(self, event: _Event) -> int:
        """End the stays of the amount that goes, and say how much of it the books had; what is
        left of a part stands on."""
        missing, had = event.quantity, 0
        for index in self._order_of_leaving(event):
            stay = self.stays[index]
            taken = min(missing, stay.quantity)
            if taken == stay.quantity:
                self.stays[index] = replace(stay, until=event.when)
            elif taken:
                self.stays[index] = replace(stay, quantity=stay.quantity - taken)
                self.stays.append(replace(stay, quantity=taken, until=event.when))
            missing -= taken
            had += 0 if stay.beyond_books else taken
        return had

    def _order_of_leaving(self, event: _Event) -> list[int]:
        """The standing parts, the named place first, then by where the lot arrived last; within a
        place the oldest first. What is no stock goes last."""
        candidates = [
            index
            for index, stay in enumerate(self.stays)
            if stay.until is None and not (event.arrives and self._place_of(index) == event.to_id)
        ]
        places = list(dict.fromkeys(self._place_of(index) for index in reversed(candidates)))
        if event.from_named and event.from_id in places:
            places.remove(event.from_id)
            places.insert(0, event.from_id)
        by_place = [i for place in places for i in candidates if self._place_of(i) == place]
        return sorted(by_place, key=lambda index: self.stays[index].beyond_books)

    def _place_of(self, index: int) -> int | None:
        place = self.stays[index].location
        return place.pk if place else None
