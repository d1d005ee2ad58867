"""Where a record is shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

from django.db import models
from django.urls import reverse

from brewlog.models import (
    BufferBottle,
    CalibrationPoint,
    Checkpoint,
    CultureLine,
    Customer,
    Flavour,
    Format,
    Ingredient,
    Instrument,
    Keg,
    Location,
    Lot,
    Recipe,
    RoleChange,
    Shipment,
    Supplier,
    User,
    Vessel,
)

# Nouns with a page of their own; everything else is shown on the page of what it is about.
DETAIL_NOUN: dict[type[models.Model], str] = {
    BufferBottle: "buffer-bottle",
    CultureLine: "culture-line",
    Customer: "customer",
    Flavour: "flavour",
    Format: "format",
    Ingredient: "ingredient",
    Instrument: "instrument",
    Keg: "keg",
    Location: "location",
    Recipe: "recipe",
    Shipment: "shipment",
    Supplier: "supplier",
    User: "person",
    Vessel: "vessel",
}
# Pages that other apps have for records: they add them when they are loaded.
FURTHER_PAGES: dict[type[models.Model], Callable[[Any], str]] = {}
# The link to what an event is about, the first that is there.
_OWNER_FIELDS = ("into", "lot", "instrument", "keg", "shipment", "recipe", "version", "location")


def lot_url(code: str, page: str = "lot-detail", **query: Any) -> str:
    """The page of a lot; a voided one is told apart by its `entry` number."""
    address = reverse(page, args=[code])
    return f"{address}?{urlencode(query)}" if query else address


def page_of(record: Any) -> Any:
    """What has the page that shows a record: itself, or what it is about."""
    # The person at hand comes wrapped: its class tells what it is, its type does not.
    if isinstance(record, Lot) or record.__class__ in {*DETAIL_NOUN, *FURTHER_PAGES}:
        return record
    if isinstance(record, RoleChange):
        return record.person
    if isinstance(record, CalibrationPoint):
        return page_of(record.calibration)
    for name in _OWNER_FIELDS:
        owner = getattr(record, name, None)
        if isinstance(owner, models.Model):
            return page_of(owner)
    return record


def url_of(record: Any) -> str:
    """The page a record is shown on: its own, that of what it is about, or the bare entry."""
    found = page_of(record)
    if isinstance(found, Lot):
        return lot_url(found.code, entry=found.pk) if found.is_void else lot_url(found.code)
    if found.__class__ in FURTHER_PAGES:
        return FURTHER_PAGES[found.__class__](found)
    if found.__class__ in DETAIL_NOUN:
        return reverse(f"{DETAIL_NOUN[found.__class__]}-detail", args=[found.pk])
    return reverse("record-detail", args=kind_and_key(found))


def after_url(record: Any) -> str:
    """Where a record just written is shown: a reading of a lot with what it says, on its lot's."""
    address = url_of(record)
    is_reading = isinstance(record, Checkpoint) and record.lot_id is not None
    return f"{address}?{urlencode({'reading': record.pk})}" if is_reading else address


def entry_url(record: models.Model) -> str:
    """The page of the entry itself, where it is corrected, voided and has its history."""
    further = FURTHER_PAGES.get(record.__class__)
    return further(record) if further else reverse("record-detail", args=kind_and_key(record))


def kind_and_key(record: models.Model) -> tuple[str, int]:
    """The `model` and `pk` in the address of a record's history, correction and voiding."""
    found = record.detail if isinstance(record, Lot) else record
    return str(found._meta.model_name), int(found.pk)
