"""Vessels, and what must not be kept in some of them."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from brewlog.domain import registers
from brewlog.domain.lots import flag
from brewlog.ledger import on_hand, with_on_hand
from brewlog.models import Batch, CultureLot, Lot, ReviewFlag, User, Vessel
from brewlog.recording import Forbidden, Refused
from brewlog.units import LEAST_MEASURED, Dimension, Quantity, show_quantity

# A vessel with less in it by the books is empty.
_LEAST = LEAST_MEASURED[Dimension.VOLUME]


def add_vessel(
    *, actor: User, name: str, material: str, capacity: Quantity | None = None, **fields: Any
) -> Vessel:
    """Add a vessel to the register. An unsuitable one may stand there; it may not be filled."""
    return registers.add(
        actor=actor,
        model=Vessel,
        name=name,
        material=material,
        capacity=capacity.canonical if capacity else None,
        capacity_text=capacity.text if capacity else "",
        **fields,
    )


def open_batches() -> QuerySet[Batch]:
    """Batches with something in the vessel, or planned, the newest first."""
    batches = with_on_hand(Batch.objects.live())
    return batches.exclude(on_hand__lt=_LEAST, pitched_at__isnull=False).order_by("-lot_id")


def open_cultures() -> QuerySet[CultureLot]:
    """Starters there is something of, and not retired, the newest first."""
    cultures = with_on_hand(CultureLot.objects.live().filter(retired_at__isnull=True))
    return cultures.filter(on_hand__gte=_LEAST).order_by("-lot_id")


def lots_in(vessel: Vessel) -> list[Batch | CultureLot]:
    """What is in a vessel now by the books, batches first."""
    return [*open_batches().filter(vessel=vessel), *open_cultures().filter(vessel=vessel)]


def refuse_unsuitable(vessel: Vessel | None, *, already_done: bool, field: str = "vessel") -> str:
    """What to flag about a vessel acid drink must not be kept in; '' for a suitable one.

    Raises `Forbidden` while it is intent.
    """
    if vessel is None or not vessel.is_unsuitable:
        return ""
    why = f"{vessel} is {vessel.get_material_display()}: acid draws lead and metals out of it"
    if already_done:
        return why
    raise Forbidden(
        {
            field: f"{why}. Use glass, stainless steel or food-grade plastic. If it is in "
            "there already, tick 'this has already happened' and keep the lot apart."
        }
    )


def refuse_overfull(vessel: Vessel | None, quantity: Quantity | None, field: str) -> None:
    """More than a vessel holds was never in it. A twentieth is left for how vessels are read."""
    if vessel is None or vessel.capacity is None or quantity is None:
        return
    if quantity.canonical > vessel.capacity * 21 // 20:
        raise Refused(
            {field: f"{vessel} holds {vessel.capacity_text}; {quantity} does not go into it."}
        )


def refuse_occupied(vessel: Vessel | None, *, already_done: bool) -> str:
    """What to flag about a vessel that still holds another batch by the books; '' where none.

    A tenth of what it was is left for sediment that nobody wrote off. Raises `Forbidden`
    while it is intent: the drink would mix.
    """
    if vessel is None:
        return ""
    batches = vessel.batches.live().filter(made__gt=0).order_by("-happened_at")[:5]  # type: ignore[attr-defined]
    there = on_hand([batch.pk for batch in batches])
    for batch in batches:
        left = there[batch.pk]
        if left * 10 > (batch.made or 0):
            why = f"{vessel} still holds {show_quantity(left, batch.dimension)} of {batch}"
            if already_done:
                return why
            raise Forbidden(
                {
                    "vessel": f"{why} by the books. Write what became of it first: bottled, moved "
                    "or lost. If the vessel was empty all the same, tick 'this has already "
                    "happened'."
                }
            )
    return ""


def flag_unsuitable(lot: Lot, why: str) -> None:
    """Put the lot before a reviewer where it was filled into an unsuitable vessel."""
    if why:
        flag(lot, ReviewFlag.Kind.VESSEL, f"filled although {why}")
