"""Every calculation, by group, in the order of the work."""

from __future__ import annotations

from brewlog.calculations import (
    acid,
    alcohol,
    bottling,
    brewing,
    carbonation,
    fermenting,
    filling,
    measuring,
    planned_and_filled,
)
from brewlog.calculations.base import Calculation
from brewlog.models import Lot

CALCULATIONS: tuple[Calculation, ...] = (
    *brewing.CALCULATIONS,
    *acid.CALCULATIONS,
    *fermenting.CALCULATIONS,
    *alcohol.CALCULATIONS,
    *carbonation.CALCULATIONS,
    *bottling.CALCULATIONS,
    *planned_and_filled.CALCULATIONS,
    *filling.CALCULATIONS,
    *measuring.CALCULATIONS,
)

BY_SLUG: dict[str, Calculation] = {each.slug: each for each in CALCULATIONS}
if len(BY_SLUG) != len(CALCULATIONS):
    raise ValueError("Two calculations share a slug.")


def about(lot: Lot) -> tuple[Calculation, ...]:
    """The calculations that the records of such a lot can prefill."""
    return tuple(each for each in CALCULATIONS if lot.kind in each.about)
