"""From a register to the form that adds to it: where a list is empty, and for one more."""

from __future__ import annotations

from django.db import models
from django.http import HttpRequest
from django.urls import reverse
from django.utils.http import urlencode

from brewlog.entries import BY_SLUG
from brewlog.entries.base import Entry
from brewlog.models import BufferBottle, Shipment
from brewlog.views.links import DETAIL_NOUN

# The entry that adds one is named as its page is.
_ADDED_BY = {
    model: noun for model, noun in DETAIL_NOUN.items() if model not in (BufferBottle, Shipment)
}
_ADDING = frozenset(_ADDED_BY.values())


def adds_to_a_register(entry: Entry) -> bool:
    """Whether it is filled in several times in a row by whoever sets a brewery up."""
    return entry.slug in _ADDING


def adding(request: HttpRequest, model: type[models.Model]) -> tuple[str, str] | None:
    """The title and address of the form that adds one, leading back here; None for who may not."""
    entry = BY_SLUG.get(_ADDED_BY.get(model, ""))
    if entry is None or not request.user.has_perm(entry.permission):
        return None
    back = urlencode({"then": request.get_full_path()})
    return entry.title, f"{reverse('entry', args=[entry.slug])}?{back}"
