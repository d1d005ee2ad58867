"""A hold that stood on a slip of the finger goes with it: the reading is voided, with a reason."""

from __future__ import annotations

from collections.abc import Iterable

from brewlog.domain.lots import flag, void
from brewlog.models import Checkpoint, Hold, LabResult, Lot, ReviewFlag, User
from brewlog.recording import recording
from compliance.assessment import assess
from compliance.models import Deviation


def clear_mistyped(lots: Iterable[Lot], actor: User) -> list[Hold]:
    """Void each hold a critical limit set that no longer stands, as what it stood on was voided.

    A hold someone has begun to decide about stays. The reviewer is told of each by a flag.
    """
    return [hold for lot in lots for hold in _clear(lot, actor)]


def _clear(lot: Lot, actor: User) -> list[Hold]:
    set_by_limits = Deviation.objects.live().filter(
        kind=Deviation.Kind.LIMIT,
        hold__lot=lot.pk,
        hold__voided_at__isnull=True,
        hold__lifted_at__isnull=True,
    )
    opened = [each for each in set_by_limits.select_related("hold") if not _is_decided_on(each)]
    if not opened:
        return []
    standing = {each.limit.pk for each in assess([lot]).findings if each.is_critical}
    cleared = []
    for deviation in opened:
        voided = _voided_since(deviation)
        if voided is not None and deviation.limit_id not in standing:
            cleared.append(_void_all(deviation, voided, actor))
    return cleared


def _is_decided_on(deviation: Deviation) -> bool:
    hold = deviation.hold
    assert hold is not None
    return (
        deviation.corrections.live().exists()
        or hold.dispositions.live().exists()
        or hold.market_decisions.live().exists()
        or hold.ends.live().exists()
    )


def _voided_since(deviation: Deviation) -> Checkpoint | LabResult | None:
    """What was measured before the hold was written, and struck out since."""
    hold, limit = deviation.hold, deviation.limit
    assert hold is not None
    assert limit is not None
    for model in (Checkpoint, LabResult):
        found = model.objects.filter(
            lot=hold.lot_id,
            measurand=limit.measurand,
            recorded_at__lte=hold.recorded_at,
            voided_at__gte=hold.recorded_at,
        )
        newest = found.order_by("-voided_at").first()
        if newest is not None:
            return newest
    return None


def _void_all(deviation: Deviation, voided: Checkpoint | LabResult, actor: User) -> Hold:
    hold = deviation.hold
    assert hold is not None
    why = f"it stood on {voided}, voided: {voided.void_reason}"
    with recording(actor, why):
        for link in deviation.lots.live():
            void(actor=actor, record=link, reason=why)
        void(actor=actor, record=deviation, reason=why)
        void(actor=actor, record=hold, reason=why)
        told = f"{voided} was voided ({voided.void_reason}), and the hold it had set with it"
        flag(hold.lot, ReviewFlag.Kind.CONDITION, told)
    return hold
