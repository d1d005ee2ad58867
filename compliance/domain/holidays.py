"""Working days, and the days the brewery keeps free.

Records are reviewed within seven working days of being made (21 CFR 117.165(a)(4), from
memory). It does not say which days those are: here Monday to Friday but the brewery's holidays.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from brewlog.domain.lots import save_new
from brewlog.models import User
from brewlog.recording import Refused, recording
from compliance.models import Holiday


@dataclass(frozen=True)
class DayOff:
    """A day and what it is called."""

    day: dt.date
    name: str


def keep_holidays(*, actor: User, days: Sequence[DayOff], reason: str = "") -> list[Holiday]:
    """Write down days on which nobody works. Those that are there already stay as they are.

    Raises `Refused` where none of them is new.
    """
    with recording(actor, reason):
        there = holidays()
        new = {each.day: each for each in days if each.day not in there}
        if not new:
            raise Refused({"days": "Those days are all written down already."})
        found = [Holiday(day=each.day, name=each.name) for each in new.values()]
        for holiday in found:
            save_new(holiday)
        return found


def holidays() -> set[dt.date]:
    """Every day that is no working day, besides Saturdays and Sundays."""
    return set(Holiday.objects.live().order_by().values_list("day", flat=True))


def working_days_after(day: dt.date, days: int, free: Collection[dt.date]) -> dt.date:
    """The day so many working days later: Saturdays, Sundays and free days do not count."""
    found = day
    while days:
        found += dt.timedelta(days=1)
        days -= found.weekday() < 5 and found not in free
    return found
