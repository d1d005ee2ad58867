"""The views people keep of a list, as links above it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from brewlog.domain.saved_views import views_for
from brewlog.models import SavedView, User


@dataclass(frozen=True)
class ViewLink:
    """A view kept of the list shown: where it leads, and whether it is what is shown."""

    name: str
    url: str
    is_shown: bool
    shared_by: str


@dataclass(frozen=True)
class Views:
    """Those of one list, and where what is shown now can be kept; '' where it is kept."""

    links: list[ViewLink]
    save_url: str


def narrowing(asked: Mapping[str, str], names: Iterable[str]) -> str:
    """What of an address narrows and orders a list, always written the same way."""
    return urlencode([(name, asked[name]) for name in names if asked.get(name)])


def views_of(person: Any, noun: str, query: str) -> Views:
    """The views this person has of a list; `query` is what is shown now. One query."""
    rows = list(views_for(person).filter(noun=noun).order_by("name", "id"))
    links = [
        ViewLink(row.name, view_url(row), row.query == query, _shared_by(row, person))
        for row in rows
    ]
    is_kept = not query or any(link.is_shown for link in links)
    save_url = "" if is_kept else f"{reverse('saved-view-save', args=[noun])}?{query}"
    return Views(links, save_url)


def view_url(view: SavedView) -> str:
    """The list as the view has it."""
    return f"{reverse(f'{view.noun}-list')}?{view.query}"


def _shared_by(view: SavedView, person: User) -> str:
    return str(view.owner) if view.owner_id != person.pk else ""
