"""Every list, in the order the index of records shows them."""

from __future__ import annotations

from brewlog.views.lists import Listing
from brewlog.views.nouns import going_out, lots, measured, registers, waiting

LISTINGS: tuple[Listing, ...] = (
    lots.BATCHES,
    lots.BOTTLINGS,
    lots.CULTURES,
    lots.BREWS,
    lots.INGREDIENT_LOTS,
    lots.PREPARATIONS,
    lots.LOTS,
    waiting.HOLDS,
    waiting.FLAGS,
    waiting.KEPT_BOTTLES,
    measured.READINGS,
    measured.CONDITION_CHECKS,
    measured.LAB_RESULTS,
    measured.ADJUSTMENTS,
    measured.MOVES,
    measured.CALIBRATIONS,
    measured.USUAL_RUNS,
    going_out.SHIPMENTS,
    going_out.CUSTOMERS,
    going_out.KEGS,
    going_out.LOCATIONS,
    registers.RECIPES,
    registers.INGREDIENTS,
    registers.SUPPLIERS,
    registers.VESSELS,
    registers.INSTRUMENTS,
    registers.BUFFER_BOTTLES,
    registers.CULTURE_LINES,
    registers.FLAVOURS,
    registers.FORMATS,
    registers.PEOPLE,
    registers.SHARED_DEVICES,
)
# Lists of other apps, which add them when they are loaded and have the addresses for them.
FURTHER_LISTINGS: list[Listing] = []
