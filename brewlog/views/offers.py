"""Likely answers offered below a text box: lots by what they are, recipe versions."""

from __future__ import annotations

import zoneinfo
from collections.abc import Iterable
from dataclasses import dataclass, field

from django import forms
from django.db.models import Q, QuerySet
from django.utils import timezone

from brewlog.forms.fields import LotField
from brewlog.forms.instruments import BottleField
from brewlog.forms.people import ZoneField
from brewlog.forms.recipes import RecipeVersionField
from brewlog.ledger import with_on_hand
from brewlog.models import BufferBottle, IngredientLot, Lot, LotKind, RecipeVersion
from brewlog.models.lots import DESCRIBED
from brewlog.views.reader import Reader

MOST_OFFERED = 60
# What is on hand is worked out lot by lot, so a list of likely answers looks back so far.
MOST_LOOKED_AT = 1500


@dataclass(frozen=True)
class Offer:
    """One likely answer: what is written, and what it is."""

    value: str
    label: str


@dataclass
class Offers:
    """The lists of a page, and which field takes which: `lists` by id, `fields` by id."""

    lists: dict[str, list[Offer]] = field(default_factory=dict)
    fields: dict[str, str] = field(default_factory=dict)


def offers_for(entry_forms: Iterable[forms.Form], reader: Reader) -> Offers:
    """The lists that the forms' fields need, one query for each combination of kinds."""
    found = Offers()
    for form in entry_forms:
        for bound in form:
            if isinstance(bound.field, LotField):
                kinds = sorted(bound.field.kinds)
                list_id = "lots-" + "-".join(kinds)
                if list_id not in found.lists:
                    found.lists[list_id] = likely_lots(kinds, reader)
            elif isinstance(bound.field, RecipeVersionField):
                list_id = "recipe-versions"
                if list_id not in found.lists:
                    found.lists[list_id] = _recipe_versions()
            elif isinstance(bound.field, BottleField):
                list_id = "buffer-bottles"
                if list_id not in found.lists:
                    found.lists[list_id] = _buffer_bottles(reader)
            elif isinstance(bound.field, ZoneField):
                list_id = "time-zones"
                zones = sorted(zone for zone in zoneinfo.available_timezones() if "/" in zone)
                found.lists[list_id] = [Offer(zone, "") for zone in zones]
            else:
                continue
            found.fields[bound.auto_id] = list_id
    return found


def likely_lots(kinds: Iterable[str], reader: Reader) -> list[Offer]:
    """The newest live lots of those kinds with something on hand, or not measured yet."""
    candidates = Lot.objects.live().filter(kind__in=list(kinds)).order_by("-id")
    lots = usable(with_on_hand(Lot.objects.filter(pk__in=candidates.values("pk")[:MOST_LOOKED_AT])))
    newest = lots.filter(Q(on_hand__gt=0) | Q(made__isnull=True)).order_by("-id")
    return [
        Offer(lot.code, f"{lot.detail.describe()}, {_amount(lot, reader)}")  # type: ignore[attr-defined]
        for lot in newest.select_related(*DESCRIBED)[:MOST_OFFERED]
    ]


def usable(lots: QuerySet[Lot]) -> QuerySet[Lot]:
    """Without rejected deliveries and retired starters."""
    return lots.exclude(
        kind=LotKind.INGREDIENT,
        as_ingredient__acceptance=IngredientLot.Acceptance.REJECTED,
    ).exclude(kind=LotKind.CULTURE, as_culture__retired_at__isnull=False)


def _amount(lot: Lot, reader: Reader) -> str:
    on_hand: int = lot.on_hand  # type: ignore[attr-defined]
    if lot.made is None and on_hand <= 0:
        return "not measured yet"
    return f"{reader.amount(on_hand, lot.dimension)} on hand"


def _buffer_bottles(reader: Reader) -> list[Offer]:
    """What is on the shelf and in date, by its pH."""
    bottles = BufferBottle.objects.live().filter(in_use=True, expires_on__gte=timezone.localdate())
    return [
        Offer(bottle.name, f"good until {reader.day(bottle.expires_on)}")
        for bottle in bottles.order_by("nominal_ph", "expires_on", "id")[:MOST_OFFERED]
    ]


def _recipe_versions() -> list[Offer]:
    versions = RecipeVersion.objects.live().select_related("recipe").order_by("-id")
    return [
        Offer(str(version), "approved" if version.is_approved else "not approved yet")
        for version in versions[:MOST_OFFERED]
    ]
