"""What is found when a lot is held against a limit. Computed, never stored."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import IntEnum

from brewlog.models import Lot
from brewlog.when import When
from compliance.decision import PLAIN, Decision, Verdict
from compliance.models import Limit


class Urgency(IntEnum):
    """In which order findings are looked at, the most urgent first."""

    STOP = 0  # outside a critical limit
    CLOSE = 1  # too close to a critical limit, or what would show it is missing
    ACT = 2  # an action limit
    LABEL = 3
    NOTE = 4


@dataclass(frozen=True)
class Evidence:
    """One record a finding stands on: what it said, when, and where it can be read."""

    text: str
    when: When
    record: str  # "checkpoint:17": model name and key

    @property
    def at(self) -> dt.datetime:
        return self.when.at


@dataclass(frozen=True)
class Finding:
    """A lot against a limit: what does not hold, or cannot be shown to hold.

    There is at most one of a lot and a limit. The limit tells the rule, its source and what
    clears it; `decision` the value with its uncertainty, the sign, the margin and the
    probability, and is None where nothing was measured (a reading is missing, mould was
    seen); `uncertainty_source` where the standard uncertainty came from; `evidence` the
    records used, the telling one first; `since` when it last arose, so that what happens
    again after someone decided is told from what was decided. `verdict` may be milder or
    graver than the decision's, for a reading in doubt or one that speaks for more than its
    own time.
    """

    lot: Lot
    limit: Limit
    verdict: Verdict
    text: str
    since: When
    evidence: tuple[Evidence, ...] = ()
    decision: Decision | None = None
    uncertainty_source: str = ""

    @property
    def is_critical(self) -> bool:
        """Whether it keeps the lot back at once: outside a critical limit."""
        return (
            self.limit.consequence == Limit.Consequence.CRITICAL and self.verdict is Verdict.FAILS
        )

    @property
    def plain(self) -> str:
        """The verdict in the words of the floor."""
        return PLAIN[self.verdict]

    @property
    def urgency(self) -> Urgency:
        consequence = self.limit.consequence
        if consequence == Limit.Consequence.CRITICAL:
            return Urgency.STOP if self.verdict is Verdict.FAILS else Urgency.CLOSE
        return {
            Limit.Consequence.ACTION.value: Urgency.ACT,
            Limit.Consequence.LABEL.value: Urgency.LABEL,
        }.get(consequence, Urgency.NOTE)

    @property
    def order(self) -> tuple[int, dt.datetime, int, int]:
        """Where it stands in a list: the most urgent first, and of those the oldest."""
        return self.urgency, self.since.at, *self.key

    @property
    def key(self) -> tuple[int, int]:
        """The lot and the limit: what a literal table of findings is written by."""
        return self.lot.pk, self.limit.pk


@dataclass(frozen=True)
class Awaited:
    """Something a limit still waits for, with the moment it becomes a finding."""

    lot: Lot
    limit: Limit
    text: str
    due: dt.datetime


@dataclass(frozen=True)
class Turn:
    """A moment at which a limit will say something else by itself, with nothing awaited."""

    lot: Lot
    limit: Limit
    due: dt.datetime


@dataclass(frozen=True)
class Assessment:
    """Everything found about some lots at one moment, the most urgent first."""

    at: dt.datetime
    findings: tuple[Finding, ...]
    awaited: tuple[Awaited, ...]
    turns: tuple[Turn, ...] = ()

    def of(self, lot: Lot) -> tuple[Finding, ...]:
        """The findings of one lot."""
        return tuple(each for each in self.findings if each.lot.pk == lot.pk)

    def next_changes(self) -> dict[int, dt.datetime]:
        """By lot, the first moment at which it is found otherwise though nothing was written."""
        found: dict[int, dt.datetime] = {}
        changes: tuple[Awaited | Turn, ...] = (*self.awaited, *self.turns)
        for each in changes:
            found[each.lot.pk] = min(each.due, found.get(each.lot.pk, each.due))
        return found
