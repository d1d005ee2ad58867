"""Counts suggested while the bottling form is filled in. Nothing is saved; nobody's figure is
overwritten."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar
from urllib.parse import urlencode

from django.core.exceptions import ValidationError
from django.urls import reverse

from brewlog.calculations.base import Answer, units_of
from brewlog.calculations.bottling import FlavourWanted, FormatThere, counted, plan_answer
from brewlog.calculations.past_bottlings import is_cap, is_label, stock_of, words
from brewlog.entries.base import Entry
from brewlog.middleware import BreweryRequest
from brewlog.models import Flavour, Format, Ingredient, Lot, LotKind
from brewlog.science.errors import OutOfRange
from brewlog.units import Dimension, Quantity
from brewlog.views.entry_page import EntryPage, longer_page, sent_page


@dataclass(frozen=True)
class Suggestion:
    """The form as typed, with planned counts where there were none; why, or why not."""

    page: EntryPage[Entry]
    answer: Answer | None = None
    problem: str = ""
    plan_url: str = ""
    template: ClassVar[str] = "brewlog/_suggestion.html"


@dataclass
class _Typed:
    """What stands in the bottling form so far, as far as it can be read."""

    drink: int
    rows: list[tuple[Flavour, Format, Quantity | None] | None]
    additions: list[tuple[Lot, Quantity | None, Flavour | None, Format | None]]
    batches: list[Lot]

    @property
    def pairs(self) -> list[tuple[Flavour, Format, Quantity | None]]:
        return [row for row in self.rows if row is not None]


def suggest_counts(request: BreweryRequest, entry: Entry) -> Suggestion:
    """Planned counts for the flavours and formats typed, each flavour an equal share.

    The drink is what was typed as drawn. Liquid flavouring typed for a flavour displaces
    drink in it. Bottles, caps and labels are limited by what is on hand of the packaging
    whose lots are typed.
    """
    page = longer_page(request, entry, "")
    typed = _read(sent_page(request, entry))
    plan_url = f"{reverse('calculation', args=['bottling-plan'])}?{urlencode(_plan_fields(typed))}"
    problem = _missing(typed)
    if problem:
        return Suggestion(page, problem=problem, plan_url=plan_url)
    formats = list(dict.fromkeys(format for _, format, _ in typed.pairs))
    only = [(flavour.name, format.name) for flavour, format, _ in typed.pairs]
    units = units_of(request.user)
    try:
        found = counted(typed.drink / 1e6, _flavours(typed), _formats(typed), only)
    except OutOfRange as error:
        return Suggestion(page, problem=units.sentence(error), plan_url=plan_url)
    except ValidationError as error:
        return Suggestion(page, problem=" ".join(error.messages), plan_url=plan_url)
    _fill_in(page, typed, found.counts)
    return Suggestion(page, plan_answer(found, formats, None, None, units), plan_url=plan_url)


def _missing(typed: _Typed) -> str:
    if not typed.drink:
        return "Write the batch and how much is drawn of it; the counts follow from that."
    if not typed.pairs:
        return "Choose at least one flavour with its format; the counts follow from that."
    return ""


def _read(page: EntryPage[Entry]) -> _Typed:
    """What can be read of the rows; what cannot is left for the form itself to ask about."""
    page.is_valid()
    rows = {rows.lines.name: [form.cleaned_data for form in rows.forms] for rows in page.rows}
    draws = [row for row in rows["draws"] if row.get("quantity") and row.get("source")]
    return _Typed(
        drink=sum(row["quantity"].canonical for row in draws),
        rows=[_pair(row) for row in rows["outputs"]],
        additions=[
            (row["source"], row.get("quantity"), row.get("flavour"), row.get("format"))
            for row in rows["additions"]
            if row.get("source")
        ],
        batches=[row["source"] for row in draws],
    )


def _pair(row: dict[str, Any]) -> tuple[Flavour, Format, Quantity | None] | None:
    if not row.get("flavour") or not row.get("format"):
        return None
    return row["flavour"], row["format"], row.get("fill")


def _flavours(typed: _Typed) -> list[FlavourWanted]:
    """Each flavour once, with the mL that a litre of it takes of the flavouring typed."""
    flavours = list(dict.fromkeys(flavour for flavour, _, _ in typed.pairs))
    label = _stock(typed, is_label)
    wanted = []
    for flavour in flavours:
        added = sum(
            Decimal(quantity.canonical) / (1 if only else len(flavours))
            for _, quantity, only, _ in typed.additions
            if quantity is not None
            and quantity.dimension == Dimension.VOLUME
            and (only is None or only.pk == flavour.pk)
        )
        whole = added + Decimal(typed.drink) / len(flavours)
        wanted.append(
            FlavourWanted(
                flavour,
                per_litre=1000 * added / whole if added else None,
                label=label[0] if label else "",
                labels=label[1] if label else None,
            )
        )
    return wanted


def _formats(typed: _Typed) -> list[FormatThere]:
    fills: dict[Format, Quantity | None] = {}
    for _, format, fill in typed.pairs:
        if format in fills and fills[format] != fill:
            raise ValidationError(f"{format} stands here with two fills. Plan one at a time.")
        fills[format] = fill
    formats = []
    for format, fill in fills.items():
        bottles = _stock(typed, lambda each: not is_cap(each) and not is_label(each), format)
        cap = _stock(typed, is_cap, format)
        formats.append(
            FormatThere(
                format,
                bottles=bottles[1] if bottles and _is_for_one(typed, bottles[0], format) else None,
                cap=cap[0] if cap else "",
                caps=cap[1] if cap else None,
                fill=fill,
            )
        )
    return formats


def _packaging(typed: _Typed) -> list[tuple[Ingredient, Format | None]]:
    return [
        (lot.detail.ingredient, format)  # type: ignore[attr-defined]
        for lot, _, _, format in typed.additions
        if lot.kind == LotKind.INGREDIENT
        and lot.detail.ingredient.kind == Ingredient.Kind.PACKAGING  # type: ignore[attr-defined]
    ]


def _is_for_one(typed: _Typed, name: str, format: Format) -> bool:
    """Whether those empty bottles are this format's: the only one, so called, or said so."""
    formats = {each.pk for _, each, _ in typed.pairs}
    if words(format.name) <= words(name):
        return True
    named = [each for ingredient, each in _packaging(typed) if ingredient.name == name]
    return len(formats) == 1 or any(each is not None and each.pk == format.pk for each in named)


