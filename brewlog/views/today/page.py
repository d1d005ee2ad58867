"""The lines on the page: what concerns whoever looks, a few of each kind, and the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from brewlog.entries.base import RECORD
from brewlog.middleware import BreweryRequest
from brewlog.views.access import READ, needs
from brewlog.views.details import Link
from brewlog.views.lists import PAGE_SIZE, page_links
from brewlog.views.today import all_kinds
from brewlog.views.today.lines import Form, Kind, Line

MOST_LINES = 5


@dataclass(frozen=True)
class Shown:
    """A line as this person sees it: the form is offered to those who may send it."""

    line: Line
    form: Link | None


@dataclass(frozen=True)
class Group:
    """The lines of one kind on the page, and where those are that do not stand here."""

    kind: Kind
    lines: list[Shown]
    total: int
    more_url: str = ""

    @property
    def more(self) -> int:
        return self.total - len(self.lines)


def groups_for(request: BreweryRequest) -> list[Group]:
    """What needs doing, of what concerns this person: the gravest first."""
    groups = []
    for kind in all_kinds():
        if not _concerns(request, kind):
            continue
        found = kind.find(request)
        lines = found[: MOST_LINES + 1]
        if lines:
            # They are counted only where not all of them stand here.
            total = len(found) if len(lines) > MOST_LINES else len(lines)
            groups.append(Group(kind, _shown(request, lines[:MOST_LINES]), total, _more_url(kind)))
    return groups


def _concerns(request: BreweryRequest, kind: Kind) -> bool:
    """Who only reads sees all of it, as an inspector does."""
    return request.user.has_perm(kind.concerns) or not request.user.has_perm(RECORD)


def _more_url(kind: Kind) -> str:
    if not kind.full:
        return reverse("today-kind", args=[kind.slug])
    return f"{reverse(kind.full)}?{kind.narrowed}" if kind.narrowed else reverse(kind.full)


def _shown(request: BreweryRequest, lines: Sequence[Line]) -> list[Shown]:
    return [Shown(line, _offered(request, line.form)) for line in lines]


def _offered(request: BreweryRequest, form: Form | None) -> Link | None:
    may = form is not None and request.user.has_perm(form.permission)
    return Link(form.title, form.url) if form is not None and may else None


@require_safe
@needs(READ)
def today_kind(request: BreweryRequest, slug: str) -> HttpResponse:
    """Every line of one kind, page by page."""
    kind = next((each for each in all_kinds() if each.slug == slug), None)
    if kind is None:
        raise Http404(f"There is no list called '{slug}'.")
    rows: Any = kind.find(request)
    page = Paginator(rows, PAGE_SIZE).get_page(request.GET.get("page"))
    context = {
        "here": "home",
        "group": Group(kind, _shown(request, list(page)), page.paginator.count),
        "page": page,
        "pages": page_links(request, page),
    }
    return render(request, "brewlog/today_kind.html", context)
