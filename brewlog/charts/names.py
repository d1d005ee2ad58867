"""Where names go on a picture, so that none is written over another and few over a value."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from brewlog.charts import ink

# Below and above the line that letters stand on, in letters.
_BELOW, _ABOVE = 0.22, 0.83
# A name over the curve is as bad as one so many steps away from its line.
_OVER_A_VALUE = 0.5
_STEP = 0.4
# So many places of the curve between one value and the next.
_BETWEEN = 6


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
    values = _along(curves)
    taken: list[Room] = []
    found: list[ink.Place | None] = []
    for name in names:
        free = [
            (cost + _OVER_A_VALUE * _count_in(room, values), number, place)
            for number, (cost, place) in enumerate(_places(name, within, size))
            if within.holds(room := room_of(place, name.text, size))
            and not any(room.meets(other) for other in taken)
        ]
        best = min(free)[2] if free else None
        if best is not None:
            taken.append(room_of(best, name.text, size))
        found.append(best)
    return found


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


def _along(curves: Sequence[Sequence[ink.Place]]) -> np.ndarray:
    """Places along the curves, close enough together that no name slips in between."""
    shares = np.linspace(0.0, 1.0, _BETWEEN, endpoint=False)[:, None, None]
    parts = []
    for curve in curves:
        places = np.array(curve, dtype=float).reshape(-1, 2)
        between = places[:-1] + shares * (places[1:] - places[:-1])
        parts += [between.reshape(-1, 2), places[-1:]]
    return np.concatenate(parts) if parts else np.empty((0, 2))


def _count_in(room: Room, values: np.ndarray) -> int:
    x, y = values[:, 0], values[:, 1]
    inside = (x > room.left) & (x < room.right) & (y > room.low) & (y < room.high)
    return int(inside.sum())
