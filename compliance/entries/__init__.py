"""Every entry of deciding, reviewing, releasing and choosing rules."""

from __future__ import annotations

from brewlog.entries.base import Entry
from compliance.entries import decisions, reviews, rulesets

ENTRIES: tuple[Entry, ...] = (*decisions.ENTRIES, *reviews.ENTRIES, *rulesets.ENTRIES)
