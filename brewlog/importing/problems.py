"""What is wrong with a cell, a row or a sheet, and where it stands."""

from __future__ import annotations

from dataclasses import asdict, dataclass


@dataclass(frozen=True, order=True)
class Problem:
    """One mistake. `row` is the spreadsheet's own number, 0 for the sheet as a whole."""

    sheet: str
    row: int
    column: str
    value: str
    reason: str

    def as_dict(self) -> dict:
        return asdict(self)


@dataclass(frozen=True, order=True)
class Conflict:
    """A row that was imported before and says something else now. It is never overwritten."""

    sheet: str
    row: int
    column: str
    recorded: str
    now: str

    def as_dict(self) -> dict:
        return asdict(self)
