"""Bottles of pH buffer: what a meter is calibrated in."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from brewlog.domain import registers
from brewlog.models import BufferBottle, Supplier, User
from brewlog.recording import Refused

# Farther apart than any buffer moves with its temperature, nearer than two kinds are to each
# other, but for 6.86 and 7.00 (common practice).
_SAME_BUFFER = Decimal("0.6")


@dataclass(frozen=True)
class NewBottle:
    """A bottle named for the first time where a meter is calibrated in it."""

    nominal_ph: Decimal
    maker_lot: str
    expires_on: dt.date

    def __str__(self) -> str:
        return f"pH {self.nominal_ph.normalize():f} lot {self.maker_lot}"


def add_bottle(
    *,
    actor: User,
    name: str,
    nominal_ph: Decimal,
    expires_on: dt.date,
    maker_lot: str = "",
    supplier: Supplier | None = None,
    opened_on: dt.date | None = None,
    note: str = "",
    in_use: bool = True,
    reason: str = "",
) -> BufferBottle:
    """Put a bottle of buffer on the shelf. Raises `Refused` by field."""
    if opened_on is not None and opened_on > expires_on:
        raise Refused({"opened_on": "It was opened after its date. Check both days."})
    return registers.add(
        actor=actor,
        model=BufferBottle,
        name=name,
        nominal_ph=nominal_ph,
        expires_on=expires_on,
        maker_lot=maker_lot,
        supplier=supplier,
        opened_on=opened_on,
        note=note,
        in_use=in_use,
        reason=reason,
    )


def bottle_for(actor: User, bottle: BufferBottle | NewBottle, reference: Decimal) -> BufferBottle:
    """The bottle of a point, put on the shelf where it is named for the first time.

    Raises `Refused` where the point's reference is not of that buffer.
    """
    if abs(bottle.nominal_ph - reference) > _SAME_BUFFER:
        raise Refused(
            {
                "bottle": f"{bottle} is of pH {bottle.nominal_ph.normalize():f}; the reference "
                f"says {reference.normalize():f}. Name the other bottle, or mend the reference."
            }
        )
    if isinstance(bottle, BufferBottle):
        return bottle
    return add_bottle(actor=actor, name=str(bottle), **vars(bottle))
