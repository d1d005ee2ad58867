"""The kit of lists: a `Listing` says what, and gets search, filters, sort, pages and downloads.

What is downloaded is what is shown: the same rows and columns, as the same words.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font

from brewlog.entries import BY_SLUG
from brewlog.recording import reading
from brewlog.spreadsheets import fitting, harmless
from brewlog.views.access import READ, needs
from brewlog.views.links import url_of
from brewlog.views.reader import NOTHING, Reader, Words, reader_of
from brewlog.views.saved import narrowing, views_of
from brewlog.when import Precision, When

PAGE_SIZE = 50
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@dataclass(frozen=True)
class Word:
    """How something stands, in a word: `tone` is good, look, stop or plain."""

    text: str
    tone: str = "plain"

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True)
class Linked:
    """A value that leads to a record's page. The page is worked out when it is shown."""

    value: Any
    record: Any

    @property
    def url(self) -> str:
        return url_of(self.record)


def get(name: str) -> Callable[[Any], Any]:
    """Reads an attribute."""
    return lambda record: getattr(record, name)


def moment(name: str, precision: str) -> Callable[[Any], Any]:
    """Reads a time as closely as it is known: a day alone has no midnight beside it."""

    def read(record: Any) -> When | None:
        at = getattr(record, name)
        return When(at, Precision(getattr(record, precision))) if at else None

    return read


def sentence(name: str) -> Callable[[Any], Any]:
    """Reads a sentence that the program may have made."""
    return lambda record: Words(getattr(record, name))


def choice(name: str) -> Callable[[Any], Any]:
    """Reads a choice in its words."""
    return lambda record: getattr(record, f"get_{name}_display")()


def link(name: str) -> Callable[[Any], Any]:
    """Reads what a record points at, with the way to it; None where it points at nothing."""

    def value(record: Any) -> Any:
        found = getattr(record, name)
        return None if found is None else Linked(found, found)

    return value


@dataclass(frozen=True)
class Column:
    """One column: `value` reads it from a record, `order` is what it is sorted by."""

    name: str
    title: str
    value: Callable[[Any], Any]
    order: str = ""
    number: bool = False


@dataclass(frozen=True)
class Filter:
    """A choice above the list. `choices` are read when the list is, `apply` narrows the rows.

    `otherwise` narrows them where nothing is chosen, and `unchosen` is the word for that.
    """

    name: str
    title: str
    choices: Callable[[], Iterable[tuple[str, str]]]
    apply: Callable[[QuerySet, str], QuerySet]
    unchosen: str = "any"
    otherwise: Callable[[QuerySet], QuerySet] = lambda rows: rows


@dataclass(frozen=True)
class Listing:
    """A list of one noun. `noun` names its addresses: `<noun>-list`, `<noun>-download`.

    `start` is the slug of the entry that makes the first one; `empty` says what the list
    is for, where there is nothing in it yet.
    """

    noun: str
    path: str
    title: str
    group: str
    queryset: Callable[[], QuerySet]
    columns: Sequence[Column]
    search: Sequence[str] = ()
    # Those of `search` that the search of everything asks too.
    sought: Sequence[str] = ()
    # A further match for a search term, where a lookup would meet a row many times.
    search_also: Callable[[str], Q] = lambda term: Q()
    filters: Sequence[Filter] = ()
    order: str = "-id"
    start: str = ""
    empty: str = ""
    # Pages that show the same in another way: a title and the name of its address.
    also: Sequence[tuple[str, str]] = ()
    # Puts beside each record on the page what its columns need and one query finds for all.
    prepare: Callable[[Sequence[Any]], None] = lambda records: None


@dataclass(frozen=True)
class Cell:
    """One value on its way to the page."""

    column: Column
    text: str
    url: str = ""
    tone: str = ""
    is_time: bool = False

    @property
    def is_none(self) -> bool:
        return self.text == NOTHING


@dataclass(frozen=True)
class Row:
    """A record as cells; struck through where it was voided."""

    cells: list[Cell]
    struck: bool


@dataclass(frozen=True)
class Choice:
    """A filter with what is chosen."""

    filter: Filter
    options: list[tuple[str, str]]
    chosen: str


