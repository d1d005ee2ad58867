"""What waits for a reviewer, a laboratory or a manager."""

from __future__ import annotations

import datetime as dt

from django.db.models import Exists, OuterRef
from django.utils import timezone

from brewlog.entries.base import MANAGE, REVIEW
from brewlog.middleware import BreweryRequest
from brewlog.models import LabResult, RecipeLine, RecipeVersion, ReviewFlag, StockAdjustment
from brewlog.models.lots import described
from brewlog.views.lists import Linked, Word
from brewlog.views.today.lines import Consequence, Kind, Line, days_since, entry_form, typed_time

# A result that has not come by then is not waited for any more.
_LOST = dt.timedelta(days=120)


def flags(request: BreweryRequest) -> list[Line]:
    """What was recorded as it happened and somebody has to look at, the oldest first."""
    open_flags = ReviewFlag.objects.live().filter(settled_at__isnull=True).select_related("lot")
    return [
        Line(
            Word(days_since(flag.recorded_at), "look"),
            Linked(flag.lot.code, flag.lot),
            f"{flag.get_kind_display().capitalize()}: {flag.text.rstrip('.')}.",
            entry_form("settle", "Settle it", flag=flag.pk),
        )
        for flag in open_flags.order_by("recorded_at", "id")
    ]


FLAGS = Kind(
    "flags",
    "Needs a look",
    Consequence.DECISION,
    flags,
    concerns=REVIEW,
    full="flag-list",
    narrowed="open=yes",
)


def samples_out(request: BreweryRequest) -> list[Line]:
    """Samples with a reference, as one sent to a laboratory has, and no result since."""
    results = LabResult.objects.live().filter(
        lot=OuterRef("lot"), recorded_at__gt=OuterRef("recorded_at")
    )
    sent = StockAdjustment.objects.live().filter(
        ~Exists(results),
        reason=StockAdjustment.Reason.SAMPLE,
        happened_at__gte=timezone.now() - _LOST,
    )
    rows = sent.exclude(reference="").select_related("lot", *described("lot"))
    return [
        Line(
            Word(days_since(each.happened_at)),
            Linked(each.lot.code, each.lot),
            f"{each.quantity_text} of {each.lot.detail.describe()}, {each.reference}: "  # type: ignore[attr-defined]
            "no result yet.",
            entry_form(
                "lab-result",
                "Write the result",
                lot=each.lot.code,
                when=typed_time(each.when),
                report_number=each.reference,
            ),
        )
        for each in rows.order_by("happened_at", "id")
    ]


SAMPLES = Kind("samples", "Samples at the laboratory", Consequence.UPKEEP, samples_out)


def unapproved(request: BreweryRequest) -> list[Line]:
    """Recipe versions that are written and not approved: nobody may brew by them yet."""
    lines = RecipeLine.objects.live().filter(version=OuterRef("pk"))
    versions = RecipeVersion.objects.live().filter(
        Exists(lines), approved_at__isnull=True, recipe__in_use=True
    )
    return [
        Line(
            Word(days_since(version.recorded_at)),
            Linked(str(version), version),
            "Written, and not approved for brewing yet.",
            entry_form("approve", "Approve it", version=version),
        )
        for version in versions.select_related("recipe").order_by("recorded_at", "id")
    ]


RECIPES = Kind("recipes", "Recipes to approve", Consequence.WORK, unapproved, concerns=MANAGE)
KINDS = (FLAGS, SAMPLES, RECIPES)
