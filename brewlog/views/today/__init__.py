"""The start page's lines: what needs doing now, in the order of what comes of leaving it."""

from __future__ import annotations

from brewlog.views.today import bottles, checking, cultures, stores, vessels
from brewlog.views.today.lines import Kind

KINDS: tuple[Kind, ...] = (
    *bottles.KINDS,
    *vessels.KINDS,
    *checking.KINDS,
    *cultures.KINDS,
    *stores.KINDS,
)
# Lines of other apps, which add them when they are loaded.
FURTHER_KINDS: list[Kind] = []


def all_kinds() -> list[Kind]:
    """Every kind there is, the gravest first."""
    return sorted((*FURTHER_KINDS, *KINDS), key=lambda kind: kind.consequence)
