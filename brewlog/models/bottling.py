"""Bottling: flavours, formats, bottling lots and the checks around the line."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models

from brewlog.models.base import Event, RecordHistory, Register, positive
from brewlog.models.lots import Lot, LotKind, lot_link


class Flavour(Register):
    """What the customer asks for, and what its label says."""

    label_name = models.CharField("name of the food on the label", max_length=120)
    best_before_days = models.PositiveSmallIntegerField("best before, days", default=90)
    storage = models.CharField("storage on the label", max_length=120, default="Keep refrigerated")
    gtin = models.CharField("GTIN", max_length=14, blank=True, default="")
    statement = models.TextField("further text on the label", blank=True, default="")


class Format(Register):
    """A bottle, can, keg or growler, with what it holds and what it withstands."""

    class Container(models.TextChoices):
        BOTTLE = "bottle", "bottle"
        CAN = "can", "can"
        KEG = "keg", "keg"
        GROWLER = "growler", "growler"

    class Rating(models.TextChoices):
        RATED = "rated", "rated by its maker"
        UNKNOWN = "unknown", "not known"
        DECORATIVE = "decorative", "decorative, not for pressure"

    container = models.CharField(max_length=7, choices=Container.choices)
    material = models.CharField(max_length=40, blank=True, default="")
    holds = models.BigIntegerField()
    holds_text = models.CharField("net contents", max_length=60)
    rating = models.CharField(
        "pressure rating", max_length=10, choices=Rating.choices, default=Rating.UNKNOWN
    )
    rated_bar = models.DecimalField(
        "rated gauge pressure, bar",
        max_digits=5,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    is_reused = models.BooleanField("comes back and is used again", default=False)

    class Meta(Register.Meta):
        abstract = False
        constraints = [
            *Register.Meta.constraints,
            positive("holds", "format_holds_something"),
            models.CheckConstraint(
                condition=~models.Q(rating="rated") | models.Q(rated_bar__gt=0),
                name="format_rated_says_how_much",
                violation_error_message="Write the rated pressure, or choose 'not known'.",
            ),
        ]


class BottlingLot(Lot):
    """Bottles of one flavour and format filled together. `made` is the bottles filled."""

    class Carbonation(models.TextChoices):
        NATURAL = "natural", "in the bottle"
        FORCED = "forced", "carbonated by gas"
        MIXED = "mixed", "both"
        STILL = "still", "still"

    lot = lot_link(LotKind.BOTTLING)
    flavour = models.ForeignKey(Flavour, on_delete=models.PROTECT, related_name="lots")
    format = models.ForeignKey(Format, on_delete=models.PROTECT, related_name="lots")
    planned_count = models.PositiveIntegerField(null=True, blank=True)
    rejects = models.PositiveIntegerField("rejected on the line", default=0)
    fill = models.BigIntegerField("fill volume", null=True, blank=True)
    fill_text = models.CharField("fill per bottle", max_length=60, blank=True, default="")
    carbonation = models.CharField(
        max_length=7, choices=Carbonation.choices, default=Carbonation.NATURAL
    )
    conditioning_from = models.DateTimeField("warm from", null=True, blank=True)
    conditioning_temperature = models.DecimalField(
        "warm at, °C", max_digits=5, decimal_places=2, null=True, blank=True
    )
    best_before = models.DateField(null=True, blank=True)
    label_version = models.CharField(max_length=40, blank=True, default="")

    history = RecordHistory()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(fill__isnull=True) | models.Q(fill__gt=0),
                name="bottling_fill_positive",
            )
        ]
        # What gets old, without looking through what was drunk years ago.
        indexes = [models.Index(fields=["best_before"], name="bottling_best_before")]

    def describe(self) -> str:
        return f"{self.flavour}, {self.format}"


class LineClearance(Event):
    """Nothing of the last flavour was left on the line before this one began."""

    lot = models.ForeignKey(BottlingLot, on_delete=models.PROTECT, related_name="clearances")
    previous = models.ForeignKey(
        BottlingLot,
        on_delete=models.PROTECT,
        related_name="cleared_after",
        null=True,
        blank=True,
        verbose_name="what ran before",
    )
    first_label_kept = models.BooleanField(default=False)
    last_label_kept = models.BooleanField(default=False)

    def __str__(self) -> str:
        return f"{self.lot}: line cleared"


class Breakage(Event):
    """Glass broke on the line: bottles back to the last good check are set apart."""

    lot = models.ForeignKey(BottlingLot, on_delete=models.PROTECT, related_name="breakages")
    broken = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    set_apart = models.PositiveIntegerField("bottles set apart", default=0)
    last_good_check_at = models.DateTimeField(null=True, blank=True)
    cleaned = models.CharField("what was cleaned and checked", max_length=160)

    class Meta:
        constraints = [positive("broken", "breakage_of_something")]

    def __str__(self) -> str:
        return f"{self.lot}: {self.broken} broken"


class BottleWash(Event):
    """Reused bottles were washed and looked at before filling."""

    lot = models.ForeignKey(BottlingLot, on_delete=models.PROTECT, related_name="washes")
    washed = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    chipped = models.PositiveIntegerField("put aside for chips or cracks", default=0)
    gaskets_checked = models.BooleanField(default=False)
    method = models.CharField("how they were washed", max_length=120)

    class Meta:
        constraints = [positive("washed", "wash_of_something")]

    def __str__(self) -> str:
        return f"{self.lot}: {self.washed} washed"


class RetainedBottles(Event):
    """Bottles kept back to be opened later. They stay on hand until they are pulled."""

    class Kept(models.TextChoices):
        COLD = "cold", "cold"
        WARM = "warm", "at room temperature"

    lot = models.ForeignKey(BottlingLot, on_delete=models.PROTECT, related_name="retained")
    count = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    kept = models.CharField(max_length=4, choices=Kept.choices)
    pull_on = models.DateField("open on")
    pulled_at = models.DateTimeField(null=True, blank=True, editable=False)
    finding = models.TextField("what was found", blank=True, default="", editable=False)

    class Meta:
        constraints = [positive("count", "retained_something")]

    def __str__(self) -> str:
        return f"{self.lot}: {self.count} kept {self.get_kept_display()}"
