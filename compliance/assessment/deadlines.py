"""Limits with a clock: a value reached in time, a reading there in time.

Elapsed hours are real ones, whatever the clocks on the wall did. Where only the day of an
event is known, the clock runs from the end of that day, so that no deadline is missed for
want of a time; what was in time only because of that is put before a reviewer.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from brewlog.models import LotKind
from brewlog.when import Precision, When
from compliance.assessment.facts import Facts, LotRecord
from compliance.assessment.finding import Awaited, Evidence, Finding
from compliance.assessment.judging import (
    Judged,
    evidence_of,
    evidence_of_lab,
    judged_of,
    labs_of,
    readings_of,
)
from compliance.decision import Verdict
from compliance.models import Limit

# A reading speaks for the deadline where it lies in the last part of the time: the last
# day of seven, as ferments are read daily (common practice).
_LAST_PART = 1 / 7


@dataclass(frozen=True)
class Clock:
    """A time allowed from an event on. The two ends differ where only its day is known."""

    begun: When
    allowed: dt.timedelta

    @property
    def earliest_end(self) -> dt.datetime:
        return self.begun.at + self.allowed

    @property
    def end(self) -> dt.datetime:
        """When the time is over for certain."""
        return self.begun.ends + self.allowed

    def may_hold(self, when: When) -> bool:
        """Whether something can have happened within the time."""
        return not when.provably_before(self.begun) and when.at <= self.end

    def surely_holds(self, when: When) -> bool:
        """Whether something happened before the time can have been over."""
        return when.ends <= self.earliest_end

    def nearly_over(self, when: When) -> bool:
        return when.ends >= self.end - self.allowed * _LAST_PART

    @property
    def told(self) -> str:
        """How the time was counted, where only the day is known."""
        if self.begun.precision == Precision.MINUTE:
            return ""
        return f", counted from the end of {self.begun} as the time of day is not known"


def starts(limit: Limit, record: LotRecord) -> When | None:
    """The event the limit's clock starts from; None where it has not happened."""
    if limit.since == Limit.Since.PITCHED:
        return record.pitched
    if limit.since == Limit.Since.BOTTLED and record.lot.kind != LotKind.BOTTLING:
        return None
    return record.began


def _clock(limit: Limit, record: LotRecord) -> Clock | None:
    begun = starts(limit, record)
    if begun is None or limit.within_hours is None:
        return None
    return Clock(begun, dt.timedelta(hours=float(limit.within_hours)))


# Reached in time ---------------------------------------------------------------------------


def by_deadline(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding | Awaited]:
    """The value must have been reached by a reading within so many hours of an event.

    Before the deadline nothing is wrong: it is awaited. A reading in time that conforms
    settles it, if no replicate of the same minute says otherwise.
    """
    clock = _clock(limit, record)
    if clock is None:
        return
    judged = [
        each
        for each in judged_of(limit, record, facts)
        if not each.when.provably_before(clock.begun)
    ]
    reached = [each for each in judged if clock.may_hold(each.when) and _agreed(each, judged)]
    if any(clock.surely_holds(each.when) for each in reached):
        return
    if reached:
        yield _perhaps_in_time(limit, record, clock, reached[0])
    elif facts.at < clock.end:
        yield Awaited(record.lot, limit, f"{limit.title}: reading due{clock.told}", clock.end)
    else:
        yield _missed(limit, record, clock, judged)


def _agreed(one: Judged, all_of_them: list[Judged]) -> bool:
    """Whether it conforms, and so do its replicates of the same minute."""
    if one.when.precision == Precision.DAY:
        return one.conforms
    return all(each.conforms for each in all_of_them if each.when == one.when)


def _perhaps_in_time(limit: Limit, record: LotRecord, clock: Clock, reached: Judged) -> Finding:
    text = (
        f"{reached.shown} on {reached.when}: in time only as far as the days written down "
        f"tell{clock.told}; the limit is {limit.comparison}"
    )
    return _finding(limit, record, clock, Verdict.NEEDS_REVIEW, text, reached, [reached])


