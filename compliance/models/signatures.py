"""Signatures: who, in print, when, meaning what, and exactly what was signed."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from brewlog.models.base import Record


class Signature(Record):
    """A password entered again under a stated meaning (as 21 CFR 11.50 and 11.200 ask).

    `contents` lists what was signed, as it stood, in canonical JSON; `digest` is its
    SHA-256. A later change of any of it shows as "changed after signature".
    """

    class Meaning(models.TextChoices):
        REVIEW = "review", "reviewed"
        RELEASE = "release", "released for sale"
        UNDO = "undo", "release taken back"
        DISPOSITION = "disposition", "decided what is done with it"
        CORRECTION = "correction", "corrective action complete"
        WITHDRAWAL = "withdrawal", "decided about what was shipped"
        PLAN = "plan", "hazard plan in force"
        RECALL = "recall", "answered who has it"
        CLOSING = "closing", "closed a recall, or opened it again"

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="signatures"
    )
    printed_name = models.CharField(max_length=120)
    meaning = models.CharField(max_length=11, choices=Meaning.choices)
    statement = models.CharField(max_length=200, blank=True, default="")
    signed_at = models.DateTimeField()
    contents = models.TextField()
    digest = models.CharField(max_length=64)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.printed_name}, {self.get_meaning_display()}"
