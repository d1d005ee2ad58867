"""What was found about the lots, kept for the lists. Not records: they can be made anew any time.

Never evidence. Verbs, a release and a lot's own page work everything out themselves.
"""

from __future__ import annotations

from django.db import models

from brewlog.models import Lot
from compliance.models.rulesets import Limit


class KeptFinding(models.Model):
    """One finding as it was last worked out; `contents` is all of it that is not a column."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="+", db_index=False)
    limit = models.ForeignKey(Limit, on_delete=models.PROTECT, related_name="+", db_index=False)
    of_open_lot = models.BooleanField()
    urgency = models.PositiveSmallIntegerField()
    since = models.DateTimeField()
    contents = models.JSONField()

    class Meta:
        ordering = ["urgency", "since", "lot_id", "limit_id"]
        constraints = [models.UniqueConstraint(fields=["lot", "limit"], name="finding_kept_once")]
        indexes = [
            models.Index(
                # All that a page of the list is found by, so that the table is not read for it.
                fields=["urgency", "since", "lot", "limit", "of_open_lot"],
                name="findings_by_urgency",
            )
        ]

    def __str__(self) -> str:
        return f"{self.lot}: {self.limit}"


class LookAgain(models.Model):
    """A lot that will be found otherwise from a moment on, though nothing is written."""

    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="+", primary_key=True)
    due = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return f"{self.lot} at {self.due}"


class KeptUpTo(models.Model):
    """How far what is kept goes: the one row, or none where nothing was ever kept.

    `newest` are the newest history keys it has seen, by model; `rules` the digest of what
    the lots were held against; `whole_at` when all lots were last looked at; `is_behind`
    tells that something was written since which may bear on any of them.
    """

    newest = models.JSONField()
    rules = models.CharField(max_length=64)
    at = models.DateTimeField()
    whole_at = models.DateTimeField()
    is_behind = models.BooleanField(default=False)

    class Meta:
        verbose_name_plural = "kept up to"
        constraints = [
            models.CheckConstraint(condition=models.Q(pk=1), name="kept_up_to_is_the_only_one")
        ]

    def __str__(self) -> str:
        return f"kept up to {self.at}"
