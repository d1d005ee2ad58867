"""Where in the work a lot stands at a time, worked out from what happened to it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Q

from brewlog.models import (
    Batch,
    BottlingLot,
    Checkpoint,
    Lot,
    LotKind,
    LotUse,
    Move,
    ShipmentLine,
    Stage,
)
from brewlog.when import Precision, When

# How long a reading still belongs to what has just been done (common practice).
_JUST_PITCHED = dt.timedelta(hours=2)
_JUST_BOTTLED = dt.timedelta(hours=12)
_JUST_ARRIVED = dt.timedelta(days=1)


def usual_stage(lot: Lot | None, measurand: str, when: When) -> str:
    """The stage a reading of the lot belongs to where none is named.

    A place, or a lot that only lies there, is in storage.
    """
    if lot is None or lot.kind == LotKind.PREPARATION:
        return Stage.STORAGE
    if lot.kind == LotKind.INGREDIENT:
        return Stage.ARRIVAL if _soon_after(lot.when, when, _JUST_ARRIVED) else Stage.STORAGE
    if lot.kind == LotKind.CULTURE:
        return Stage.STARTER
    if lot.kind == LotKind.BREW:
        return Stage.SWEET_TEA
    detail = lot.detail
    if isinstance(detail, Batch):
        return _stage_of_batch(detail, measurand, when)
    assert isinstance(detail, BottlingLot)
    return _stage_of_bottles(detail, when)


def _soon_after(begun: When, when: When, span: dt.timedelta) -> bool:
    return when.at < begun.ends + span


def _stage_of_batch(batch: Batch, measurand: str, when: When) -> str:
    started = pitched(batch)
    if started is None:
        return Stage.SWEET_TEA
    if when.provably_before(started):
        return Stage.SWEET_TEA
    flavoured = LotUse.objects.live().filter(
        into=batch.pk, purpose=LotUse.Purpose.FLAVOURING, happened_at__lte=when.at
    )
    if flavoured.exists():
        return Stage.FLAVOURED
    if not _soon_after(started, when, _JUST_PITCHED):
        return Stage.FERMENT
    since = Checkpoint.objects.live().filter(
        lot=batch.pk, measurand=measurand, stage=Stage.PITCH, happened_at__lt=when.at
    )
    return Stage.FERMENT if since.exists() else Stage.PITCH


def _stage_of_bottles(bottles: BottlingLot, when: When) -> str:
    if _soon_after(bottles.when, when, _JUST_BOTTLED):
        return Stage.BOTTLING
    to_cold = Move.objects.live().filter(
        lot=bottles.pk, to_location__is_cold=True, happened_at__lte=when.at
    )
    worked_in_bottle = bottles.carbonation in {
        BottlingLot.Carbonation.NATURAL,
        BottlingLot.Carbonation.MIXED,
    }
    if worked_in_bottle and not to_cold.exists():
        return Stage.CONDITIONING
    return Stage.FINISHED


# The course of a lot -----------------------------------------------------------------------

STARTER_ADDED = "starter added"
FLAVOURED = "flavoured"
KEPT_BACK = "starter kept back"
BOTTLED = "bottled"
TO_COLD = "moved to cold"
SHIPPED = "shipped"
_USED = {LotUse.Purpose.DRINK: BOTTLED, LotUse.Purpose.CULTURE: KEPT_BACK}


@dataclass(frozen=True)
class Happening:
    """Something that took a lot on in its life, in a word, and when."""

    words: str
    when: When


def pitched(batch: Batch) -> When | None:
    """When starter was added; None where it was not yet."""
    if batch.pitched_at is None:
        return None
    return When(batch.pitched_at, Precision(batch.pitched_precision))


def happenings(lot: Lot) -> list[Happening]:
    """What took the lot on since it began, in the order of time. Three queries."""
    found: set[Happening] = set()
    detail = lot.detail
    started = pitched(detail) if isinstance(detail, Batch) else None
    if started is not None:
        found.add(Happening(STARTER_ADDED, started))
    uses = LotUse.objects.live().filter(
        Q(source=lot.pk, purpose__in=list(_USED))
        | Q(into=lot.pk, purpose=LotUse.Purpose.FLAVOURING)
    )
    for use in uses:
        out = use.source_id == lot.pk
        words = _USED[LotUse.Purpose(use.purpose)] if out else FLAVOURED
        found.add(Happening(words, use.when))
    moves = Move.objects.live().filter(lot=lot.pk, to_location__is_cold=True)
    found |= {Happening(TO_COLD, move.when) for move in moves}
    lines = ShipmentLine.objects.live().filter(lot=lot.pk).select_related("shipment")
    found |= {Happening(SHIPPED, line.shipment.when) for line in lines}
    return sorted(found, key=lambda each: (each.when, each.words))
