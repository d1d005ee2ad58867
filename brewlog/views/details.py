"""The kit of detail pages: facts, and tables of what happened, made of the lists' columns."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import models
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from brewlog.entries import BY_SLUG
from brewlog.models.base import Guarded
from brewlog.views.access import READ, needs
from brewlog.views.facts import Fact, facts_of
from brewlog.views.links import kind_and_key
from brewlog.views.lists import Column, Heading, Row, show_cells
from brewlog.views.reader import Reader, reader_of


@dataclass(frozen=True)
class Section:
    """A table on a detail page. `rows` finds what stands in it, of the record shown."""

    title: str
    columns: Sequence[Column]
    rows: Callable[[Any], Iterable[Any]]
    prepare: Callable[[Sequence[Any]], None] | None = None
    empty: str = ""


@dataclass(frozen=True)
class Table:
    """A section filled for the page."""

    title: str
    headings: list[Heading]
    rows: list[Row]
    empty: str = ""


@dataclass(frozen=True)
class Link:
    """A button that leads to an entry, filled in for the record shown."""

    title: str
    url: str


# Pages that other apps have about a record, for those who may: they add themselves.
FURTHER_LINKS: dict[type[models.Model], list[Callable[[HttpRequest, Any], Link | None]]] = {}


@dataclass(frozen=True)
class Next:
    """An entry that makes sense for a record: its slug, and the field the record goes in."""

    slug: str
    field: str
    title: str = ""
    sensible: Callable[[Any], bool] = lambda record: True
    value: Callable[[Any], str] = str


@dataclass(frozen=True)
class Detail:
    """The page of one noun."""

    noun: str
    model: type[models.Model]
    title: str
    list_title: str
    sections: Sequence[Section] = ()
    next: Sequence[Next] = ()
    links: tuple[str, ...] = field(default=())
    extra: Callable[[Any], list[Fact]] = lambda record: []


def tables_of(sections: Iterable[Section], record: Any, reader: Reader) -> list[Table]:
    """The sections that have something in them, or something to say where they have not."""
    tables = []
    for section in sections:
        rows = list(section.rows(record))
        if section.prepare is not None:
            section.prepare(rows)
        if not rows and not section.empty:
            continue
        tables.append(
            Table(
                section.title,
                [Heading(column, "", "") for column in section.columns],
                [show_cells(section.columns, row, reader) for row in rows],
                section.empty,
            )
        )
    return tables


def next_links(request: HttpRequest, record: Any, offered: Iterable[Next]) -> list[Link]:
    """What this person may record about it next."""

    links = []
    for each in offered:
        entry = BY_SLUG.get(each.slug)
        if entry and request.user.has_perm(entry.permission) and each.sensible(record):
            query = urlencode({each.field: each.value(record)})
            address = f"{reverse('entry', args=[each.slug])}?{query}"
            links.append(Link(each.title or entry.title, address))
    further = (ask(request, record) for ask in FURTHER_LINKS.get(record.__class__, ()))
    return [*links, *(link for link in further if link)]


@require_safe
@needs(READ)
def detail_page(request: HttpRequest, detail: Detail, pk: int) -> HttpResponse:
    """One thing of a register, and what happened with it."""
    rows = detail.model._default_manager.select_related(*detail.links)
    record = get_object_or_404(rows, pk=pk)
    return render_detail(request, detail, record)


def render_detail(request: HttpRequest, detail: Detail, record: Any) -> HttpResponse:
    context = {
        "here": "records",
        "detail": detail,
        "record": record,
        "record_key": kind_and_key(record) if isinstance(record, Guarded) else None,
        "facts": [*facts_of(record, without={"name", "password"}), *detail.extra(record)],
        "tables": tables_of(detail.sections, record, reader_of(request)),
        "next": next_links(request, record, detail.next),
    }
    return render(request, "brewlog/detail.html", context)
