"""Where in the work a lot stands at a time, worked out from what happened to it."""

from __future__ import annotations

import datetime as dt

from brewlog.models import (
    Batch,
    BottlingLot,
    Checkpoint,
    Lot,
    LotKind,
    LotUse,
    Move,
    Stage,
)
from brewlog.when import When

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
    if batch.pitched_at is None:
        return Stage.SWEET_TEA
    pitched = When(batch.pitched_at, batch.pitched_precision)  # type: ignore[arg-type]
    if when.provably_before(pitched):
        return Stage.SWEET_TEA
    flavoured = LotUse.objects.live().filter(
        into=batch.pk, purpose=LotUse.Purpose.FLAVOURING, happened_at__lte=when.at
    )
    if flavoured.exists():
        return Stage.FLAVOURED
    if not _soon_after(pitched, when, _JUST_PITCHED):
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
