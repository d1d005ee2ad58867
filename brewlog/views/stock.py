"""Stock over time: what there was of an ingredient, of a lot, of a flavour's bottles."""

from __future__ import annotations

import datetime as dt
import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Q
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from brewlog.charts.picture import LETTERS, Picture
from brewlog.charts.plot import draw
from brewlog.charts.stock import Planned, Span, span_days, spans, stock_plot
from brewlog.domain.planned import Need, planned_needs
from brewlog.forms.base import EntryForm
from brewlog.forms.fields import DayField
from brewlog.middleware import BreweryRequest
from brewlog.models import (
    BottlingLot,
    Flavour,
    Format,
    Ingredient,
    IngredientLot,
    Lot,
    StockAdjustment,
)
from brewlog.movements import Course, Movement, Way, courses
from brewlog.recording import reading
from brewlog.units import Dimension
from brewlog.views.access import READ, needs
from brewlog.views.details import Link
from brewlog.views.entry_page import form_problems
from brewlog.views.links import lot_url
from brewlog.views.lists import spreadsheet_of
from brewlog.views.lots import find_lot, unknown_lot
from brewlog.views.reader import NOTHING, Reader, reader_of
from brewlog.when import on_day

# Shown where nothing else is asked for.
_USUAL = dt.timedelta(days=90)
# What is so far past its date and still on the books is a matter for a stock count.
LONG_PAST = dt.timedelta(days=400)
# In the address of a download: which of the page's pictures.
_PICTURE = "picture"
_REASONS = dict(StockAdjustment.Reason.choices)


class PeriodForm(EntryForm):
    """From the beginning of one day to the end of another."""

    since = DayField(label="From")
    until = DayField(label="To")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        since, until = cleaned.get("since"), cleaned.get("until")
        if since and until and until < since:
            raise ValidationError({"until": "This is before the first day. Write a later one."})
        return cleaned


class Period:
    """The days asked for; the usual ones where none are, or where they cannot be read."""

    def __init__(self, request: BreweryRequest, first: dt.date | None = None) -> None:
        today = timezone.localdate()
        usual = {"since": first or today - _USUAL, "until": today}
        asked = {name: request.GET.get(name) or str(day) for name, day in usual.items()}
        is_asked = any(request.GET.get(name) for name in usual)
        self.form = PeriodForm(
            asked if is_asked else None,
            actor=request.user,
            brewery=request.brewery,
            initial=usual,
        )
        self.problems = form_problems(self.form) if is_asked else []
        days = self.form.cleaned_data if is_asked and not self.problems else usual
        self.first: dt.date = days["since"]
        self.last: dt.date = min(days["until"], today)
        self.is_until_now = days["until"] >= today

    @property
    def since(self) -> dt.datetime:
        return on_day(self.first).at

    @property
    def until(self) -> dt.datetime:
        """The end of the last day, or now."""
        end = on_day(self.last + dt.timedelta(days=1)).at
        return max(self.since, min(end, timezone.now()))


@dataclass(frozen=True)
class Stock:
    """What a page of stock shows: of what, in which days, a picture for each kind of it."""

    page: Link
    kind: str
    period: Period
    pictures: list[Picture]
    notes: list[str]


# Each page has its downloads at the same address with an ending: one picture's rows.


@require_safe
@needs(READ)
def ingredient_stock(request: BreweryRequest, pk: int, ending: str = "") -> HttpResponse:
    """All deliveries of an ingredient together, and what planned batches would leave of it."""
    return _answer(request, _of_ingredient(request, pk), ending)


@require_safe
@needs(READ)
def flavour_stock(request: BreweryRequest, pk: int, ending: str = "") -> HttpResponse:
    """The bottles of a flavour, each format for itself."""
    return _answer(request, _of_flavour(request, pk), ending)


@require_safe
@needs(READ)
def lot_stock(request: BreweryRequest, code: str, ending: str = "") -> HttpResponse:
    """One lot from its beginning on."""
    lot = find_lot(request, code)
    if lot is None:
        return unknown_lot(request, code)
    return _answer(request, _of_lot(request, lot), ending)


