"""The other logs an inspector asks for: small, and all alike."""

from __future__ import annotations

from django.db import models

from brewlog.models import Lot
from brewlog.models.base import Event


class LogEntry(Event):
    """One line of one log. What was done or found, with a value where there is one."""

    class Log(models.TextChoices):
        CLEANING = "cleaning", "cleaning"
        SANITISER = "sanitiser", "sanitiser strength"
        TRAINING = "training", "training"
        PEST = "pest", "pest control"
        WATER = "water", "water test"
        MAINTENANCE = "maintenance", "maintenance, glass and brittle plastic"
        OTHER = "other", "other"

    log = models.CharField(max_length=11, choices=Log.choices)
    subject = models.CharField("what or who", max_length=120)
    vessel = models.ForeignKey(
        "brewlog.Vessel", on_delete=models.PROTECT, related_name="log", null=True, blank=True
    )
    location = models.ForeignKey(
        "brewlog.Location", on_delete=models.PROTECT, related_name="log", null=True, blank=True
    )
    what = models.TextField("what was done or found")
    agent = models.CharField(
        "chemical or method, with its strength", max_length=120, blank=True, default=""
    )
    value_text = models.CharField("value, with its unit", max_length=40, blank=True, default="")
    is_good = models.BooleanField("as it should be", default=True)
    checked_by = models.CharField(max_length=120, blank=True, default="")
    document = models.FileField(upload_to="logs/%Y/", blank=True, default="")

    class Meta:
        ordering = ["-happened_at", "-id"]
        indexes = [models.Index(fields=["log", "happened_at"], name="log_by_time")]

    def __str__(self) -> str:
        return f"{self.get_log_display()}: {self.subject}"


class Complaint(Event):
    """What a customer said, about which lot, and what came of it."""

    class Kind(models.TextChoices):
        ILLNESS = "illness", "someone fell ill"
        INJURY = "injury", "a bottle burst or hurt someone"
        MOULD = "mould", "mould or foreign matter"
        TASTE = "taste", "taste, smell or look"
        OTHER = "other", "other"

    lot = models.ForeignKey(
        Lot, on_delete=models.PROTECT, related_name="complaints", null=True, blank=True
    )
    customer = models.ForeignKey(
        "brewlog.Customer",
        on_delete=models.PROTECT,
        related_name="complaints",
        null=True,
        blank=True,
    )
    kind = models.CharField(max_length=7, choices=Kind.choices)
    said_by = models.CharField("who said it, and how to reach them", max_length=160)
    what = models.TextField("what was said")
    outcome = models.TextField("what came of it", blank=True, default="")

    class Meta:
        ordering = ["-happened_at", "-id"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.lot or 'lot not known'}"