def _stock(typed: _Typed, wanted: Any, format: Format | None = None) -> tuple[str, int] | None:
    """The packaging typed of that sort, for that format: its name, and what is on hand."""
    for ingredient, only in _packaging(typed):
        fits = format is None or only is None or only.pk == format.pk
        if fits and wanted(ingredient):
            return ingredient.name, stock_of({ingredient.pk})[ingredient.pk]
    return None


def _fill_in(page: EntryPage[Entry], typed: _Typed, counts: dict[tuple[str, str], int]) -> None:
    """The counts as planned, where nothing was written. One row takes a pair's count."""
    left = dict(counts)
    rows = next(rows for rows in page.rows if rows.lines.name == "outputs")
    for form, pair in zip(rows.forms, typed.rows, strict=False):
        if pair is None:
            continue
        count = left.pop((pair[0].name, pair[1].name), None)
        if count and not form.initial.get("planned_count"):
            form.initial["planned_count"] = f"{count}"


def _plan_fields(typed: _Typed) -> dict[str, str]:
    """The plan page filled with what is typed here."""
    fields = {}
    if typed.drink:
        fields["drink"] = f"{Decimal(typed.drink) / 1_000_000} L"
    if len(typed.batches) == 1:
        fields["batch"] = typed.batches[0].code
    flavours = list(dict.fromkeys(flavour.name for flavour, _, _ in typed.pairs))
    formats = list(dict.fromkeys(format.name for _, format, _ in typed.pairs))
    for lines, field, names in (("flavours", "flavour", flavours), ("formats", "format", formats)):
        if names:
            fields[f"{lines}-rows"] = f"{len(names)}"
        fields |= {f"{lines}-{number}-{field}": name for number, name in enumerate(names)}
    return fields
