"""Vessels, brews (kettles of sweet tea), batches (ferments) and the steps in them."""

from __future__ import annotations

from django.db import models

from brewlog.models.base import Event, RecordHistory, Register
from brewlog.models.lots import Lot, LotKind, lot_link
from brewlog.models.recipes import RecipeVersion


class Vessel(Register):
    """A kettle, jar, tank or barrel. Acid draws lead from glaze, paint and crystal."""

    class Material(models.TextChoices):
        GLASS = "glass", "glass"
        STAINLESS = "stainless", "stainless steel"
        FOOD_PLASTIC = "food_plastic", "food-grade plastic"
        WOOD = "wood", "wood"
        CERAMIC = "ceramic", "glazed ceramic"
        LEAD_CRYSTAL = "lead_crystal", "lead crystal"
        PAINTED = "painted", "painted or enamelled, unknown"
        OTHER_METAL = "other_metal", "copper, brass, aluminium, galvanised"

    # FDA fact sheet T95-15 (1995): ceramic, painted vessels and lead crystal can leach lead.
    # Reactive metals in acid: common practice.
    UNSUITABLE = (
        Material.CERAMIC,
        Material.LEAD_CRYSTAL,
        Material.PAINTED,
        Material.OTHER_METAL,
    )

    material = models.CharField(max_length=12, choices=Material.choices)
    capacity = models.BigIntegerField(null=True, blank=True)
    capacity_text = models.CharField("holds", max_length=60, blank=True, default="")
    location = models.ForeignKey(
        "brewlog.Location",
        on_delete=models.PROTECT,
        related_name="vessels",
        null=True,
        blank=True,
        verbose_name="stands in",
    )

    class Meta(Register.Meta):
        abstract = False

    @property
    def is_unsuitable(self) -> bool:
        """Whether acid drink must not be kept in it."""
        return self.material in self.UNSUITABLE


class Brew(Lot):
    """One kettle of sweet tea. It may fill several vessels. `made` is its volume."""

    lot = lot_link(LotKind.BREW)
    recipe = models.ForeignKey(
        RecipeVersion, on_delete=models.PROTECT, related_name="brews", null=True, blank=True
    )
    kettle = models.ForeignKey(
        Vessel, on_delete=models.PROTECT, related_name="brews", null=True, blank=True
    )
    planned = models.BigIntegerField(null=True, blank=True)
    planned_text = models.CharField("planned volume", max_length=60, blank=True, default="")
    water_source = models.CharField(
        "water source and treatment",
        max_length=120,
        blank=True,
        default="",
        help_text="potable; how chlorine was removed",
    )

    history = RecordHistory()

    def describe(self) -> str:
        return f"sweet tea, {self.recipe}" if self.recipe else "sweet tea"


class Batch(Lot):
    """One vessel's ferment. `made` is its volume after the starter went in."""

    lot = lot_link(LotKind.BATCH)
    recipe = models.ForeignKey(
        RecipeVersion, on_delete=models.PROTECT, related_name="batches", null=True, blank=True
    )
    vessel = models.ForeignKey(
        Vessel, on_delete=models.PROTECT, related_name="batches", null=True, blank=True
    )
    planned = models.BigIntegerField(null=True, blank=True)
    planned_text = models.CharField("planned volume", max_length=60, blank=True, default="")
    water_source = models.CharField(
        "water source and treatment", max_length=120, blank=True, default=""
    )
    pitched_at = models.DateTimeField("starter added", null=True, blank=True, editable=False)
    pitched_precision = models.CharField(max_length=6, blank=True, default="", editable=False)

    history = RecordHistory()

    def describe(self) -> str:
        what = str(self.recipe) if self.recipe else "batch"
        return f"{what} in {self.vessel}" if self.vessel else what


class ProcessStep(Event):
    """A step of the work on a brew or a batch, with its time and temperature."""

    class Kind(models.TextChoices):
        BOIL = "boil", "water boiled"
        STEEP = "steep", "tea steeped"
        STRAIN = "strain", "leaves taken out"
        SUGAR = "sugar", "sugar dissolved"
        TOP_UP = "top_up", "topped up with water"
        COOL = "cool", "cooled"
        PITCH = "pitch", "starter added"
        COVER = "cover", "covered"
        STIR = "stir", "stirred or aerated"
        STRAIN_DRINK = "filter", "filtered"
        CHILL = "chill", "chilled"
        PASTEURISE = "pasteurise", "heat treated"
        OTHER = "other", "other"

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    temperature = models.DecimalField(
        "temperature, °C", max_digits=5, decimal_places=2, null=True, blank=True
    )
    temperature_text = models.CharField(max_length=20, blank=True, default="")
    volume = models.BigIntegerField(null=True, blank=True)
    volume_text = models.CharField("volume", max_length=60, blank=True, default="")
    minutes = models.PositiveIntegerField("for how many minutes", null=True, blank=True)
    instrument = models.ForeignKey(
        "brewlog.Instrument",
        on_delete=models.PROTECT,
        related_name="steps",
        null=True,
        blank=True,
    )

    class Meta:
        ordering = ["happened_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(volume__isnull=True) | models.Q(volume__gt=0),
                name="step_volume_positive",
            )
        ]
        indexes = [models.Index(fields=["lot", "happened_at"], name="step_of_lot")]

    def __str__(self) -> str:
        return f"{self.lot}: {self.get_kind_display()}"