def _missed(limit: Limit, record: LotRecord, clock: Clock, judged: list[Judged]) -> Finding:
    """The deadline is over and no reading in time shows that the value was reached.

    Outside where the last reading in time speaks for the deadline, nothing later conforms,
    or the first later one is outside; else it is not known, for want of readings.
    """
    in_time = [each for each in judged if clock.may_hold(each.when)]
    later = [each for each in judged if not clock.may_hold(each.when)]
    last = in_time[-1] if in_time else None
    after = next((each for each in later if each.conforms), None)
    not_by_then = last is not None and last.fails
    if (later and later[0].fails) or (
        not_by_then and (after is None or clock.nearly_over(last.when))  # type: ignore[union-attr]
    ):
        verdict, words = Verdict.FAILS, "not reached by the deadline"
    elif last is None:
        verdict, words = Verdict.NEEDS_REVIEW, "no reading by the deadline"
    elif not_by_then:
        verdict, words = Verdict.NEEDS_REVIEW, "no reading shortly before the deadline"
    else:
        verdict, words = Verdict.NEEDS_REVIEW, "too close to tell by the deadline"
    telling = last or (later[0] if later else None)
    told = f": {telling.shown} on {telling.when}" if telling else ""
    doubt = f"; {telling.doubt}" if telling and telling.doubt else ""
    text = f"{words}{told}{doubt}{clock.told}; the limit is {limit.comparison}"
    used = [each for each in (last, later[0] if later else None, after) if each]
    return _finding(limit, record, clock, verdict, text, telling, used)


def _finding(
    limit: Limit,
    record: LotRecord,
    clock: Clock,
    verdict: Verdict,
    text: str,
    telling: Judged | None,
    used: list[Judged],
) -> Finding:
    return Finding(
        record.lot,
        limit,
        verdict,
        text,
        When(clock.end),
        tuple(dict.fromkeys(each.evidence for each in used)),
        telling.decision if telling else None,
        telling.source if telling else "",
    )


# There in time -----------------------------------------------------------------------------


def presence(limit: Limit, record: LotRecord, facts: Facts) -> Iterator[Finding | Awaited]:
    """A reading of the kind and stage must be there within so many hours of an event.

    Counted from *the last one*, one must follow the other for as long as there is something
    of the lot.
    """
    clock = _clock(limit, record)
    if clock is None:
        return
    looks = sorted(
        [(reading.when, evidence_of(reading)) for reading in readings_of(limit, record)]
        + [(result.when, evidence_of_lab(result)) for result in labs_of(limit, record)],
        key=lambda look: look[0],
    )
    looks = [look for look in looks if not look[0].provably_before(clock.begun)]
    if limit.since == Limit.Since.LAST:
        yield from _one_after_the_other(limit, record, clock, looks, facts.at)
    elif any(clock.may_hold(when) for when, _ in looks):
        return
    elif facts.at < clock.end:
        yield Awaited(record.lot, limit, f"{limit.title}{clock.told}", clock.end)
    else:
        text = f"taken late, on {looks[0][0]}" if looks else "not taken"
        yield Finding(
            record.lot,
            limit,
            Verdict.NEEDS_REVIEW,
            f"{text}; due by {When(clock.end)}{clock.told}",
            When(clock.end),
            tuple(evidence for _, evidence in looks[:1]),
        )


def _one_after_the_other(
    limit: Limit,
    record: LotRecord,
    clock: Clock,
    looks: list[tuple[When, Evidence]],
    at: dt.datetime,
) -> Iterator[Finding | Awaited]:
    points = [clock.begun, *(when for when, _ in looks)]
    gaps = [
        (before, str(after))
        for before, after in pairwise(points)
        if not Clock(before, clock.allowed).may_hold(after)
    ]
    last = Clock(points[-1], clock.allowed)
    if not record.is_gone and at < last.end:
        yield Awaited(record.lot, limit, f"{limit.title}{last.told}", last.end)
    elif not record.is_gone:
        gaps.append((last.begun, "now"))
    if not gaps:
        return
    told = ", ".join(f"from {before} to {after}" for before, after in gaps)
    since = When(Clock(gaps[0][0], clock.allowed).end)
    text = f"none {told}; one is due every {float(limit.within_hours or 0):g} h"
    yield Finding(record.lot, limit, Verdict.NEEDS_REVIEW, text, since)
