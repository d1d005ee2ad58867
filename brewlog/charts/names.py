"""Where names go on a picture, so that none is written over another and few over a value."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from brewlog.charts import ink
from brewlog.science.errors import Array

# Below and above the line that letters stand on, in letters.
_BELOW, _ABOVE = 0.22, 0.83
# A name over a piece of the curve is as bad as one so many steps farther from its line.
_OVER_THE_CURVE = 3.0
_STEP = 0.4


@dataclass(frozen=True)
class Room:
    """A stretch of the picture, in points."""

    left: float
    low: float
    right: float
    high: float

    def meets(self, other: Room) -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.low < other.high
            and other.low < self.high
        )

    def holds(self, other: Room) -> bool:
        return (
            self.left <= other.left
            and other.right <= self.right
            and self.low <= other.low
            and other.high <= self.high
        )


def room_of(place: ink.Place, text: str, size: float, *, is_bold: bool = False) -> Room:
    """What words that begin at a place take up."""
    left, y = place
    right = left + ink.room_for(text, size, is_bold=is_bold)
    return Room(left, y - size * _BELOW, right, y + size * _ABOVE)


@dataclass(frozen=True)
class LineName:
    """A name to stand beside a level line from `start` to `end` at the height `y`."""

    text: str
    y: float
    start: float
    end: float


def beside_lines(
    names: Sequence[LineName], within: Room, curves: Sequence[Sequence[ink.Place]], size: float
) -> list[ink.Place | None]:
    """Where each name begins: as near to its line as it can, free of the others.

    None where there is no room left at all.
    """
    pieces = _pieces(curves)
    taken: list[Room] = []
    found: list[ink.Place | None] = []
    for name in names:
        best = _best_place(name, within, pieces, taken, size)
        if best is not None:
            taken.append(room_of(best, name.text, size))
        found.append(best)
    return found


def _best_place(
    name: LineName, within: Room, pieces: Array, taken: Sequence[Room], size: float
) -> ink.Place | None:
    """The nearest free place; over the curve only where that is much nearer than beside it."""
    best, least = None, float("inf")
    for cost, place in sorted(_places(name, within, size), key=lambda each: each[0]):
        if cost >= least:
            break
        room = room_of(place, name.text, size)
        if within.holds(room) and not any(room.meets(other) for other in taken):
            whole = cost + _OVER_THE_CURVE * _crossed(room, pieces)
            if whole < least:
                best, least = place, whole
    return best


def _places(name: LineName, within: Room, size: float) -> Iterator[tuple[float, ink.Place]]:
    """Places to try, each with how far it is from the best: at the line's end, just above it."""
    room = ink.room_for(name.text, size)
    end = max(within.left + 1, min(name.end, within.right) - room - 2)
    start = min(max(within.left, name.start) + 3, max(within.left + 1, within.right - room - 1))
    steps = int((within.high - within.low) / (size * _STEP)) + 1
    for number, x in enumerate((end, start, (start + end) / 2)):
        for step in range(steps):
            for way in (-1, 1) if step else (1,):
                y = name.y + size * (0.35 + way * step * _STEP)
                yield step + 0.1 * number, (x, y)


def _pieces(curves: Sequence[Sequence[ink.Place]]) -> Array:
    """Every straight piece of the curves: where it begins and ends."""
    found = [
        (*start, *end)
        for curve in curves
        for start, end in pairwise([curve[0], *curve] if curve else [])
    ]
    return np.array(found, dtype=float).reshape(-1, 4)


def _crossed(room: Room, pieces: Array) -> int:
    """How many of the pieces run through the room."""
    starts, ways = pieces[:, :2], pieces[:, 2:] - pieces[:, :2]
    low, high = np.array([room.left, room.low]), np.array([room.right, room.high])
    # The shares of its way at which a piece enters and leaves the room, along each side.
    with np.errstate(divide="ignore", invalid="ignore"):
        first, last = (low - starts) / ways, (high - starts) / ways
    level = ways == 0
    inside = (starts > low) & (starts < high)
    enters = np.where(level, np.where(inside, -np.inf, np.inf), np.minimum(first, last))
    leaves = np.where(level, np.where(inside, np.inf, -np.inf), np.maximum(first, last))
    begins = np.maximum(enters.max(axis=1, initial=0.0), 0.0)
    ends = np.minimum(leaves.min(axis=1, initial=1.0), 1.0)
    return int((begins <= ends).sum())
