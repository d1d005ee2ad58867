"""What an instrument's calibrations say about a reading: in force, overdue, in doubt.

The same answers as `brewlog.domain.instruments`, for many readings without a query each.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from dataclasses import dataclass

from django.utils import timezone

from brewlog.models import Calibration
from brewlog.when import Precision, When

GOOD = (Calibration.Outcome.IN_TOLERANCE, Calibration.Outcome.ADJUSTED)


@dataclass(frozen=True)
class _Span:
    """The readings a calibration puts in doubt: since the last good one, up to itself."""

    last_good: When | None
    found_out: Calibration

    def holds(self, when: When) -> bool:
        """What cannot be shown to lie outside counts as inside."""
        if self.found_out.when.provably_before(when):
            return False
        return self.last_good is None or not when.provably_before(self.last_good)


class Course:
    """The calibrations of one instrument in the order of time, voided ones left out."""

    def __init__(self, calibrations: list[Calibration]) -> None:
        self._all = calibrations
        self._times = [each.happened_at for each in calibrations]
        self._spans = _spans(calibrations)

    def in_force(self, when: When) -> Calibration | None:
        """The last calibration that was not provably later; it may be one that failed."""
        index = bisect_left(self._times, _after(when))
        return self._all[index - 1] if index else None

    def doubt(self, when: When) -> Calibration | None:
        """The calibration that puts a reading at that time in doubt; None where none does."""
        for span in self._spans:
            if span.holds(when):
                return span.found_out
        before = self.in_force(when)
        failed = before is not None and before.outcome == Calibration.Outcome.FAILED
        return before if failed else None

    def why_doubted(self, when: When) -> str:
        """In words why a reading of that time cannot be leaned on; nothing where it can."""
        found = self.doubt(when)
        if found is None:
            return ""
        return f"{found.instrument} was {_FOUND[found.outcome]} on {found.when}"

    def why_not_in_force(self, when: When) -> str:
        """In words why no good calibration stood behind a reading; nothing where one did."""
        doubted = self.why_doubted(when)
        if doubted:
            return doubted
        found = self.in_force(when)
        if found is None:
            return "its instrument had no calibration on record"
        day = timezone.localtime(when.at).date()
        if found.due_on is not None and day > found.due_on:
            return f"{found.instrument} was due for calibration on {found.due_on}"
        if found.expired_buffer:
            return (
                f"{found.instrument} was calibrated on {found.when} in a buffer past its date "
                f"({found.expired_buffer})"
            )
        return ""


_FOUND = {
    Calibration.Outcome.OUT.value: "found out of tolerance",
    Calibration.Outcome.FAILED.value: "not brought into tolerance",
}


def _spans(calibrations: list[Calibration]) -> list[_Span]:
    spans = []
    last_good: When | None = None
    for each in calibrations:
        if each.was_out:
            spans.append(_Span(last_good, each))
        if each.outcome in GOOD:
            last_good = each.when
    return spans


def _after(when: When) -> dt.datetime:
    """The first moment that is provably after it."""
    day = when.precision == Precision.DAY
    return when.ends if day else when.at + dt.timedelta(microseconds=1)
