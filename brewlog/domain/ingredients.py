"""Receiving, deciding on what was received, and preparing it in the house."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils import timezone

from brewlog.domain.lots import Draw, check_code, refuse_future, save_changed, save_new, use_lots
from brewlog.models import (
    Ingredient,
    IngredientLot,
    Lot,
    LotKind,
    PreparationLot,
    Supplier,
    User,
)
from brewlog.recording import Refused, recording
from brewlog.units import Dimension, Quantity
from brewlog.when import When


def receive(
    *,
    actor: User,
    ingredient: Ingredient,
    quantity: Quantity,
    when: When,
    code: str = "",
    supplier: Supplier | None = None,
    done_by: User | None = None,
    accepted: bool = False,
    reason: str = "",
    note: str = "",
    **facts: Any,
) -> IngredientLot:
    """Write down a delivery as a lot of its ingredient.

    `facts` are the receiving data elements (21 CFR 1.1345, 1.337) by field name. The
    lot awaits a decision unless `accepted` says it was looked at and taken in.
    Home-grown or foraged goods name a place instead of a supplier. Raises `Refused`.
    """
    refuse_future(when)
    _refuse_wrong_dimension(ingredient, quantity)
    if supplier is None and not facts.get("picked_at_place"):
        raise Refused(
            {"supplier": "Name the supplier, or the place it was picked if it was not bought."}
        )
    with recording(actor, reason):
        lot = IngredientLot(
            kind=LotKind.INGREDIENT,
            code=check_code(code, LotKind.INGREDIENT, when),
            dimension=ingredient.dimension,
            made=quantity.canonical,
            made_text=quantity.text,
            ingredient=ingredient,
            supplier=supplier,
            done_by=done_by or actor,
            note=note,
            **facts,
        )
        lot.when = when
        if accepted:
            _decide(lot, IngredientLot.Acceptance.ACCEPTED, "on arrival", actor, when.at)
        save_new(lot)
        return lot


def _refuse_wrong_dimension(ingredient: Ingredient, quantity: Quantity) -> None:
    if quantity.canonical <= 0:
        raise Refused({"quantity": "Nothing was received. Write an amount of more than nothing."})
    if quantity.dimension != ingredient.dimension:
        raise Refused(
            {
                "quantity": f"{ingredient} is counted by {ingredient.dimension}, and "
                f"{quantity} is a {quantity.dimension}."
            }
        )


def _decide(
    lot: IngredientLot, decision: str, why: str, actor: User, at: dt.datetime | None = None
) -> None:
    lot.acceptance = decision
    lot.acceptance_reason = why
    lot.decided_at = at or timezone.now()
    lot.decided_by = actor


def accept(
    *,
    actor: User,
    lot: Lot,
    reason: str,
    when: When | None = None,
    done_by: User | None = None,
) -> IngredientLot:
    """Take a delivery into use. Raises `Refused` where that was decided before."""
    return _settle(actor, lot, IngredientLot.Acceptance.ACCEPTED, reason, when, done_by)


def reject(
    *,
    actor: User,
    lot: Lot,
    reason: str,
    when: When | None = None,
    done_by: User | None = None,
) -> IngredientLot:
    """Turn a delivery down: it cannot be used any more."""
    if not reason.strip():
        raise Refused({"reason": "Say what is wrong with it."})
    return _settle(actor, lot, IngredientLot.Acceptance.REJECTED, reason, when, done_by)


def _settle(
    actor: User, lot: Lot, decision: str, reason: str, when: When | None, done_by: User | None
) -> IngredientLot:
    found = lot.detail
    if not isinstance(found, IngredientLot):
        raise Refused({"lot": f"{lot} is a {lot.get_kind_display()}, not a delivery."})
    if when is not None:
        refuse_future(when)
        if when.provably_before(found.when):
            raise Refused({"when": f"{lot} came {found.when}; nothing was decided on it before."})
    with recording(actor, reason):
        found.reread()
        if found.acceptance == decision:
            raise Refused({"lot": f"{lot} is {found.get_acceptance_display()} already."})
        why = reason.strip() or "looked at"
        _decide(found, decision, why, done_by or actor, when.at if when else None)
        save_changed(found)
        return found


def prepare(
    *,
    actor: User,
    name: str,
    preparation_kind: str,
    quantity: Quantity,
    when: When,
    lines: list[Draw] | None = None,
    code: str = "",
    treatment: str = "",
    storage: str = "",
    use_by: dt.date | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> PreparationLot:
    """Make a syrup, juice, purée or infusion from ingredient lots, as a lot of its own.

    `lines` may be empty for a preparation whose uses are written separately.
    """
    refuse_future(when)
    if quantity.canonical <= 0:
        raise Refused({"quantity": "Nothing was made. Write how much came of it."})
    if quantity.dimension == Dimension.COUNT:
        raise Refused({"quantity": "Write a preparation by weight or volume, like 3 L or 2 kg."})
    with recording(actor, reason):
        lot = PreparationLot(
            kind=LotKind.PREPARATION,
            code=check_code(code, LotKind.PREPARATION, when),
            dimension=quantity.dimension,
            made=quantity.canonical,
            made_text=quantity.text,
            name=name,
            preparation_kind=preparation_kind,
            treatment=treatment,
            storage=storage,
            use_by=use_by,
            done_by=done_by or actor,
            note=note,
        )
        lot.when = when
        save_new(lot)
        if lines:
            use_lots(
                actor=actor,
                into=lot,
                lines=lines,
                when=when,
                done_by=done_by,
                already_done=already_done,
            )
        return lot
