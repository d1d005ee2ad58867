"""What the course of a lot is held to, by those who know its limits."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from brewlog.models import Lot


@dataclass(frozen=True)
class CourseLimit:
    """A limit on what is read of a lot, in the measurand's own unit, with its words.

    Where there is a deadline, `within_hours` counts from when the course begins.
    """

    measurand: str
    value: float
    words: str
    within_hours: float | None = None


# Limits that other apps hold a lot to: they add themselves.
LIMITS_OF: list[Callable[[Lot], Iterable[CourseLimit]]] = []
