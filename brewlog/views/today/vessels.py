"""What stands in the vessels: waiting for starter, ready to bottle, or planned and empty."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.db.models import Exists, Max, OuterRef, Q, QuerySet, Subquery
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode

from brewlog.calculations.readiness import Readiness, targets_ahead
from brewlog.domain import vessels
from brewlog.entries.base import RECORD
from brewlog.ledger import ids_in
from brewlog.middleware import BreweryRequest
from brewlog.models import Batch, Checkpoint, LotKind, LotUse, Measurand
from brewlog.views.lists import Linked, Word
from brewlog.views.standing import kept_back
from brewlog.views.today.lines import (
    Consequence,
    Form,
    Kind,
    Line,
    Lines,
    count_days,
    days_since,
    entry_form,
    once,
    written,
)

# Told so long before it is likely to be ready.
_AHEAD = dt.timedelta(days=2)


def _last_ph(field: str) -> QuerySet:
    readings = Checkpoint.objects.live().filter(lot=OuterRef("pk"), measurand=Measurand.PH)
    return readings.order_by("-happened_at", "-id").values(field)[:1]


def open_keys() -> list[int]:
    """The keys of the open batches, the newest first. How much is left of thousands of batches
    is worked out once for a page."""
    return list(vessels.open_batches().values_list("pk", flat=True))


def open_batches(keys: Iterable[int]) -> QuerySet[Batch]:
    """The open batches of these keys with their last pH, the newest first."""
    found = vessels.open_batches().filter(pk__in=ids_in(keys))
    return with_last_ph(found.select_related("recipe__recipe", "vessel"))


def with_last_ph(lots: QuerySet) -> QuerySet:
    """The lots with `ph` as it was typed last and `ph_at`; None where none was read."""
    return lots.annotate(
        ph=Subquery(_last_ph("value_text")), ph_at=Subquery(_last_ph("happened_at"))
    )


def _uses_in() -> Exists:
    return Exists(LotUse.objects.live().filter(into=OuterRef("pk")))


def _not_pitched() -> QuerySet[Batch]:
    rows = Batch.objects.live().filter(kind=LotKind.BATCH, pitched_at__isnull=True)
    return rows.select_related("recipe__recipe", "vessel").order_by("happened_at", "pk")


# Waiting for starter -------------------------------------------------------------------------


def without_starter(request: BreweryRequest) -> Lines:
    """Vessels filled with sweet tea and no starter yet: nothing keeps mould from it."""
    filled = _not_pitched().annotate(
        filled_at=Max("uses_in__happened_at", filter=Q(uses_in__voided_at__isnull=True))
    )
    return Lines(
        filled.filter(filled_at__isnull=False).order_by("filled_at", "pk"),
        lambda batch: Line(
            Word(days_since(batch.filled_at), "look"),
            Linked(batch.code, batch),
            f"{batch.describe()}: filled, and no starter in it yet.",
            entry_form("pitch", batch=batch.code),
        ),
    )


STARTER = Kind(
    "no-starter",
    "Sweet tea without starter",
    Consequence.CLOCK,
    without_starter,
    caution="Sweet tea spoils, and moulds grow on it, until it is sour. Let it cool first: hot "
    "tea kills the culture.",
)


# Planned -------------------------------------------------------------------------------------


def planned(request: BreweryRequest) -> Lines:
    """Batches begun on paper whose vessel is empty still."""
    return Lines(
        _not_pitched().filter(~_uses_in()),
        lambda batch: Line(
            Word(days_since(batch.happened_at)),
            Linked(batch.code, batch),
            f"{batch.describe()}: planned{_volume(batch)}, nothing in it yet.",
            entry_form("fill", batch=batch.code),
        ),
    )


def _volume(batch: Batch) -> str:
    return f", {batch.planned_text}" if batch.planned_text else ""


PLANNED = Kind("planned", "Batches to fill", Consequence.WORK, planned)


# Ready to bottle -----------------------------------------------------------------------------


def ready(request: BreweryRequest) -> Lines:
    """Batches that are at their recipe's pH, should be soon, or have had their usual days.

    Settled by bottling: what is left in a vessel after that is no longer forecast.
    """
    batches = _not_bottled(once(request, open_keys))
    if batches:
        held = once(request, kept_back)
        batches = [batch for batch in batches if batch.pk not in held]
    ahead = targets_ahead([batch for batch in batches if not _is_sour(batch)], _gap)
    told = [(batch, _readiness(batch, ahead.get(batch.pk))) for batch in batches]
    lines = [
        Line(said[0], Linked(batch.code, batch), said[1], _day(batch))
        for batch, said in told
        if said
    ]
    return written(sorted(lines, key=lambda line: line.word.tone != "good"))


def _not_bottled(keys: list[int]) -> list[Any]:
    """Those of the open batches that have a recipe, and that nothing was bottled from."""
    if not keys:
        return []
    bottled = LotUse.objects.live().filter(source=OuterRef("pk"), purpose=LotUse.Purpose.DRINK)
    rows = open_batches(keys).filter(
        ~Exists(bottled), pitched_at__isnull=False, recipe__isnull=False
    )
    return list(rows.annotate(ph_value=Subquery(_last_ph("value"))))


def _gap(batch: Any) -> float:
    """How far the last reading is from the pH its recipe asks for."""
    return float(batch.ph_value - batch.recipe.target_ph)


def _is_sour(batch: Any) -> bool:
    target = batch.recipe.target_ph
    return target is not None and batch.ph_value is not None and batch.ph_value <= target


def _readiness(batch: Any, ahead: Readiness | None) -> tuple[Word, str] | None:
    """How a batch stands, and on what that rests; None where it is not ready for days."""
    read = f"{batch.describe()}: pH {batch.ph}" if batch.ph else f"{batch.describe()}: pH not read"
    if _is_sour(batch):
        asked = f"{batch.recipe.target_ph.normalize():f}"
        return Word("at its pH", "good"), f"{read}, the recipe asks for {asked}. Taste it."
    if ahead is not None:
        if ahead.likely is None or ahead.likely > timezone.now() + _AHEAD:
            return None
        by_now = ahead.likely <= timezone.now()
        return Word("by now, read it" if by_now else "soon", "look"), f"{read}. {ahead.words}"
    usual = batch.recipe.ferment_days
    days = (timezone.now() - batch.pitched_at).days
    if usual is None or days < usual:
        return None
    return Word("by its days", "look"), f"{read}. Day {days} of {count_days(usual)} as usual."


def _day(batch: Batch) -> Form:
    address = f"{reverse('bottling-day')}?{urlencode({'batch': batch.code})}"
    return Form("Bottling day", address, RECORD)


READY = Kind("ready", "Ready to bottle", Consequence.WORK, ready)
KINDS = (STARTER, READY, PLANNED)
