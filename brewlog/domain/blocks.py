"""What keeps a lot back: from being used, bottled, labelled for sale or sent out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass

from brewlog.domain.asking import Intent, ask, asked_at_once, further_blocks
from brewlog.models import ConditionCheck, CultureLot, Hold, IngredientLot, Lot, LotKind
from brewlog.recording import Forbidden
from brewlog.trace import ancestor_ids, descendant_ids_short_of
from brewlog.when import When


@dataclass(frozen=True)
class Block:
    """Why a lot must not be used, bottled, labelled for sale or shipped."""

    lot: Lot
    because: Lot
    text: str


def blocks(lot: Lot) -> list[Block]:
    """Everything that keeps the lot back, its own first. Empty where nothing does.

    An open hold on the lot; an open hold that flows (mould, failed acidification, foreign
    matter, allergen) on anything it was made from; a rejected delivery or a retired culture.
    """
    found = _own_blocks(lot)
    open_holds = Hold.objects.live().filter(lifted_at__isnull=True).select_related("lot")
    elsewhere = []
    for hold in open_holds.prefetch_related("ends"):
        if hold.lot_id == lot.pk and not _ends_at(hold, lot):
            text = f"{lot} is on hold: {hold.get_cause_display()} ({hold.reason})"
            found.append(Block(lot, lot, text))
        elif hold.flows and hold.lot_id != lot.pk:
            elsewhere.append(hold)
    ancestors = ancestor_ids([lot.pk]) if elsewhere else set()
    found += [
        Block(lot, hold.lot, f"made from {hold.lot}, held: {hold.get_cause_display()}")
        for hold in elsewhere
        if hold.lot_id in ancestors and (not _ends(hold) or lot.pk in hold_reach(hold))
    ]
    return found


def hold_reach(hold: Hold) -> set[int]:
    """The ids of the lots a hold keeps back: its own and, where the cause flows, all that was
    made from it, except through lots at which it was ended."""
    if not hold.flows:
        return {hold.lot_id} - _ends(hold)
    return descendant_ids_short_of([hold.lot_id], _ends(hold))


def _ends(hold: Hold) -> set[int]:
    return {end.lot_id for end in hold.ends.all() if not end.is_void}


def _ends_at(hold: Hold, lot: Lot) -> bool:
    return lot.pk in _ends(hold)


def _own_blocks(lot: Lot) -> list[Block]:
    found = []
    if lot.is_void:
        found.append(Block(lot, lot, f"{lot} was voided: {lot.void_reason}"))
    if lot.kind == LotKind.INGREDIENT:
        detail = lot.detail
        assert isinstance(detail, IngredientLot)
        if detail.acceptance == IngredientLot.Acceptance.REJECTED:
            found.append(Block(lot, lot, f"{lot} was rejected: {detail.acceptance_reason}"))
    if lot.kind == LotKind.CULTURE:
        detail = lot.detail
        assert isinstance(detail, CultureLot)
        if detail.retired_at is not None:
            found.append(Block(lot, lot, f"{lot} is retired: {detail.retire_reason}"))
    if lot.kind in {LotKind.CULTURE, LotKind.BATCH}:
        found += _doubtful(lot)
    return found


def _doubtful(lot: Lot) -> list[Block]:
    """Whoever looked last was not sure whether it was mould, or found it suspect: it waits
    until it is looked at again."""
    last = ConditionCheck.objects.live().filter(lot=lot.pk).order_by("happened_at", "id").last()
    if last is None:
        return []
    if last.mould == ConditionCheck.Mould.UNSURE:
        return [Block(lot, lot, f"{lot} may be mouldy, seen on {last.when}: look again first")]
    seen_mould = last.mould == ConditionCheck.Mould.MOULD  # has its hold
    if last.verdict == ConditionCheck.Verdict.SUSPECT and not seen_mould:
        return [Block(lot, lot, f"{lot} was found suspect on {last.when}: look again first")]
    return []


def all_blocks(lot: Lot, doing: str) -> list[Block]:
    """What keeps the lot back from something ("used", "sent out"...), by the records and by
    what is found in them at this moment."""
    return blocks(lot) + further_blocks(Intent(lot, doing))


def kept_from(lots: Sequence[Lot], doing: str) -> set[int]:
    """The keys of those lots that anything keeps back from it, asked of all together."""
    further = ask([Intent(lot, doing) for lot in lots])
    return {lot.pk for lot in lots if further[lot.pk, doing] or blocks(lot)}


def refuse_blocked(lot: Lot, when: When, *, doing: str, already_done: bool, field: str) -> str:
    """What to flag when a lot that is kept back was used all the same; '' where it is free.

    Raises `Forbidden` for what is still to happen. A culture retired after the use was
    free when it was used.
    """
    found = blocks(lot) if already_done else all_blocks(lot, doing)
    if lot.kind == LotKind.CULTURE and found:
        retired_at = lot.detail.retired_at  # type: ignore[attr-defined]
        if retired_at is not None and when.at < retired_at:
            found = [block for block in found if "is retired" not in block.text]
    if not found:
        return ""
    why = "; ".join(block.text for block in found)
    if already_done:
        return f"{doing} although {why}"
    raise Forbidden(
        {
            field: f"{lot} must not be {doing}: {why}. Keep it apart and ask the reviewer. "
            "If it has happened already, tick 'this has already happened': it is recorded "
            "as it was and a reviewer looks at it."
        }
    )


def uses_asked(
    sources: Iterable[Lot], into: Iterable[Lot], already_done: bool
) -> AbstractContextManager[None]:
    """Inside, what is found about the lots that are used together is known: asked once.

    Nothing is asked of what has happened, or where nothing is used.
    """
    used = [Intent(lot, "used") for lot in sources]
    added_to = [Intent(lot, "added to") for lot in into]
    return asked_at_once([*used, *added_to] if used and not already_done else [])
