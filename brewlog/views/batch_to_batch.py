"""Batch to batch: one value of every batch of a recipe, with what tells of a change."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from brewlog.calculations.base import units_of
from brewlog.charts.batch_to_batch import Charts, Usual, charts_of
from brewlog.charts.picture import LETTERS, Picture
from brewlog.charts.plot import Plot, draw
from brewlog.domain.batch_values import (
    MOST_BATCHES,
    BatchValue,
    Series,
    What,
    newest_batches,
    offered,
    series_of,
)
from brewlog.domain.usual import batches_of, usual_run
from brewlog.entries.base import MANAGE
from brewlog.middleware import BreweryRequest
from brewlog.models import Batch, Recipe, Vessel
from brewlog.recording import reading
from brewlog.science.control_charts import SOURCES
from brewlog.views.access import READ, needs
from brewlog.views.entries import THEN
from brewlog.views.links import url_of
from brewlog.views.lists import Column, Heading, Linked, Row, Word, get, show_cells, spreadsheet
from brewlog.views.reader import Reader, reader_of

_MOST_NAMED = 12


@dataclass(frozen=True)
class Choice:
    """One of the choices above the picture."""

    name: str
    title: str
    options: list[tuple[str, str]]
    chosen: str


@dataclass(frozen=True)
class Asked:
    """What the address asks for: a recipe's batches, and a value of each."""

    recipe: Recipe | None
    what: What
    series: Series
    charts: Charts
    choices: list[Choice]
    vessel: Vessel | None = None
    usual: Usual | None = None

    @property
    def lost(self) -> bool:
        """Whether something was fixed that cannot be drawn any more."""
        return self.usual is not None and self.usual.chart is None


@dataclass(frozen=True)
class _Line:
    """A batch in the table: its number along the foot of the picture, and what tells of it."""

    number: int
    value: BatchValue
    step: str
    told: tuple[str, ...]


def _told_word(line: _Line) -> Any:
    return Word("; ".join(line.told), "look") if line.told else ""


_COLUMNS = (
    Column("batch", "Batch", lambda line: Linked(line.value.batch.code, line.value.batch)),
    Column("number", "Number", get("number"), number=True),
    Column("vessel", "Vessel", lambda line: line.value.batch.vessel),
    Column("when", "Read", lambda line: line.value.when),
    Column("value", "Value", lambda line: line.value.words, number=True),
    Column("step", "From the batch before", get("step"), number=True),
    Column("told", "Tells of a change", _told_word),
)


def batch_to_batch_url(recipe_id: int, **query: Any) -> str:
    """The page for a recipe."""
    return f"{reverse('batch-to-batch')}?{urlencode({'recipe': recipe_id, **query})}"


@require_safe
@needs(READ)
def batch_to_batch(request: BreweryRequest) -> HttpResponse:
    """The values of a recipe's batches as a control chart, and as a table."""
    with reading():
        asked = _asked(request)
    charts = asked.charts
    drawn = [
        _picture("values", charts.values, "Each value is a batch."),
        _picture("steps", charts.ranges, "Each value is the step from the batch before."),
    ]
    rows = _rows(asked, reader_of(request))
    context = {
        "here": "records",
        "asked": asked,
        "pictures": [each for each in drawn if each],
        "columns": [Heading(column, "", "") for column in _COLUMNS],
        "rows": rows,
        "told_rows": [row for row in rows if row.cells[-1].tone],
        "left_out": [_left_out(why, batches) for why, batches in asked.series.missing.items()],
        "rules": SOURCES.items(),
        "run_url": url_of(asked.usual.run) if asked.usual else "",
        "fix_url": _fix_url(request, asked),
        "most": MOST_BATCHES,
        "download_query": request.GET.urlencode(),
    }
    return render(request, "brewlog/batch_to_batch.html", context)


@require_safe
@needs(READ)
def batch_to_batch_download(request: BreweryRequest, ending: str) -> HttpResponse:
    """The table as a CSV or an XLSX file."""
    if ending not in {"csv", "xlsx"}:
        raise Http404(f"The values are downloaded as csv or xlsx, not as {ending}.")
    with reading():
        asked = _asked(request)
    rows = _rows(asked, reader_of(request))
    return spreadsheet(
        f"batch-to-batch-{asked.what.slug}", "Batch to batch", _COLUMNS, rows, ending
    )