def _of_ingredient(request: BreweryRequest, pk: int) -> Stock:
    ingredient = get_object_or_404(Ingredient, pk=pk)
    period = Period(request)
    with reading():
        every = IngredientLot.objects.live().filter(ingredient=ingredient)
        sound = every.exclude(acceptance=IngredientLot.Acceptance.REJECTED)
        codes = dict(sound.values_list("pk", "code"))
        rejected = every.count() - len(codes)
        found = _course(codes, period, ingredient.dimension)
        need = planned_needs(ingredient).get(ingredient.pk) if period.is_until_now else None
    reader = reader_of(request)
    planned = Planned(found.closing - need.amount) if need else None
    notes = [_planned_words(need, planned, reader)] if need and planned else []
    if rejected:
        notes.append(f"Rejected deliveries are not counted: {rejected}.")
    picture = _picture("stock", "On hand", found, ingredient.dimension, reader, codes, planned)
    page = Link(str(ingredient), reverse("ingredient-detail", args=[pk]))
    return Stock(page, "Ingredient", period, [picture], notes)


def _planned_words(need: Need, planned: Planned, reader: Reader) -> str:
    dimension, batches = need.ingredient.dimension, ", ".join(need.batches)
    if planned.left < 0:
        short = reader.amount(-planned.left, dimension)
        return f"What is planned ({batches}) takes {short} more than there is."
    return f"What is planned ({batches}) would leave {reader.amount(planned.left, dimension)}."


def _of_flavour(request: BreweryRequest, pk: int) -> Stock:
    flavour = get_object_or_404(Flavour, pk=pk)
    period = Period(request)
    recent = Q(best_before__isnull=True) | Q(best_before__gte=period.first - LONG_PAST)
    with reading():
        lots = BottlingLot.objects.live().filter(recent, flavour=flavour)
        groups: dict[int, dict[int, str]] = defaultdict(dict)
        for lot, code, format_pk in lots.values_list("pk", "code", "format"):
            groups[format_pk][lot] = code
        formats = Format.objects.in_bulk(list(groups))
        found = courses(groups, period.since, period.until, Dimension.COUNT)
    reader = reader_of(request)
    pictures = [
        _picture(f"stock-{key}", str(formats[key]), found[key], "count", reader, groups[key])
        for key in sorted(groups, key=lambda key: formats[key].name)
    ]
    note = (
        f"Bottles more than {LONG_PAST.days} days past their date when this time began are left "
        "out: what is on the books of them is a matter for a stock count."
    )
    page = Link(str(flavour), reverse("flavour-detail", args=[pk]))
    return Stock(page, "Flavour", period, pictures, [note])


def _of_lot(request: BreweryRequest, lot: Lot) -> Stock:
    period = Period(request, timezone.localdate(lot.happened_at))
    with reading():
        found = _course([lot.pk], period, lot.dimension)
    reader = reader_of(request)
    picture = _picture("stock", "On hand", found, lot.dimension, reader, {lot.pk: lot.code})
    notes = ["This lot is voided: it counts nowhere else."] if lot.is_void else []
    what = lot.detail.describe()  # type: ignore[attr-defined]
    return Stock(Link(lot.code, lot_url(lot.code)), what, period, [picture], notes)


def _course(lots: Iterable[int], period: Period, dimension: str) -> Course:
    return courses({"all": lots}, period.since, period.until, dimension)["all"]


def _answer(request: BreweryRequest, stock: Stock, ending: str) -> HttpResponse:
    if ending:
        return _download(request, stock, ending)
    context = {
        "here": "records",
        "page": stock.page,
        "kind": stock.kind,
        "form": stock.period.form,
        "problems": stock.period.problems,
        "pictures": [(each, _downloads(request, each)) for each in stock.pictures],
        "notes": stock.notes,
    }
    return render(request, "brewlog/stock.html", context)


