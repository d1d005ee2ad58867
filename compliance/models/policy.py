"""How strictly the brewery handles review and release: the manager's choice, kept with history."""

from __future__ import annotations

from django.db import models

from brewlog.models.base import Record


class Policy(Record):
    """The one policy. Without a row, what stands here as default holds."""

    release_needed_since = models.DateField(
        "lots bottled from this day on are shipped only once released", null=True, blank=True
    )
    review_within_days = models.PositiveSmallIntegerField(
        "records are reviewed within so many working days", default=7
    )
    one_person = models.BooleanField(
        "the reviewer may have taken the readings (one-person brewery; it is shown)",
        default=False,
    )

    class Meta:
        verbose_name_plural = "policies"
        constraints = [
            models.CheckConstraint(condition=models.Q(pk=1), name="policy_is_the_only_one")
        ]

    def __str__(self) -> str:
        return "review and release"


def policy() -> Policy:
    """The policy in force; the defaults where none was written."""
    return Policy.objects.first() or Policy(pk=1)
