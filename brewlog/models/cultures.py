"""Living cultures: lines, starter lots, and how they look and smell."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from brewlog.models.base import Event, RecordHistory, Register
from brewlog.models.lots import Lot, LotKind, lot_link


class CultureLine(Register):
    """A living culture carried on from batch to batch under one name."""

    feed_every_days = models.PositiveSmallIntegerField(
        "fed every so many days", null=True, blank=True
    )


class CultureLot(Lot):
    """Starter in one vessel. Feeding or topping it up begins a new lot of the line.

    `made` is the starter liquid; pellicles are counted beside it.
    """

    class Origin(models.TextChoices):
        BOUGHT_CULTURE = "bought", "bought as a culture"
        BOUGHT_RAW = "raw_drink", "grown from a raw drink"
        KEPT_BACK = "kept_back", "kept back from a batch"
        FED = "fed", "fed or topped up"
        POOLED = "pooled", "pooled"
        BACKUP = "backup", "split off as a backup"

    lot = lot_link(LotKind.CULTURE)
    line = models.ForeignKey(CultureLine, on_delete=models.PROTECT, related_name="lots")
    origin = models.CharField(max_length=9, choices=Origin.choices)
    vessel = models.ForeignKey(
        "brewlog.Vessel",
        on_delete=models.PROTECT,
        related_name="cultures",
        null=True,
        blank=True,
    )
    supplier = models.ForeignKey(
        "brewlog.Supplier",
        on_delete=models.PROTECT,
        related_name="cultures",
        null=True,
        blank=True,
    )
    supplier_code = models.CharField("supplier's lot code", max_length=60, blank=True, default="")
    document_number = models.CharField("reference document", max_length=60, blank=True, default="")
    pellicles = models.PositiveSmallIntegerField(default=0)
    is_backup = models.BooleanField("kept apart as a backup", default=False)
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)
    retired_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        editable=False,
    )
    retire_reason = models.CharField(max_length=200, blank=True, default="", editable=False)

    history = RecordHistory()

    def describe(self) -> str:
        return f"{self.line}, {self.get_origin_display()}"


class ConditionCheck(Event):
    """How a culture or a batch looked and smelled; the growths are told apart."""

    class Mould(models.TextChoices):
        NONE = "none", "no mould"
        UNSURE = "unsure", "not sure: keep apart, look again"
        MOULD = "mould", "mould"

    class Verdict(models.TextChoices):
        READY = "ready", "ready"
        WAIT = "wait", "wait"
        SUSPECT = "suspect", "suspect"

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="condition_checks")
    mould = models.CharField(max_length=6, choices=Mould.choices, default=Mould.NONE)
    kahm_yeast = models.BooleanField("kahm yeast (flat white film)", default=False)
    vinegar_eels = models.BooleanField(default=False)
    flies = models.BooleanField("flies or larvae", default=False)
    smell = models.CharField(max_length=120, blank=True, default="")
    look = models.CharField("colour and film", max_length=120, blank=True, default="")
    taste = models.CharField(max_length=120, blank=True, default="")
    verdict = models.CharField(max_length=7, choices=Verdict.choices, default=Verdict.WAIT)
    photo = models.ImageField(upload_to="condition/%Y/", blank=True, default="")
    photo_digest = models.CharField(
        "SHA-256 of the photo", max_length=64, blank=True, default="", editable=False
    )

    class Meta:
        ordering = ["happened_at", "id"]
        indexes = [models.Index(fields=["lot", "happened_at"], name="condition_of_lot")]

    def __str__(self) -> str:
        return f"{self.lot}: {self.get_mould_display()}"
