"""How a lot stands, in words. Worked out from what happened, never stored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from brewlog.domain.blocks import hold_reach
from brewlog.models import Batch, CultureLot, Hold, IngredientLot, Lot
from brewlog.trace import descendant_ids
from brewlog.views.lists import Word


@dataclass(frozen=True)
class KeptBack:
    """Every lot that a hold keeps back now: by its own, or through what it was made from."""

    held: dict[int, list[str]] = field(default_factory=dict)  # lot id -> causes
    reached: set[int] = field(default_factory=set)

    def __contains__(self, lot: int) -> bool:
        return lot in self.held or lot in self.reached

    def word(self, lot: Lot) -> Word | None:
        if lot.pk in self.held:
            return Word(f"held: {', '.join(self.held[lot.pk])}", "stop")
        if lot.pk in self.reached:
            return Word("kept back with its source", "stop")
        return None


def kept_back() -> KeptBack:
    """The holds nobody has lifted and all they reach, short of where they were ended.

    One query where none is open. Holds that were ended at some lot are few, and asked one
    by one.
    """
    held: dict[int, list[str]] = {}
    reached: set[int] = set()
    flowing: set[int] = set()
    open_holds = Hold.objects.live().filter(lifted_at__isnull=True).order_by("id")
    for hold in open_holds.prefetch_related("ends"):
        ended = {end.lot_id for end in hold.ends.all() if not end.is_void}
        if hold.lot_id not in ended:
            held.setdefault(hold.lot_id, []).append(hold.get_cause_display())
        if hold.flows and ended:
            reached |= hold_reach(hold)
        elif hold.flows:
            flowing.add(hold.lot_id)
    return KeptBack(held, reached | (descendant_ids(flowing) if flowing else set()))


def mark_kept_back(lots: Sequence[Any], known: KeptBack | None = None) -> None:
    """Put on each lot what keeps it back, for `standing`; `known` where that was asked before."""
    found = kept_back() if known is None else known
    for lot in lots:
        lot.kept_back = found.word(lot)


def standing(lot: Any) -> Word:
    """How a listed lot stands: needs `on_hand` beside it and `mark_kept_back`."""
    if lot.is_void:
        return Word("voided", "plain")
    return lot.kept_back or stage(lot.detail, lot.on_hand)


def stage(lot: Lot, on_hand: int) -> Word:
    """Where the lot is in its life, holds apart. `on_hand` in its canonical unit."""
    if isinstance(lot, IngredientLot) and lot.acceptance != IngredientLot.Acceptance.ACCEPTED:
        rejected = lot.acceptance == IngredientLot.Acceptance.REJECTED
        return Word(lot.get_acceptance_display(), "stop" if rejected else "look")
    if isinstance(lot, CultureLot) and lot.retired_at is not None:
        return Word("retired")
    if isinstance(lot, Batch) and lot.pitched_at is None:
        return Word("filled, no starter yet" if on_hand > 0 else "planned")
    if on_hand < 0:
        return Word("more gone than the books show", "look")
    if on_hand == 0 and lot.made is not None:
        return Word("used up")
    return Word("fermenting" if isinstance(lot, Batch) else "on hand", "good")
