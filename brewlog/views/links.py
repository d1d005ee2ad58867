"""Where a record is shown."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.db import models
from django.urls import reverse

from brewlog.models import (
    CalibrationPoint,
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
# The link to what an event is about, the first that is there.
_OWNER_FIELDS = ("into", "lot", "instrument", "keg", "shipment", "recipe", "version", "location")


def lot_url(code: str, page: str = "lot-detail", **query: Any) -> str:
    """The page of a lot; a voided one is told apart by its `entry` number."""
    address = reverse(page, args=[code])
    return f"{address}?{urlencode(query)}" if query else address


def url_of(record: Any) -> str:
    """The page a record is shown on: its own, that of what it is about, or the bare entry."""
    if isinstance(record, Lot):
        return lot_url(record.code, entry=record.pk) if record.is_void else lot_url(record.code)
    if type(record) in DETAIL_NOUN:
        return reverse(f"{DETAIL_NOUN[type(record)]}-detail", args=[record.pk])
    if isinstance(record, RoleChange):
        return url_of(record.person)
    if isinstance(record, CalibrationPoint):
        return url_of(record.calibration)
    for name in _OWNER_FIELDS:
        owner = getattr(record, name, None)
        if isinstance(owner, models.Model):
            return url_of(owner)
    return reverse("record-detail", args=kind_and_key(record))


def kind_and_key(record: models.Model) -> tuple[str, int]:
    """The `model` and `pk` in the address of a record's history, correction and voiding."""
    found = record.detail if isinstance(record, Lot) else record
    return str(found._meta.model_name), int(found.pk)
