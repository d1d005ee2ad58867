"""What waits for a reviewer, a laboratory or a manager."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from django.db.models import Exists, OuterRef
from django.utils import timezone

from brewlog.entries.base import MANAGE, REVIEW
from brewlog.middleware import BreweryRequest
from brewlog.models import LabResult, RecipeLine, RecipeVersion, ReviewFlag, StockAdjustment
from brewlog.models.lots import described
from brewlog.views.lists import Linked, Word
from brewlog.views.today.lines import (
    Consequence,
    Kind,
    Line,
    Lines,
    days_since,
    entry_form,
    typed_time,
)

# A result that has not come by then is not waited for any more.
_LOST = dt.timedelta(days=120)


def flags(request: BreweryRequest) -> Lines:
    """What was recorded as it happened and somebody has to look at, the oldest first."""
    open_flags = ReviewFlag.objects.live().filter(settled_at__isnull=True).select_related("lot")
    return Lines(
        open_flags.order_by("recorded_at", "id"),
        lambda flag: Line(
            Word(days_since(flag.recorded_at), "look"),
            Linked(flag.lot.code, flag.lot),
            f"{flag.get_kind_display().capitalize()}: {flag.text.rstrip('.')}.",
            entry_form("settle", "Settle it", flag=flag.pk),
        ),
    )


FLAGS = Kind(
    "flags",
    "Needs a look",
    Consequence.DECISION,
    flags,
    concerns=REVIEW,
    full="flag-list",
    narrowed="open=yes",
)


def samples_out(request: BreweryRequest) -> Lines:
    """Samples with a reference, as one sent to a laboratory has, and no result since."""
    results = LabResult.objects.live().filter(
        lot=OuterRef("lot"), recorded_at__gt=OuterRef("recorded_at")
    )
    sent = StockAdjustment.objects.live().filter(
        ~Exists(results),
        reason=StockAdjustment.Reason.SAMPLE,
        happened_at__gte=timezone.now() - _LOST,
    )
    return Lines(
        sent.exclude(reference="").order_by("happened_at", "id"),
        lambda sample: Line(
            Word(days_since(sample.happened_at)),
            Linked(sample.lot.code, sample.lot),
            f"{sample.quantity_text} of {sample.lot.detail.describe()}, {sample.reference}: "
            "no result yet.",
            entry_form(
                "lab-result",
                "Write the result",
                lot=sample.lot.code,
                when=typed_time(sample.when),
                report_number=sample.reference,
            ),
        ),
        _with_described,
    )


def _with_described(rows: Sequence[StockAdjustment]) -> Iterable[StockAdjustment]:
    whole = StockAdjustment.objects.select_related("lot", *described("lot"))
    return whole.filter(pk__in=[each.pk for each in rows]).order_by("happened_at", "id")


SAMPLES = Kind("samples", "Samples at the laboratory", Consequence.UPKEEP, samples_out)


def unapproved(request: BreweryRequest) -> Lines:
    """Recipe versions that are written and not approved: nobody may brew by them yet."""
    lines = RecipeLine.objects.live().filter(version=OuterRef("pk"))
    versions = RecipeVersion.objects.live().filter(
        Exists(lines), approved_at__isnull=True, recipe__in_use=True
    )
    return Lines(
        versions.select_related("recipe").order_by("recorded_at", "id"),
        lambda version: Line(
            Word(days_since(version.recorded_at)),
            Linked(str(version), version),
            "Written, and not approved for brewing yet.",
            entry_form("approve", "Approve it", version=version),
        ),
    )


RECIPES = Kind("recipes", "Recipes to approve", Consequence.WORK, unapproved, concerns=MANAGE)
KINDS = (FLAGS, SAMPLES, RECIPES)