@dataclass
class Shown:
    """A listing as asked for in the address."""

    listing: Listing
    query: dict[str, str]
    rows: QuerySet
    choices: list[Choice] = field(default_factory=list)
    sort: str = ""

    @property
    def orders(self) -> list[tuple[str, str]]:
        """Every order it may be asked for in: as the address names it, and in words."""
        sortable = [column for column in self.listing.columns if column.order]
        return [
            (f"{sign}{column.name}", f"{column.title}, {way}")
            for column in sortable
            for sign, way in (("", "rising"), ("-", "falling"))
        ]

    @property
    def is_narrowed(self) -> bool:
        return any(self.query.get(name) for name in self.query if name not in {"sort", "page"})

    @property
    def is_chosen(self) -> bool:
        """Whether a filter or an order is chosen, which a phone then shows unfolded."""
        return bool(self.sort) or any(choice.chosen for choice in self.choices)


def show_cells(columns: Sequence[Column], record: Any, reader: Reader) -> Row:
    """A record's cells in the reader's words."""
    cells = []
    for column in columns:
        value, url, tone = column.value(record), "", ""
        if isinstance(value, Linked):
            url, value = value.url, value.value
        if isinstance(value, Word):
            tone, value = value.tone, value.text
        is_time = isinstance(value, dt.date | When)
        cells.append(Cell(column, reader.show(value), url, tone, is_time))
    return Row(cells, bool(getattr(record, "is_void", False)))


def show_texts(columns: Sequence[Column], record: Any, reader: Reader) -> list[str]:
    """The texts of a record's cells. The ways to pages are left out: they take most of the time,
    and a file has none."""
    texts = []
    for column in columns:
        value = column.value(record)
        if isinstance(value, Linked):
            value = value.value
        texts.append(reader.show(value.text if isinstance(value, Word) else value))
    return texts


def narrow(listing: Listing, query: dict[str, str]) -> Shown:
    """The rows that match the address's search and filters, in the order asked for."""
    rows = listing.queryset()
    for term in query.get("q", "").split():
        matches = listing.search_also(term)
        for lookup in listing.search:
            matches |= Q(**{f"{lookup}__icontains": term})
        rows = rows.filter(matches)
    choices = []
    for each in listing.filters:
        options = list(each.choices())
        chosen = query.get(each.name, "")
        if chosen not in {value for value, _ in options}:
            chosen = ""
        rows = each.apply(rows, chosen) if chosen else each.otherwise(rows)
        choices.append(Choice(each, options, chosen))
    sort = query.get("sort", "")
    return Shown(listing, query, _ordered(rows, listing, sort), choices, sort)


def without_choice(listing: Listing) -> QuerySet:
    """The rows where nothing is searched for or chosen: what there is to choose is not asked."""
    rows = listing.queryset()
    for each in listing.filters:
        rows = each.otherwise(rows)
    return rows


def _ordered(rows: QuerySet, listing: Listing, sort: str) -> QuerySet:
    by_name = {column.name: column.order for column in listing.columns if column.order}
    order = by_name.get(sort.removeprefix("-"), "")
    if not order:
        return rows.order_by(listing.order)
    sign = "-" if sort.startswith("-") else ""
    return rows.order_by(f"{sign}{order}", "-pk")


@require_safe
@needs(READ)
def listing_page(request: HttpRequest, listing: Listing) -> HttpResponse:
    """The list as a page."""
    shown = narrow(listing, _query(request))
    page = Paginator(shown.rows, PAGE_SIZE).get_page(request.GET.get("page"))
    reader = reader_of(request)
    records = _whole(listing, page.object_list)
    listing.prepare(records)
    context = {
        "here": "records",
        "listing": listing,
        "shown": shown,
        "columns": _headings(request, shown),
        "rows": [show_cells(listing.columns, record, reader) for record in records],
        "page": page,
        "pages": page_links(request, page),
        "views": views_of(request.user, listing.noun, asked_of(request, listing)),
        "download_query": without(request, "page"),
        "start": _start(request, listing),
    }
    return render(request, "brewlog/list.html", context)


def _whole(listing: Listing, rows: Any) -> list[Any]:
    """The records of one page. Their keys are found first: a database that sorts thousands of
    rows carries, and works out, all that is asked of each."""
    keys = list(rows.values_list("pk", flat=True))
    found = {record.pk: record for record in listing.queryset().filter(pk__in=keys)}
    return [found[key] for key in keys if key in found]


