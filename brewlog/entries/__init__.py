"""Every entry, by noun, in the order of the work."""

from __future__ import annotations

from collections.abc import Iterable

from brewlog.entries import (
    batches,
    bottling,
    charts,
    checkpoints,
    cultures,
    holds,
    ingredients,
    instruments,
    people,
    recipes,
    shipping,
)
from brewlog.entries.base import Entry

ENTRIES: tuple[Entry, ...] = (
    *ingredients.ENTRIES,
    *cultures.ENTRIES,
    *recipes.ENTRIES,
    *batches.ENTRIES,
    *instruments.ENTRIES,
    *checkpoints.ENTRIES,
    *bottling.ENTRIES,
    *shipping.ENTRIES,
    *charts.ENTRIES,
    *holds.ENTRIES,
    *people.ENTRIES,
)

BY_SLUG: dict[str, Entry] = {entry.slug: entry for entry in ENTRIES}
if len(BY_SLUG) != len(ENTRIES):
    raise ValueError("Two entries share a slug.")

# Entries of other apps, which add them when they are loaded.
FURTHER_ENTRIES: list[Entry] = []


def add_entries(entries: Iterable[Entry]) -> None:
    """Take in another app's entries. Raises `ValueError` where a slug is taken."""
    for entry in entries:
        if entry.slug in BY_SLUG:
            raise ValueError(f"Two entries have the slug '{entry.slug}'.")
        BY_SLUG[entry.slug] = entry
        FURTHER_ENTRIES.append(entry)
