"""Review of records, and release of lots for sale."""

from __future__ import annotations

from django.db import models

from brewlog.models import Lot
from brewlog.models.base import Record
from compliance.models.signatures import Signature


class Review(Record):
    """Someone verified the records of one lot up to a time (21 CFR 117.165(a)(4))."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="reviews")
    up_to = models.DateTimeField("records written up to")
    remark = models.TextField(blank=True, default="")
    own_readings = models.BooleanField(
        "the reviewer took some of the readings", default=False, editable=False
    )
    signature = models.ForeignKey(
        Signature, on_delete=models.PROTECT, related_name="reviews", editable=False
    )

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.lot} reviewed"


class Release(Record):
    """A lot may be sold: signed on the findings and limits as they stood, which it keeps.

    Undoing is a new signed act that leaves this one in place.
    """

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="releases")
    remark = models.TextField(blank=True, default="")
    findings = models.JSONField(editable=False)
    limits = models.JSONField(editable=False)
    signature = models.ForeignKey(
        Signature, on_delete=models.PROTECT, related_name="releases", editable=False
    )
    undone_by = models.ForeignKey(
        Signature,
        on_delete=models.PROTECT,
        related_name="undone_releases",
        null=True,
        blank=True,
        editable=False,
    )
    undone_reason = models.TextField(blank=True, default="", editable=False)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["lot"],
                condition=models.Q(undone_by__isnull=True, voided_at__isnull=True),
                name="release_stands_once",
                violation_error_message="It is released already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.lot} released"
