"""What can never have happened to a lot, whatever the verb."""

from __future__ import annotations

from brewlog.models import BottlingLot, Lot
from brewlog.recording import Refused
from brewlog.units import Quantity
from brewlog.when import When


def refuse_void(lot: Lot, field: str = "lot") -> None:
    """Nothing more is written of a lot that was struck out."""
    if lot.is_void:
        raise Refused({field: f"{lot} was voided: {lot.void_reason}. Name another lot."})


def refuse_before(lot: Lot, when: When) -> None:
    """Nothing has happened to a lot before it came to exist."""
    if when.provably_before(lot.when):
        raise Refused(
            {
                "when": f"{lot} did not exist before {lot.when}; this says {when}. "
                "Mend the time, or name another lot."
            }
        )


def refuse_amount(lot: Lot, quantity: Quantity, field: str = "quantity") -> None:
    """An amount is more than nothing, and counted as its lot is."""
    if quantity.canonical <= 0:
        raise Refused({field: f"{lot}: write an amount of more than nothing."})
    refuse_dimension(lot, quantity, field)


def refuse_dimension(lot: Lot, quantity: Quantity, field: str = "quantity") -> None:
    """An amount is counted as its lot is."""
    if quantity.dimension != lot.dimension:
        raise Refused(
            {
                field: f"{lot} is counted by {lot.dimension}, and {quantity} is a "
                f"{quantity.dimension}. Write the amount by {lot.dimension}."
            }
        )


def bottles_of(lot: Lot, field: str = "lot") -> BottlingLot:
    """The lot as bottles. Raises `Refused` where it is something else or was voided."""
    refuse_void(lot, field)
    found = lot.detail
    if not isinstance(found, BottlingLot):
        raise Refused(
            {field: f"{lot} is a {lot.get_kind_display()}, not bottles. Name a bottling lot."}
        )
    return found