def _query(request: HttpRequest) -> dict[str, str]:
    return {name: str(value) for name, value in request.GET.items() if value}


def asked_of(request: HttpRequest, listing: Listing) -> str:
    """What of the address narrows and orders the list."""
    names = ["q", *(each.name for each in listing.filters), "sort"]
    return narrowing(_query(request), names)


def _start(request: HttpRequest, listing: Listing) -> Any:
    """The entry that makes a new one, for those who may."""
    entry = BY_SLUG.get(listing.start)
    return entry if entry and request.user.has_perm(entry.permission) else None


def without(request: HttpRequest, *names: str, **changes: str) -> str:
    """The address's query, without some of it and with something else."""
    query = request.GET.copy()
    for name in names:
        query.pop(name, None)
    for name, value in changes.items():
        query[name] = value
    return query.urlencode()


@dataclass(frozen=True)
class Heading:
    """A column's title, the address that sorts by it, and how it is sorted now."""

    column: Column
    query: str
    sorted: str  # ascending, descending or ''


def _headings(request: HttpRequest, shown: Shown) -> list[Heading]:
    headings = []
    for column in shown.listing.columns:
        now = {column.name: "ascending", f"-{column.name}": "descending"}.get(shown.sort, "")
        following = f"-{column.name}" if now == "ascending" else column.name
        query = without(request, "page", sort=following) if column.order else ""
        headings.append(Heading(column, query, now))
    return headings


def page_links(request: HttpRequest, page: Page) -> dict[str, str]:
    links = {}
    if page.has_previous():
        links["previous"] = without(request, page=str(page.previous_page_number()))
    if page.has_next():
        links["next"] = without(request, page=str(page.next_page_number()))
    return links


# Downloads -------------------------------------------------------------------------------


@require_safe
@needs(READ)
def listing_download(request: HttpRequest, listing: Listing, ending: str) -> HttpResponse:
    """Every row of the list as it is narrowed and sorted, as a CSV or an XLSX file."""
    if ending not in {"csv", "xlsx"}:
        raise Http404(f"Lists are downloaded as csv or xlsx, not as {ending}.")
    reader = reader_of(request)
    with reading():
        records = list(narrow(listing, _query(request)).rows)
        listing.prepare(records)
        table = [show_texts(listing.columns, record, reader) for record in records]
    return spreadsheet_of(listing.path, listing.title, _titles(listing.columns), table, ending)


def spreadsheet(
    name: str, title: str, columns: Sequence[Column], rows: Iterable[Row], ending: str
) -> HttpResponse:
    """Rows as they are shown, as a file to keep: csv or xlsx."""
    table = [[cell.text for cell in row.cells] for row in rows]
    return spreadsheet_of(name, title, _titles(columns), table, ending)


def _titles(columns: Sequence[Column]) -> list[str]:
    return [column.title for column in columns]


def spreadsheet_of(
    name: str, title: str, titles: Sequence[str], table: list[list[str]], ending: str
) -> HttpResponse:
    """The same of rows of texts."""
    if ending == "csv":
        response = HttpResponse(_csv(titles, table), content_type="text/csv; charset=utf-8")
    else:
        response = HttpResponse(_xlsx(title, titles, table), content_type=XLSX)
    file_name = f"{name}-{timezone.localdate():%Y-%m-%d}.{ending}"
    response["Content-Disposition"] = f'attachment; filename="{file_name}"'
    return response


def _csv(titles: Sequence[str], table: list[list[str]]) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(titles)
    writer.writerows([[harmless(cell) for cell in row] for row in table])
    # The mark at the front makes spreadsheet programs read the accents right.
    return ("\ufeff" + text.getvalue()).encode()


def _xlsx(title: str, titles: Sequence[str], table: list[list[str]]) -> bytes:
    book = Workbook(write_only=True)
    sheet = book.create_sheet(title[:31])
    sheet.freeze_panes = "A2"
    heads = []
    for title in titles:
        cell = WriteOnlyCell(sheet, title)
        cell.font = Font(bold=True)
        heads.append(cell)
    sheet.append(heads)
    for row in table:
        cells = []
        for text in row:
            cell = WriteOnlyCell(sheet, fitting(text))
            # Text, also where it begins like a formula.
            cell.data_type = "s"
            cells.append(cell)
        sheet.append(cells)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
