"""From a register to the form that adds to it: where a list is empty, and for one more."""

from __future__ import annotations

from django.db import models
from django.http import HttpRequest
from django.urls import reverse
from django.utils.http import urlencode

from brewlog.entries import BY_SLUG
from brewlog.entries.base import Entry
from brewlog.models import (
    CultureLine,
    Customer,
    Flavour,
    Format,
    Ingredient,
    Instrument,
    Keg,
    Location,
    Recipe,
    Supplier,
    User,
    Vessel,
)

ADDED_BY: dict[type[models.Model], str] = {
    CultureLine: "culture-line",
    Customer: "customer",
    Flavour: "flavour",
    Format: "format",
    Ingredient: "ingredient",
    Instrument: "instrument",
    Keg: "keg",
    Location: "location",
    Recipe: "recipe",
    Supplier: "supplier",
    User: "person",
    Vessel: "vessel",
}
_ADDING = frozenset(ADDED_BY.values())


def adds_to_a_register(entry: Entry) -> bool:
    """Whether it is filled in several times in a row by whoever sets a brewery up."""
    return entry.slug in _ADDING


def adding(request: HttpRequest, model: type[models.Model]) -> tuple[str, str] | None:
    """The title and address of the form that adds one, leading back here; None for who may not."""
    entry = BY_SLUG.get(ADDED_BY.get(model, ""))
    if entry is None or not request.user.has_perm(entry.permission):
        return None
    back = urlencode({"then": request.get_full_path()})
    return entry.title, f"{reverse('entry', args=[entry.slug])}?{back}"
