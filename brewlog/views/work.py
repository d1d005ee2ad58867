"""The order of the work: how the entries are grouped for the person who records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db import models

from brewlog.models import (
    Hold,
    Ingredient,
    IngredientLot,
    LotKind,
    Move,
    RecipeVersion,
    ReviewFlag,
)
from brewlog.views.details import Next


@dataclass(frozen=True)
class WorkGroup:
    """A part of the work and the entries that belong to it, commonest first."""

    title: str
    slugs: tuple[str, ...] = ()


WORK = (
    WorkGroup("Coming in", ("receive", "accept", "reject", "prepare")),
    WorkGroup("Brewing", ("brew", "brew-volume", "batch", "fill", "pitch", "step")),
    WorkGroup(
        "While it ferments",
        ("reading", "condition", "transfer", "use", "lab-result", "alcohol-estimate"),
    ),
    WorkGroup("Starters", ("keep-back", "feed", "pool", "split-backup", "retire", "buy-culture")),
    WorkGroup(
        "Bottling",
        (
            "bottle",
            "bottle-one",
            "line-clearance",
            "bottle-wash",
            "breakage",
            "keep-bottles",
            "pull-bottles",
        ),
    ),
    WorkGroup(
        "Stock and sending out",
        (
            "move",
            "ship",
            "stall-sale",
            "shipment-line",
            "take-back",
            "adjust",
            "count",
            "keg-event",
        ),
    ),
    WorkGroup("Deciding", ("hold", "lift", "settle")),
    WorkGroup("Instruments", ("calibrate", "calibration-point", "instrument")),
    WorkGroup("Recipes", ("recipe", "recipe-version", "approve", "fix-usual")),
    WorkGroup(
        "What we have and whom we deal with",
        (
            "ingredient",
            "supplier",
            "vessel",
            "culture-line",
            "flavour",
            "format",
            "customer",
            "location",
            "keg",
        ),
    ),
    WorkGroup(
        "People and the brewery",
        ("person", "password", "role", "deactivate", "reactivate", "share-device", "brewery"),
    ),
)
# Groups of other apps, which add them when they are loaded.
FURTHER_WORK: list[WorkGroup] = []
# Reached from elsewhere: not work to be recorded.
NOT_LISTED = {"units", "pin"}


def _code(lot: Any) -> str:
    return lot.code


def _next(slug: str, field: str, sensible: Any = lambda lot: True, title: str = "") -> Next:
    return Next(slug, field, title, lambda lot: not lot.is_void and sensible(lot), _code)


def _awaits(lot: Any) -> bool:
    return lot.acceptance == IngredientLot.Acceptance.AWAITING


def _not_rejected(lot: Any) -> bool:
    return lot.acceptance != IngredientLot.Acceptance.REJECTED


def _to_brew_with(lot: Any) -> bool:
    """Nobody brews with bottles and caps."""
    return _not_rejected(lot) and lot.ingredient.kind != Ingredient.Kind.PACKAGING


def _went_cold(lot: Any) -> bool:
    return Move.objects.live().filter(lot=lot.pk, to_location__is_cold=True).exists()


def _still_warm(lot: Any) -> bool:
    return not _went_cold(lot)


def _pitched(lot: Any) -> bool:
    return lot.pitched_at is not None


def _not_pitched(lot: Any) -> bool:
    return lot.pitched_at is None


def _living(lot: Any) -> bool:
    return lot.retired_at is None


def _held(lot: Any) -> bool:
    return lot.holds.live().filter(lifted_at__isnull=True).exists()


_STOCK = (
    _next("adjust", "lot"),
    _next("count", "lot"),
    _next("move", "lot"),
    _next("hold", "lot"),
    _next("lift", "lot", _held),
)

# The first three stand as buttons, the rest behind "More to record".
NOT_FIRST_WHEN_KEPT_BACK = {
    "ship", "stall-sale", "bottle", "pitch", "brew", "prepare", "use", "fill", "transfer", "feed",
    "keep-back", "split-backup",
}  # fmt: skip
NEXT_FOR_LOTS: dict[str, tuple[Next, ...]] = {
    LotKind.INGREDIENT: (
        _next("accept", "lot", _awaits),
        _next("reject", "lot", _awaits),
        _next("brew", "source", _to_brew_with, "Brew with it"),
        _next("prepare", "source", _to_brew_with),
        _next("use", "source", _not_rejected),
        _next("reading", "lot"),
        *_STOCK,
    ),
    LotKind.PREPARATION: (
        _next("reading", "lot"),
        _next("use", "source"),
        _next("step", "lot"),
        *_STOCK,
    ),
    LotKind.CULTURE: (
        _next("condition", "lot"),
        _next("reading", "lot"),
        _next("pitch", "source", _living, "Add it to a batch"),
        _next("feed", "culture", _living),
        _next("split-backup", "culture", _living),
        _next("retire", "culture", _living),
        *_STOCK,
    ),
    LotKind.BREW: (
        _next("step", "lot"),
        _next("brew-volume", "brew", lambda lot: lot.made is None),
        _next("fill", "source", title="Fill a batch from it"),
        _next("reading", "lot"),
        *_STOCK,
    ),
    LotKind.BATCH: (
        _next("reading", "lot", _pitched),
        _next("condition", "lot", _pitched),
        _next("fill", "batch", _not_pitched),
        _next("pitch", "batch", _not_pitched),
        _next("bottle", "source", _pitched),
        _next("keep-back", "batch", _pitched),
        _next("step", "lot"),
        _next("transfer", "source", _pitched),
        _next("lab-result", "lot"),
        _next("alcohol-estimate", "lot"),
        *_STOCK,
    ),
    LotKind.BOTTLING: (
        _next("move", "lot", _still_warm),
        _next("ship", "lot"),
        _next("reading", "lot"),
        _next("move", "lot", _went_cold),
        _next("stall-sale", "lot"),
        _next("lab-result", "lot"),
        _next("take-back", "lot"),
        _next("keep-bottles", "lot"),
        _next("pull-bottles", "lot"),
        _next("line-clearance", "lot"),
        _next("breakage", "lot"),
        _next("bottle-wash", "lot"),
        *(each for each in _STOCK if each.slug != "move"),
    ),
}


def next_for_lot(lot: Any, is_kept_back: bool) -> list[Next]:
    """What can be recorded of a lot; what must not be done with it now comes last.

    Of a lot kept back nothing is as pressing as to measure and to look: no move comes first.
    """
    offered = NEXT_FOR_LOTS[lot.kind]
    if not is_kept_back:
        return list(offered)
    return sorted(
        offered, key=lambda each: (each.slug in NOT_FIRST_WHEN_KEPT_BACK, each.slug == "move")
    )


def _key(record: Any) -> str:
    return str(record.pk)


NEXT_FOR_RECORDS: dict[type[models.Model], tuple[Next, ...]] = {
    ReviewFlag: (Next("settle", "flag", sensible=lambda flag: flag.is_open, value=_key),),
    Hold: (
        Next("lift", "lot", sensible=lambda hold: hold.is_open, value=lambda hold: hold.lot.code),
    ),
    RecipeVersion: (
        Next("approve", "version", sensible=lambda version: not version.is_approved),
        Next("brew", "recipe"),
        Next("batch", "recipe"),
    ),
}
