"""Every entry of deciding, reviewing, releasing, choosing rules, planning and logging."""

from __future__ import annotations

from brewlog.entries.base import Entry
from compliance.entries import decisions, labels, logs, plans, recalls, reviews, rulesets

ENTRIES: tuple[Entry, ...] = (
    *decisions.ENTRIES,
    *reviews.ENTRIES,
    *rulesets.ENTRIES,
    *plans.ENTRIES,
    *logs.ENTRIES,
    *recalls.ENTRIES,
    *labels.ENTRIES,
)