def _downloads(request: BreweryRequest, picture: Picture) -> list[Link]:
    """The rows of a picture as files, of the same days."""
    if not picture.rows:
        return []
    query = request.GET.copy()
    query[_PICTURE] = picture.key
    address = request.path.removesuffix("/")
    return [
        Link(ending.upper(), f"{address}.{ending}?{query.urlencode()}")
        for ending in ("csv", "xlsx")
    ]


def _download(request: BreweryRequest, stock: Stock, ending: str) -> HttpResponse:
    """The rows below a picture as they are shown."""
    if ending not in {"csv", "xlsx"}:
        raise Http404(f"Stock over time is downloaded as csv or xlsx, not as {ending}.")
    asked = request.GET.get(_PICTURE, "")
    picture = next((each for each in stock.pictures if asked in ("", each.key)), None)
    if picture is None:
        raise Http404("None of that was ever filled.")
    title = f"{stock.page.title} {picture.title}"
    name = "-".join(re.findall(r"[a-z0-9]+", title.lower()))
    rows = [list(row) for row in picture.rows]
    return spreadsheet_of(f"stock-{name}", "Stock over time", picture.columns, rows, ending)


# The picture and its rows ----------------------------------------------------------------


def _picture(
    key: str,
    title: str,
    found: Course,
    dimension: str,
    reader: Reader,
    codes: dict[int, str],
    planned: Planned | None = None,
) -> Picture:
    """What there was, in a sentence, drawn, and as rows."""

    def words(amount: int) -> str:
        return reader.amount(amount, dimension)

    if not found.steps and not found.opening:
        return Picture(key, title, "There was nothing of it in this time, and nothing moved.")
    days = span_days(found)
    summed = spans(found, days) if days else []
    plot = stock_plot(title, found, dimension, reader.system, words, summed=summed, planned=planned)
    sentence = (
        f"{words(found.opening)} at the beginning, {words(found.closing)} at the end."
        f"{_unexplained(found, words(found.unexplained))}"
    )
    if days:
        span = {1: "each day", 7: "each week"}.get(days, f"every {days} days")
        sentence += f" Drawn as it was at the end of {span}."
        columns, rows = _span_rows(summed, words, reader)
    else:
        columns, rows = _step_rows(found, words, reader, codes)
    return Picture(
        key,
        title,
        sentence,
        columns,
        rows,
        f"{sentence} The table below has every change.",
        lambda width: draw(plot, width, LETTERS),
    )


def _unexplained(found: Course, amount: str) -> str:
    if not found.unexplained:
        return ""
    return f" Unexplained: {amount} more left than the books had. Count what is there."


def _span_rows(
    summed: Sequence[Span], words: Any, reader: Reader
) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    rows = [
        (
            reader.day(each.day),
            words(each.came) if each.came else NOTHING,
            words(each.left) if each.left else NOTHING,
            words(each.there),
            words(each.unexplained) if each.unexplained else NOTHING,
        )
        for each in summed
    ]
    return ("Up to the end of", "Came", "Left", "On hand then", "Unexplained"), tuple(rows)


def _step_rows(
    found: Course, words: Any, reader: Reader, codes: dict[int, str]
) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    rows = [
        (
            reader.when(step.movement.when),
            codes[step.movement.lot_id],
            _what(step.movement),
            words(step.movement.change),
            words(step.there),
            words(step.unexplained) if step.unexplained else NOTHING,
        )
        for step in found.steps
    ]
    return ("When", "Lot", "What", "Change", "On hand then", "Unexplained"), tuple(rows)


_WORDS = {
    Way.POURED_IN: "poured in from {}",
    Way.ADDED: "added from {}",
    Way.USED: "used in {}",
    Way.SHIPPED: "shipped, {}",
}


def _what(movement: Movement) -> str:
    if movement.way == Way.MADE:
        return "came into the books"
    if movement.way == Way.ADJUSTED:
        return str(_REASONS[movement.other])
    return _WORDS[Way(movement.way)].format(movement.other)
