"""The order of the work: how the entries are grouped for the person who records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from brewlog.models import IngredientLot, LotKind
from brewlog.views.details import Next


@dataclass(frozen=True)
class WorkGroup:
    """A part of the work and the entries that belong to it, commonest first."""

    title: str
    slugs: tuple[str, ...] = ()


WORK = (
    WorkGroup("Coming in", ("receive", "accept", "reject", "prepare")),
    WorkGroup("Brewing", ("brew", "brew-volume", "batch", "fill", "pitch", "step")),
    WorkGroup("While it ferments", ("reading", "check", "transfer", "use")),
    WorkGroup(
        "Starters",
        ("keep-back", "feed", "pool", "split-backup", "retire", "buy-culture", "culture-line"),
    ),
    WorkGroup("Recipes", ("recipe", "recipe-version", "approve")),
    WorkGroup("What we have", ("ingredient", "supplier", "vessel")),
)


def _code(lot: Any) -> str:
    return lot.code


def _next(slug: str, field: str, sensible: Any = lambda lot: True, title: str = "") -> Next:
    return Next(slug, field, title, lambda lot: not lot.is_void and sensible(lot), _code)


def _awaits(lot: Any) -> bool:
    return lot.acceptance == IngredientLot.Acceptance.AWAITING


def _not_rejected(lot: Any) -> bool:
    return lot.acceptance != IngredientLot.Acceptance.REJECTED


def _pitched(lot: Any) -> bool:
    return lot.pitched_at is not None


def _not_pitched(lot: Any) -> bool:
    return lot.pitched_at is None


def _living(lot: Any) -> bool:
    return lot.retired_at is None


_ALWAYS = (
    _next("adjust", "lot"),
    _next("move", "lot"),
    _next("hold", "lot"),
    _next("lift", "lot"),
)

NEXT_FOR_LOTS: dict[str, tuple[Next, ...]] = {
    LotKind.INGREDIENT: (
        _next("accept", "lot", _awaits),
        _next("reject", "lot", _not_rejected),
        _next("use", "source", _not_rejected),
        _next("prepare", "source", _not_rejected),
        *_ALWAYS,
    ),
    LotKind.PREPARATION: (
        _next("use", "source"),
        _next("reading", "lot"),
        _next("step", "lot"),
        *_ALWAYS,
    ),
    LotKind.CULTURE: (
        _next("condition", "lot"),
        _next("reading", "lot"),
        _next("pitch", "source", _living, "Add to a batch"),
        _next("feed", "culture", _living),
        _next("split-backup", "culture", _living),
        _next("retire", "culture", _living),
        *_ALWAYS,
    ),
    LotKind.BREW: (
        _next("step", "lot"),
        _next("reading", "lot"),
        _next("brew-volume", "brew", lambda lot: lot.made is None),
        _next("fill", "source", title="Fill a batch from it"),
        *_ALWAYS,
    ),
    LotKind.BATCH: (
        _next("reading", "lot", _pitched),
        _next("condition", "lot", _pitched),
        _next("fill", "batch", _not_pitched),
        _next("pitch", "batch", _not_pitched),
        _next("step", "lot"),
        _next("keep-back", "batch", _pitched),
        _next("bottle", "source", _pitched),
        _next("transfer", "source", _pitched),
        *_ALWAYS,
    ),
    LotKind.BOTTLING: (
        _next("reading", "lot"),
        _next("ship", "lot"),
        _next("lab-result", "lot"),
        *_ALWAYS,
    ),
}
