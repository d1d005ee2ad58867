"""What the recipe takes, filled into the rows of a form as planned, to be weighed and mended.

Nothing is recorded, and no row that somebody wrote in is changed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, ClassVar

from brewlog.calculations.amounts import recipe_amounts
from brewlog.calculations.oldest_first import (
    Offer,
    offer_ingredient,
    offer_starter,
    offer_sweet_tea,
)
from brewlog.domain.recipes import ScaledLine, scale
from brewlog.entries.base import Entry
from brewlog.middleware import BreweryRequest
from brewlog.models import Batch, LotKind, LotUse, RecipeLine, RecipeVersion
from brewlog.units import Dimension, Quantity
from brewlog.views.entry_page import EntryPage, longer_page, prefilled_page, sent_page
from brewlog.views.reader import Reader, reader_of

_ROWS = "lines"


@dataclass(frozen=True)
class FromRecipe:
    """The form with planned amounts where nothing was written; what was filled in, or why not."""

    page: EntryPage[Entry]
    recipe: RecipeVersion | None = None
    volume: str = ""
    told: list[str] = field(default_factory=list)
    problem: str = ""
    template: ClassVar[str] = "brewlog/_from_recipe.html"


@dataclass(frozen=True)
class _Wanted:
    """A recipe and a volume, and the lines of it that are still to go in."""

    recipe: RecipeVersion
    volume: Quantity
    lines: list[ScaledLine]
    has_tea: bool = False


class _Missing(Exception):
    """What has to be written first, in words."""


def fill_from_recipe(request: BreweryRequest, entry: Entry) -> FromRecipe:
    """A brew's, a filling's or a starter's rows, as its recipe has them for its volume."""
    page = longer_page(request, entry, "")
    typed = sent_page(request, entry)
    typed.is_valid()  # what cannot be read is left for the form itself to ask about
    try:
        wanted = _WANTED[entry.slug](typed.form.cleaned_data)
    except _Missing as missing:
        return FromRecipe(page, problem=str(missing))
    offers, untold = _offers(entry.slug, wanted, _ingredients_typed(typed))
    reader = reader_of(request)
    (rows,) = [rows for rows in page.rows if rows.lines.name == _ROWS]
    written = [dict(form.initial) for form in rows.forms if any(form.initial.values())]
    filled = [row for offer in offers for row in _rows_of(offer, reader)]
    return FromRecipe(
        prefilled_page(request, entry, dict(page.form.initial), {_ROWS: [*written, *filled]}),
        wanted.recipe,
        reader.amount(wanted.volume.canonical, Dimension.VOLUME),
        [*(_words(offer, reader) for offer in offers), *untold],
    )


# What is wanted --------------------------------------------------------------------------


def _wanted_of_brew(typed: dict[str, Any]) -> _Wanted:
    """Sweet tea is brewed without the starter."""
    recipe, volume = typed.get("recipe"), typed.get("planned") or typed.get("quantity")
    if recipe is None or volume is None:
        raise _Missing("Write the recipe version and the planned volume; the amounts follow.")
    _refuse_unapproved(recipe)
    lines = [each for each in scale(recipe, volume) if each.line.role != RecipeLine.Role.STARTER]
    return _Wanted(recipe, volume, lines)


def _wanted_of_batch(typed: dict[str, Any]) -> _Wanted:
    """What is planned for the batch and did not go in yet."""
    lot = typed.get("batch")
    batch = lot.detail if lot is not None else None
    if not isinstance(batch, Batch):
        raise _Missing("Write the batch; the amounts follow from its recipe and planned volume.")
    if batch.recipe is None or batch.planned is None:
        raise _Missing(
            f"{batch} was begun without a recipe or a planned volume: correct it to add them, or "
            "write what goes in below."
        )
    _refuse_unapproved(batch.recipe)
    amounts = recipe_amounts(batch)
    return _Wanted(
        batch.recipe,
        Quantity(batch.planned, Dimension.VOLUME, batch.planned_text),
        [each.planned for each in amounts if each.went_in is None],
        has_tea=LotUse.objects.live().filter(into=batch.pk, source__kind=LotKind.BREW).exists(),
    )


def _refuse_unapproved(recipe: RecipeVersion) -> None:
    if not recipe.is_approved:
        raise _Missing(f"{recipe} is not approved. Amounts are filled in once it is.")


_WANTED = {"brew": _wanted_of_brew, "fill": _wanted_of_batch, "pitch": _wanted_of_batch}


def _ingredients_typed(page: EntryPage[Entry]) -> set[int]:
    """What the rows name a lot of already."""
    lots = [form.cleaned_data.get("source") for rows in page.rows for form in rows.filled]
    return {lot.detail.ingredient_id for lot in lots if lot and lot.kind == LotKind.INGREDIENT}


# What is offered for it ------------------------------------------------------------------


def _offers(slug: str, wanted: _Wanted, typed: set[int]) -> tuple[list[Offer], list[str]]:
    """What to fill in; in words, what is not kept in lots."""
    starters = [each for each in wanted.lines if each.line.role == RecipeLine.Role.STARTER]
    if slug == "pitch":
        return [offer_starter(each.amount) for each in starters], []
    if slug == "fill" and wanted.has_tea:
        return [], []  # the rest went in with the sweet tea
    if slug == "fill" and not typed:
        starter = sum(each.amount for each in starters if each.line.dimension == Dimension.VOLUME)
        tea = offer_sweet_tea(wanted.recipe, wanted.volume.canonical - starter)
        if tea is not None:
            return [tea], []
    offers, untold = [], []
    for each in wanted.lines:
        ingredient = each.line.ingredient
        if ingredient is None or ingredient.pk in typed:
            continue
        offer = offer_ingredient(ingredient, each.amount)
        if each.line.role == RecipeLine.Role.WATER and not offer.takes:
            untold.append(f"{each}: no lot of it is kept here, so it has no row.")
        else:
            offers.append(offer)
    return offers, untold


def _rows_of(offer: Offer, reader: Reader) -> Iterable[dict[str, str]]:
    """A row for each lot; one without a lot for what is still to be found."""
    for take in offer.takes:
        yield {
            "source": take.lot.code,
            "quantity": reader.amount(take.amount, offer.dimension),
        }
    if offer.missing > 0:
        yield {"source": "", "quantity": reader.amount(offer.missing, offer.dimension)}


def _words(offer: Offer, reader: Reader) -> str:
    """What is filled in, and which other lots there are."""
    said = f"{reader.amount(offer.amount, offer.dimension)} {offer.name}: "
    others = ", ".join(lot.code for lot in offer.others)
    if not offer.takes:
        return said + (f"choose which: {others}." if others else "no lot of it may be used now.")
    taken = [
        f"{reader.amount(take.amount, offer.dimension)} of {take.lot.code}" for take in offer.takes
    ]
    said += f"{', then '.join(taken)}{', the oldest there is' if others else ''}."
    if offer.missing > 0:
        said += f" {reader.amount(offer.missing, offer.dimension)} more is not on the books."
    return f"{said} Also there: {others}." if others else said
