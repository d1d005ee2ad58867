"""Vessels, and what must not be kept in some of them."""

from __future__ import annotations

from typing import Any

from brewlog.domain import registers
from brewlog.domain.lots import flag
from brewlog.models import Lot, ReviewFlag, User, Vessel
from brewlog.recording import Forbidden
from brewlog.units import Quantity


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


def flag_unsuitable(lot: Lot, why: str) -> None:
    """Put the lot before a reviewer where it was filled into an unsuitable vessel."""
    if why:
        flag(lot, ReviewFlag.Kind.VESSEL, f"filled although {why}")
