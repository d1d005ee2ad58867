"""Everything that was ever written of a lot, on one page: the lot, its readings, uses, holds..."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Model, Q, QuerySet, Value
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from brewlog import models
from brewlog.middleware import BreweryRequest
from brewlog.models import BottlingLot, Lot, LotUse, User
from brewlog.models.base import HappenedMixin
from brewlog.recording import reading
from brewlog.views.access import READ, needs
from brewlog.views.facts import title_of
from brewlog.views.history import Change, Named, changes
from brewlog.views.links import entry_url
from brewlog.views.lists import Column, page_links, show_cells, spreadsheet, without
from brewlog.views.lots import find_lot, unknown_lot
from brewlog.views.reader import Reader, reader_of
from brewlog.when import Precision, When

PAGE_SIZE = 25

Finder = Callable[[int], Q]


@dataclass(frozen=True)
class Kept:
    """A kind of record that belongs to lots, and which of its versions are of one of them.

    Each finder is a question of its own, so that each can be answered from an index.
    """

    model: type[Model]
    finders: tuple[Finder, ...]

    @property
    def name(self) -> str:
        return str(self.model._meta.model_name)

    @property
    def title(self) -> str:
        return str(self.model._meta.verbose_name)


def by(*links: str) -> tuple[Finder, ...]:
    """Records with any of these links to the lot."""
    return tuple(lambda pk, link=link: Q(**{link: pk}) for link in links)  # type: ignore[misc]


def _filled_from(pk: int) -> Q:
    drawn = LotUse.objects.filter(source=pk, purpose=LotUse.Purpose.DRINK)
    return Q(lot__in=drawn.values("into"))


# Every kind of record of a lot. Other apps add theirs when they are loaded.
OF_LOTS: list[Kept] = [
    *(Kept(each, by("lot")) for each in (
        models.IngredientLot, models.PreparationLot, models.CultureLot, models.Brew, models.Batch,
    )),
    Kept(BottlingLot, (*by("lot"), _filled_from)),
    Kept(LotUse, by("source", "into")),
    Kept(models.HoldEnd, by("lot")),
    *(Kept(each, by("lot")) for each in (
        models.ProcessStep, models.Checkpoint, models.LabResult, models.AlcoholEstimate,
        models.ConditionCheck, models.Hold, models.ReviewFlag, models.StockAdjustment, models.Move,
        models.ShipmentLine, models.LineClearance, models.Breakage, models.BottleWash,
        models.RetainedBottles, models.KegEvent,
    )),
    Kept(models.UsualRun, by("first", "last")),
]  # fmt: skip


@dataclass(frozen=True)
class Writing:
    """One writing of one record, before what it says is read."""

    kept: Kept
    history_id: int
    record: int
    at: dt.datetime
    by: int | None
    is_first: bool


@dataclass(frozen=True)
class Told:
    """One writing in words: when it was written and by whom, of what, when that happened, and
    what it changed."""

    at: dt.datetime
    by: str
    kind: str
    record: str
    url: str
    happened: When | None
    did: str
    reason: str
    changes: list[Change]

    @property
    def is_first(self) -> bool:
        return self.did == WRITTEN


WRITTEN, CHANGED, VOIDED = "first written", "changed", "voided"


def writings_of(lot: Lot) -> list[Writing]:
    """Every writing of every record of the lot, the newest first. One query."""
    branches: list[QuerySet] = []
    for number, kept in enumerate(OF_LOTS):
        history = kept.model.history.model  # type: ignore[attr-defined]
        key = kept.model._meta.pk.attname  # type: ignore[union-attr]
        for finder in kept.finders:
            rows = history.objects.filter(finder(lot.pk)).order_by()
            branches.append(
                rows.annotate(number=Value(number)).values_list(
                    "number", "history_id", key, "history_date", "history_user_id"
                )
            )
    # Not told apart by the database: a record that two finders find is the same row twice.
    rows = set(branches[0].union(*branches[1:], all=True))
    first: dict[tuple[int, int], int] = {}
    for number, history_id, record, _, _ in rows:
        first[number, record] = min(history_id, first.get((number, record), history_id))
    return sorted(
        (
            Writing(
                OF_LOTS[number], history_id, record, at, by, history_id == first[number, record]
            )
            for number, history_id, record, at, by in rows
        ),
        key=lambda each: (each.at, each.history_id, each.kept.name),
        reverse=True,
    )


def in_words(writings: Sequence[Writing], reader: Reader) -> list[Told]:
    """What the writings say. Two queries for each kind of record and what it points at."""
    wanted: dict[Kept, set[int]] = defaultdict(set)
    for each in writings:
        wanted[each.kept].add(each.record)
    versions: dict[tuple[Kept, int], list[Any]] = defaultdict(list)
    names = Named()
    for kept, records in wanted.items():
        key = kept.model._meta.pk.attname  # type: ignore[union-attr]
        rows = kept.model.history.filter(**{f"{key}__in": list(records)})  # type: ignore[attr-defined]
        found = list(rows.order_by("history_id"))
        for row in found:
            versions[kept, getattr(row, key)].append(row)
        names.fetch_linked(kept.model, found)
        names.fetch((User, row.history_user_id) for row in found)
        names.fetch((kept.model, record) for record in records)
    return [_told(each, versions[each.kept, each.record], names, reader) for each in writings]


def _told(writing: Writing, versions: list[Any], names: Named, reader: Reader) -> Told:
    at = next(n for n, row in enumerate(versions) if row.history_id == writing.history_id)
    row, before = versions[at], versions[at - 1] if at else None
    record = names.get(writing.kept.model, writing.record)
    was_void = before is not None and before.voided_at is not None
    did = VOIDED if row.voided_at is not None and not was_void else CHANGED
    return Told(
        at=writing.at,
        by=str(names.get(User, writing.by) or ""),
        kind=writing.kept.title,
        record=reader.show(title_of(record)),
        url=entry_url(record),
        happened=_happened(row, writing.kept.model),
        did=WRITTEN if before is None else did,
        reason=row.history_change_reason or "",
        changes=changes(writing.kept.model, before, row, reader, names),
    )


def _happened(row: Any, model: type[Model]) -> When | None:
    if not issubclass(model, HappenedMixin):
        return None
    return When(row.happened_at, Precision(row.happened_precision))


# The page --------------------------------------------------------------------------------


@dataclass(frozen=True)
class Choice:
    """One of the choices above the list."""

    name: str
    title: str
    unchosen: str
    options: list[tuple[str, str]]
    chosen: str
    keeps: Callable[[Writing], bool]


@require_safe
@needs(READ)
def lot_history(request: BreweryRequest, code: str) -> HttpResponse:
    """Every writing of every record of a lot, the newest first, in pages."""
    lot = find_lot(request, code)
    if lot is None:
        return unknown_lot(request, code)
    with reading():
        found = writings_of(lot)
        choices = _choices(request, found)
        shown = _narrowed(found, choices)
        page = Paginator(shown, PAGE_SIZE).get_page(request.GET.get("page"))
        entries = in_words(list(page), reader_of(request))
    context = {
        "here": "records",
        "lot": lot,
        "what": lot.detail.describe(),  # type: ignore[attr-defined]
        "entries": entries,
        "choices": choices,
        "is_narrowed": any(each.chosen for each in choices),
        "all": len(found),
        "page": page,
        "pages": page_links(request, page),
        "download_query": without(request, "page"),
    }
    return render(request, "brewlog/lot_history.html", context)


@require_safe
@needs(READ)
def lot_history_download(request: BreweryRequest, code: str, ending: str) -> HttpResponse:
    """The same as a CSV or an XLSX file: a row for each field that was filled in or changed."""
    lot = find_lot(request, code)
    if lot is None:
        return unknown_lot(request, code)
    if ending not in {"csv", "xlsx"}:
        raise Http404(f"The history is downloaded as csv or xlsx, not as {ending}.")
    reader = reader_of(request)
    with reading():
        found = writings_of(lot)
        told = in_words(_narrowed(found, _choices(request, found)), reader)
    rows = [show_cells(_COLUMNS, each, reader) for each in _fields(told)]
    safe = "".join(letter if letter.isalnum() else "-" for letter in lot.code)
    return spreadsheet(f"history-{safe}", "History", _COLUMNS, rows, ending)


@dataclass(frozen=True)
class _Field:
    """A row of the file."""

    told: Told
    change: Change


def _fields(told: Iterable[Told]) -> list[_Field]:
    nothing = Change("", "", "")
    return [_Field(each, change) for each in told for change in (each.changes or [nothing])]


def _of_told(name: str) -> Callable[[_Field], Any]:
    return lambda row: getattr(row.told, name)


def _of_change(name: str) -> Callable[[_Field], Any]:
    return lambda row: getattr(row.change, name)


_COLUMNS = (
    Column("at", "Written", _of_told("at")),
    Column("by", "By", _of_told("by")),
    Column("kind", "Kind of record", _of_told("kind")),
    Column("record", "Record", _of_told("record")),
    Column("happened", "Happened", _of_told("happened")),
    Column("did", "What was done", _of_told("did")),
    Column("field", "Field", _of_change("label")),
    Column("before", "Before", _of_change("before")),
    Column("after", "After", _of_change("after")),
    Column("reason", "Why", _of_told("reason")),
)


def _choices(request: BreweryRequest, found: Sequence[Writing]) -> list[Choice]:
    """By person, by kind of record, and by whether anything was changed; only what there is."""
    people = {each.pk: str(each) for each in User.objects.filter(pk__in={w.by for w in found})}
    kinds = Counter((each.kept.name, each.kept.title) for each in found)
    by = _chosen(request, "by", {str(pk) for pk in people})
    kind = _chosen(request, "kind", {name for name, _ in kinds})
    only = _chosen(request, "only", {"changes"})
    return [
        Choice(
            "by",
            "Written by",
            "anybody",
            sorted(((str(pk), name) for pk, name in people.items()), key=lambda each: each[1]),
            by,
            lambda each: str(each.by) == by,
        ),
        Choice(
            "kind",
            "Kind of record",
            "any",
            [(name, f"{title}, {count}") for (name, title), count in sorted(kinds.items())],
            kind,
            lambda each: each.kept.name == kind,
        ),
        Choice(
            "only",
            "Show",
            "everything",
            [("changes", "what was changed or voided later")],
            only,
            lambda each: not each.is_first,
        ),
    ]


def _chosen(request: BreweryRequest, name: str, among: set[str]) -> str:
    asked = request.GET.get(name, "")
    return asked if asked in among else ""


def _narrowed(found: Sequence[Writing], choices: Sequence[Choice]) -> list[Writing]:
    asked = [each.keeps for each in choices if each.chosen]
    return [each for each in found if all(keeps(each) for keeps in asked)]