def _asked(request: BreweryRequest) -> Asked:
    """What is asked for; a recipe, a vessel or a value that there is not is taken as unasked."""
    recipes = list(
        Recipe.objects.live().filter(versions__batches__pitched_at__isnull=False).distinct()
    )
    recipe = _chosen(recipes, request.GET.get("recipe", "")) or next(iter(recipes), None)
    batches = newest_batches(recipe.pk) if recipe else []
    whats = offered(batches[-1] if batches else None)
    what = next((each for each in whats if each.slug == request.GET.get("what")), whats[0])
    vessels = sorted({each.vessel for each in batches if each.vessel}, key=lambda each: each.name)
    vessel = _chosen(vessels, request.GET.get("vessel", ""))
    if vessel is not None:
        assert recipe is not None
        batches = newest_batches(recipe.pk, vessel.pk)
    in_us = units_of(request.user).us
    series = series_of(what, batches, in_us=in_us)
    usual = _usual(recipe, what, vessel, in_us=in_us)
    choices = [
        Choice("recipe", "Recipe", _options(recipes), str(recipe.pk) if recipe else ""),
        Choice("what", "Value", [(each.slug, each.title) for each in whats], what.slug),
        Choice(
            "vessel", "Vessel", [("", "any"), *_options(vessels)], str(vessel.pk) if vessel else ""
        ),
    ]
    return Asked(recipe, what, series, charts_of(series, usual), choices, vessel, usual)


def _usual(
    recipe: Recipe | None, what: What, vessel: Vessel | None, *, in_us: bool
) -> Usual | None:
    """What was fixed for this chart, with the values it was fixed from."""
    run = usual_run(recipe.pk, what.slug, vessel.pk if vessel else None) if recipe else None
    return Usual(run, series_of(what, batches_of(run), in_us=in_us)) if run else None


def _fix_url(request: BreweryRequest, asked: Asked) -> str:
    """The way to fix the batches shown as what is usual, for who may; '' for others."""
    values = asked.series.values
    if not (asked.recipe and values and request.user.has_perm(MANAGE)):
        return ""
    given = {
        "recipe": asked.recipe.name,
        "figure": asked.what.slug,
        "first": values[0].batch.code,
        "last": values[-1].batch.code,
        "vessel": asked.vessel.name if asked.vessel else "",
        THEN: request.get_full_path(),
    }
    return f"{reverse('entry', args=['fix-usual'])}?{urlencode(given)}"


def _chosen(among: Iterable[Any], key: str) -> Any:
    return next((each for each in among if str(each.pk) == key), None)


def _options(among: Iterable[Recipe | Vessel]) -> list[tuple[str, str]]:
    return [(str(each.pk), each.name) for each in among]


def _picture(key: str, plot: Plot | None, sentence: str) -> Picture | None:
    """The table of the page has every value, so the picture brings none of its own."""
    if plot is None:
        return None
    lines = [f"{limit.words} {plot.unit}" for limit in plot.limits if limit.words]
    told = [f"{mark.words} from {mark.when} on" for mark in plot.marks]
    described = ". ".join([f"{len(plot.points)} values", *lines, *told])
    return Picture(
        key,
        plot.title,
        described=f"{described}. {sentence} {plot.key} The table below has every value.",
        drawing=lambda width: draw(plot, width, LETTERS),
    )


def _rows(asked: Asked, reader: Reader) -> list[Row]:
    values = asked.series.values
    places = asked.what.places
    lines = []
    for at, value in enumerate(values):
        step = f"{abs(value.value - values[at - 1].value):.{places}f}" if at else ""
        lines.append(_Line(at + 1, value, step, asked.charts.told[at]))
    return [show_cells(_COLUMNS, line, reader) for line in reversed(lines)]


def _left_out(why: str, batches: list[Batch]) -> str:
    """Batches without the value, and why: the newest of many."""
    codes = [batch.code for batch in batches[::-1]]
    named = ", ".join(codes[:_MOST_NAMED])
    more = len(codes) - _MOST_NAMED
    return f"{why}: {named}{f' and {more} more' if more > 0 else ''}"
