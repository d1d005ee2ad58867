"""Every entry, by noun, in the order of the work."""

from __future__ import annotations

from brewlog.entries import batches, cultures, ingredients, recipes
from brewlog.entries.base import Entry

ENTRIES: tuple[Entry, ...] = (
    *ingredients.ENTRIES,
    *cultures.ENTRIES,
    *recipes.ENTRIES,
    *batches.ENTRIES,
)

BY_SLUG: dict[str, Entry] = {entry.slug: entry for entry in ENTRIES}
if len(BY_SLUG) != len(ENTRIES):
    raise ValueError("Two entries share a slug.")
