"""Every entry, by noun, in the order of the work."""

from __future__ import annotations

from brewlog.entries import (
    batches,
    bottling,
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
    *holds.ENTRIES,
    *people.ENTRIES,
)

BY_SLUG: dict[str, Entry] = {entry.slug: entry for entry in ENTRIES}
if len(BY_SLUG) != len(ENTRIES):
    raise ValueError("Two entries share a slug.")
