"""Every sheet there is, in the order in which rows of one moment are recorded."""

from __future__ import annotations

from collections.abc import Iterable

from brewlog.importing.sheet import Sheet, loose
from brewlog.importing.sheets import (
    bottling,
    charts,
    checks,
    people,
    recipes,
    registers,
    shipping,
    work,
)

SHEETS: list[Sheet] = [
    people.BREWERY,
    people.PEOPLE,
    *registers.SHEETS,
    *recipes.SHEETS,
    *checks.CALIBRATIONS,
    *work.SHEETS,
    *bottling.SHEETS,
    *checks.SHEETS,
    *shipping.SHEETS,
    *charts.SHEETS,
    *checks.HOLDS,
    *work.RETIRED,
]

# These are recorded before the others are read: the clock and the dates' order hold for them.
FIRST: tuple[Sheet, ...] = (people.BREWERY,)

BY_NAME: dict[str, Sheet] = {sheet.name: sheet for sheet in SHEETS}
if len({loose(name) for name in BY_NAME}) != len(SHEETS):
    raise ValueError("Two sheets share a name.")


def add_sheets(sheets: Iterable[Sheet]) -> None:
    """Take in another app's sheets. Raises `ValueError` where a name is taken."""
    for sheet in sheets:
        if loose(sheet.name) in {loose(name) for name in BY_NAME}:
            raise ValueError(f"Two sheets are called '{sheet.name}'.")
        BY_NAME[sheet.name] = sheet
        SHEETS.append(sheet)
