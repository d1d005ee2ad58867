"""When several batches should be ready: the forecast of each, for a page that lists them."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain

from django.db.models import F, Window
from django.db.models.functions import RowNumber

from brewlog.calculations.fermenting import MOST_EARLIER, Ferment, crossing_words, ferments_of
from brewlog.models import Batch
from brewlog.science import curves, fitting
from brewlog.science.curves import Prior
from brewlog.science.errors import OutOfRange
from brewlog.science.fitting import Reading, Room
from brewlog.science.forecast import Forecast, forecast

# The batches that are looked ahead for on one page.
MOST_FITTED = 8
# A ferment as a value: its readings, and the room.
_Fixed = tuple[tuple[Reading, ...], Room]


@dataclass(frozen=True)
class Readiness:
    """When a batch should reach the pH its recipe asks for; None for not within 60 days."""

    likely: dt.datetime | None
    words: str


def targets_ahead(batches: Sequence[Batch], gap: Callable[[Batch], float]) -> dict[int, Readiness]:
    """What `target_ahead` says of several batches, in two queries.

    Only of those with readings enough, and of these the nearest to their target by `gap`: a
    fit takes some thirtieth of a second. What was worked out once is remembered.
    """
    asked = [each for each in batches if each.recipe and each.recipe.target_ph is not None]
    earlier = _earlier_of(asked)
    related = {each.pk: each for each in chain(asked, *earlier.values())}
    ferments = ferments_of(list(related.values()), "ph")
    fitted = [each for each in asked if fitting.enough(ferments[each.pk].course)]
    found = {}
    for batch in sorted(fitted, key=gap)[:MOST_FITTED]:
        courses = tuple(_fixed(ferments[each.pk]) for each in earlier[batch.pk])
        target = float(batch.recipe.target_ph)  # type: ignore[union-attr, arg-type]
        try:
            told = _forecast_ph(_fixed(ferments[batch.pk]), target, courses)
        except OutOfRange:
            # A reading or a target no curve holds: there is nothing to look ahead to.
            continue
        found[batch.pk] = _readiness(told, batch)
    return found


# Pure functions of readings: the same ones are fitted once.
@lru_cache(maxsize=512)
def _forecast_ph(own: _Fixed, target: float, earlier: tuple[_Fixed, ...]) -> Forecast:
    return forecast(curves.PH, own[0], [target], _prior_ph(earlier), own[1])


@lru_cache(maxsize=64)
def _prior_ph(earlier: tuple[_Fixed, ...]) -> Prior:
    return fitting.learn_prior(curves.PH, earlier)


def _fixed(ferment: Ferment) -> _Fixed:
    return tuple(ferment.course), ferment.room()


def _readiness(found: Forecast, batch: Batch) -> Readiness:
    crossing = found.crossings[0]
    assert batch.pitched_at is not None
    words = crossing_words(crossing, batch.pitched_at, "ph")
    if crossing.likely_day is None:
        return Readiness(None, words)
    return Readiness(batch.pitched_at + dt.timedelta(days=crossing.likely_day), words)


def _earlier_of(batches: Sequence[Batch]) -> dict[int, list[Batch]]:
    """The predecessors of each, as a forecast of one finds them: one query."""
    recipes = {each.recipe.recipe_id for each in batches if each.recipe}
    ranked = (
        Batch.objects.live()
        .filter(recipe__recipe__in=recipes, pitched_at__isnull=False)
        .annotate(
            place=Window(
                RowNumber(), partition_by="recipe__recipe", order_by=F("pitched_at").desc()
            )
        )
    )
    # The batches asked about stand among the newest themselves.
    newest = ranked.filter(place__lte=MOST_EARLIER + len(batches)).select_related("recipe")
    by_recipe: dict[int, list[Batch]] = defaultdict(list)
    for each in newest.order_by("-pitched_at"):
        by_recipe[each.recipe.recipe_id].append(each)  # type: ignore[union-attr]
    return {
        batch.pk: [
            each
            for each in by_recipe[batch.recipe.recipe_id]  # type: ignore[union-attr]
            if each.pitched_at < batch.pitched_at  # type: ignore[operator]
        ][:MOST_EARLIER]
        for batch in batches
    }
