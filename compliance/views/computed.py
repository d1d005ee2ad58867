"""Lists of what is worked out and not stored: filters, pages and downloads over plain rows."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse

from brewlog.views.lists import (
    PAGE_SIZE,
    Column,
    Heading,
    Row,
    page_links,
    show_cells,
    show_texts,
    spreadsheet_of,
    without,
)
from brewlog.views.reader import reader_of

Rows = TypeVar("Rows")


@dataclass(frozen=True)
class RowFilter:
    """A choice above the list: `narrow(rows, chosen)` gives the rows that stay."""

    name: str
    title: str
    choices: Callable[[], Iterable[tuple[str, str]]]
    narrow: Callable[[Any, str], Any]
    unchosen: str = "any"


@dataclass(frozen=True)
class Chosen:
    """A filter with its options and what is chosen of them; '' for any."""

    filter: RowFilter
    options: list[tuple[str, str]]
    chosen: str


def narrowed(
    request: HttpRequest, rows: Rows, filters: Iterable[RowFilter]
) -> tuple[Rows, list[Chosen]]:
    """The rows that pass what is chosen in the address, and what is chosen."""
    left, chosen = rows, []
    for each in filters:
        options = list(each.choices())
        value = request.GET.get(each.name, "")
        if value not in {known for known, _ in options}:
            value = ""
        if value:
            left = each.narrow(left, value)
        chosen.append(Chosen(each, options, value))
    return left, chosen


def paged(request: HttpRequest, rows: Any, size: int = PAGE_SIZE) -> dict[str, Any]:
    """One page of the rows: `page`, and the way to the others, `pages`."""
    page = Paginator(rows, size).get_page(request.GET.get("page"))
    return {"page": page, "pages": page_links(request, page)}


def shown(request: HttpRequest, columns: Sequence[Column], rows: Iterable[Any]) -> list[Row]:
    """The rows as cells, in the reader's words."""
    reader = reader_of(request)
    return [show_cells(columns, row, reader) for row in rows]


def headings(columns: Sequence[Column]) -> list[Heading]:
    """Heads of columns that are not sorted by."""
    return [Heading(column, "", "") for column in columns]


def download_query(request: HttpRequest) -> str:
    return without(request, "page")


def download(
    request: HttpRequest, title: str, columns: Sequence[Column], rows: Iterable[Any], ending: str
) -> HttpResponse:
    """Every row as it is narrowed, as a CSV or an XLSX file."""
    if ending not in {"csv", "xlsx"}:
        raise Http404(f"Lists are downloaded as csv or xlsx, not as {ending}.")
    name, reader = title.lower().replace(" ", "-"), reader_of(request)
    table = [show_texts(columns, row, reader) for row in rows]
    return spreadsheet_of(name, title, [each.title for each in columns], table, ending)
