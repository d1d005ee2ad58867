"""The bottles that a laboratory's result speaks for besides those it is of.

A limit on how long ago a laboratory looked counts to the result of the recipe nearest to the
bottling (`laboratory.py`): only bottles filled nearer to this one than to any other can be found
otherwise. A result at the end of shelf life speaks for all of its flavour and recipe there still
is something of (`ahead.py`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.utils import timezone

from brewlog.ledger import ids_in, on_hand
from brewlog.models import Batch, BottlingLot, LabResult, LotKind, LotUse
from compliance.assessment.facts import recipes_of

# Half the days between two samples, and a day more: times are known to the day, and days are
# counted by the brewery's calendar.
_A_DAY_MORE = dt.timedelta(days=2)


@dataclass(frozen=True)
class Version:
    """A result as it stands or once stood: what a change of it takes back or puts there."""

    result: int
    lot: int
    measurand: str
    at: dt.datetime


def spoken_for(versions: Iterable[Version]) -> set[int]:
    """The lots that may be found otherwise for what these results say, or said."""
    versions = list(versions)
    recipes = recipes_of({each.lot for each in versions})
    found: set[int] = set()
    for each in versions:
        made = _made_by(recipes.get(each.lot, set()))
        if made:
            found |= _nearest(each, recipes[each.lot], made)
            found |= _at_the_end(each, made)
    return found


def _made_by(recipes: set[int]) -> set[int]:
    """The bottles drawn from batches of the recipes."""
    if not recipes:
        return set()
    batches = Batch.objects.filter(recipe__recipe__in=recipes).values("pk")
    drawn = LotUse.objects.live().filter(source__in=batches, into__kind=LotKind.BOTTLING)
    return set(drawn.order_by().values_list("into", flat=True))


def _nearest(version: Version, recipes: set[int], made: set[int]) -> set[int]:
    """Bottled nearer to the sample than to any other of one of the recipes."""
    first, last = None, None
    for at in _others(version, recipes):
        if at <= version.at:
            first = max(first or at, at)
        if at >= version.at:
            last = min(last or at, at)
    bottles = BottlingLot.objects.filter(pk__in=ids_in(made))
    if first is not None:
        begins = first + (version.at - first) / 2 - _A_DAY_MORE
        bottles = bottles.filter(happened_at__gte=begins)
    if last is not None:
        ends = version.at + (last - version.at) / 2 + _A_DAY_MORE
        bottles = bottles.filter(happened_at__lte=ends)
    return set(bottles.order_by().values_list("pk", flat=True))


def _others(version: Version, recipes: set[int]) -> Iterator[dt.datetime]:
    """When the other samples of the same thing were taken that speak for all of the recipes."""
    rows = LabResult.objects.live().filter(measurand=version.measurand).exclude(pk=version.result)
    results = list(rows.order_by().values_list("lot", "happened_at"))
    of = recipes_of({lot for lot, _ in results})
    return (at for lot, at in results if recipes <= of.get(lot, set()))


def _at_the_end(version: Version, made: set[int]) -> set[int]:
    """Of the flavour and still there, where the sample was taken at the end of shelf life."""
    sampled = BottlingLot.objects.filter(pk=version.lot).first()
    if sampled is None or sampled.best_before is None:
        return set()
    if timezone.localtime(version.at).date() < sampled.best_before:
        return set()
    alike = BottlingLot.objects.filter(pk__in=ids_in(made), flavour=sampled.flavour_id)
    there = on_hand(alike.order_by().values_list("pk", flat=True))
    return {pk for pk, amount in there.items() if amount > 0}
