"""What other apps show on these pages. They add themselves when they are loaded."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from brewlog.forms.base import EntryForm
from brewlog.middleware import BreweryRequest
from brewlog.models import Lot
from brewlog.views.details import Link
from brewlog.views.lists import Word


@dataclass(frozen=True)
class Panel:
    """A part of a page: its template, and what stands in it as `panel`.

    `words` stand beside the code of a lot, in its heading.
    """

    template: str
    data: Any
    words: tuple[Word, ...] = ()


@dataclass(frozen=True)
class NavLink:
    """A link at the head of every page: where to, and what `here` is on its pages."""

    title: str
    url_name: str
    here: str


NAV_LINKS: list[NavLink] = []
# Beneath the lists on the page of all records.
RECORDS_LINKS: list[NavLink] = []
# On the page of a lot, above its facts.
LOT_PANELS: list[Callable[[BreweryRequest, Lot], Panel | None]] = []
# On the page of who has what was made from a lot, beside its papers.
RECALL_LINKS: list[Callable[[BreweryRequest, Lot], Link | None]] = []
# Above the form of an entry, by its slug: what is to be known before it is filled in.
ENTRY_PANELS: dict[str, Callable[[BreweryRequest, EntryForm], Panel | None]] = {}


def lot_panels(request: BreweryRequest, lot: Lot) -> list[Panel]:
    return [panel for ask in LOT_PANELS if (panel := ask(request, lot))]


def recall_links(request: BreweryRequest, lot: Lot) -> list[Link]:
    return [link for ask in RECALL_LINKS if (link := ask(request, lot))]


def entry_panel(request: BreweryRequest, slug: str, form: EntryForm) -> Panel | None:
    ask = ENTRY_PANELS.get(slug)
    return ask(request, form) if ask else None
