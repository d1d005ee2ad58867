"""What several pages of registers show: the newest lots, and the columns of their tables."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.urls import reverse

from brewlog.ledger import with_on_hand
from brewlog.models import BottlingLot, CultureLot, IngredientLot
from brewlog.views.facts import Fact
from brewlog.views.lists import Column, choice, get, link
from brewlog.views.nouns.parts import CODE, ON_HAND, STANDING, WHEN

# A page shows the newest of what there can be very many of; the list has them all.
NEWEST = 100

TRANSFERS = Column("transfers", "Transfers since bought", get("transfers"), number=True)


def newest(rows: Any) -> Any:
    """The newest of them with what there is of each, which is not worked out for the others."""
    keys = list(rows.order_by("-id").values_list("pk", flat=True)[:NEWEST])
    return with_on_hand(rows.filter(pk__in=keys)).order_by("-id")


def lots_of(model: Any, **where: Any) -> Any:
    return newest(model.objects.filter(**where))


def deliveries(**where: Any) -> Any:
    return newest(IngredientLot.objects.filter(**where).select_related("ingredient", "supplier"))


DELIVERY_COLUMNS = (
    CODE,
    STANDING,
    Column("made", "Received", get("made_text"), number=True),
    ON_HAND,
    Column("supplier", "Supplier", link("supplier")),
    Column("supplier_code", "Supplier's lot", get("supplier_code")),
    Column("best_before", "Best before", get("best_before")),
    WHEN,
)
BATCH_COLUMNS = (CODE, Column("recipe", "Recipe", get("recipe")), STANDING, ON_HAND, WHEN)
BOTTLING_COLUMNS = (
    CODE,
    Column("flavour", "Flavour", link("flavour")),
    Column("format", "Format", link("format")),
    STANDING,
    Column("made", "Filled", get("made"), number=True),
    ON_HAND,
    WHEN,
)
CULTURE_COLUMNS = (
    CODE,
    Column("origin", "Origin", choice("origin")),
    STANDING,
    ON_HAND,
    TRANSFERS,
    WHEN,
)


def bottlings(**where: Any) -> Any:
    return newest(BottlingLot.objects.filter(**where).select_related("flavour", "format"))


def cultures(**where: Any) -> Any:
    return newest(CultureLot.objects.filter(**where).select_related("line", "vessel"))


def stock_over_time(name: str) -> Callable[[Any], list[Fact]]:
    """The way to what there was of it over time."""
    return lambda found: [Fact("Stock over time", "a picture", reverse(name, args=[found.pk]))]
