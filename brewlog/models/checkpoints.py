"""Readings of lots and of places, laboratory results, and alcohol estimates."""

from __future__ import annotations

from django.db import models

from brewlog.models.base import Event
from brewlog.models.instruments import Instrument
from brewlog.models.lots import Lot


class Measurand(models.TextChoices):
    """What is measured, with the unit it is kept in."""

    PH = "ph", "pH"
    TEMPERATURE = "temperature", "temperature, °C"
    SPECIFIC_GRAVITY = "sg", "specific gravity 20/20"
    BRIX = "brix", "Brix, °Bx"
    TOTAL_ACIDITY = "total_acidity", "total acidity, g/L as acetic"
    PRESSURE = "pressure", "gauge pressure, bar"
    FILL = "fill", "fill, mL"
    ALCOHOL = "alcohol", "alcohol, % vol"


class Stage(models.TextChoices):
    """Where in the work a reading was taken."""

    ARRIVAL = "arrival", "on arrival"
    SWEET_TEA = "sweet_tea", "sweet tea"
    PITCH = "pitch", "after adding starter"
    FERMENT = "ferment", "fermenting"
    FLAVOURED = "flavoured", "after flavouring"
    BOTTLING = "bottling", "at bottling"
    CONDITIONING = "conditioning", "second ferment, warm"
    FINISHED = "finished", "finished, cold"
    SHELF = "shelf", "shelf-life sample"
    STARTER = "starter", "starter vessel"
    STORAGE = "storage", "storage"


class Checkpoint(Event):
    """A reading: the value as typed and as kept, by which instrument, at which stage."""

    lot = models.ForeignKey(
        Lot, on_delete=models.PROTECT, related_name="readings", null=True, blank=True
    )
    location = models.ForeignKey(
        "brewlog.Location",
        on_delete=models.PROTECT,
        related_name="readings",
        null=True,
        blank=True,
    )
    measurand = models.CharField("measured", max_length=13, choices=Measurand.choices)
    value = models.DecimalField(max_digits=12, decimal_places=4)
    value_text = models.CharField("reading", max_length=30)
    sample_temperature = models.DecimalField(
        "sample temperature, °C", max_digits=5, decimal_places=2, null=True, blank=True
    )
    instrument = models.ForeignKey(
        Instrument,
        on_delete=models.PROTECT,
        related_name="readings",
        null=True,
        blank=True,
    )
    replicate = models.PositiveSmallIntegerField(default=1)
    stage = models.CharField(max_length=12, choices=Stage.choices)

    class Meta:
        verbose_name = "reading"
        ordering = ["happened_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(lot__isnull=False, location__isnull=True)
                | models.Q(lot__isnull=True, location__isnull=False),
                name="reading_of_lot_or_place",
                violation_error_message="A reading is of a lot or of a place, one of the two.",
            )
        ]
        indexes = [
            # A lot's chart and its latest value of one kind.
            models.Index(fields=["lot", "measurand", "happened_at"], name="reading_of_lot"),
            # Look-back over what an instrument read since its last good calibration.
            models.Index(fields=["instrument", "happened_at"], name="reading_by_instrument"),
        ]

    def __str__(self) -> str:
        return f"{self.lot or self.location}: {self.measured} {self.value_text}"

    @property
    def measured(self) -> str:
        """What was measured, without the unit: the text as typed has its own."""
        return self.get_measurand_display().split(",")[0]


class LabResult(Event):
    """What a laboratory found. `happened_at` is when the sample was taken."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="lab_results")
    measurand = models.CharField(
        max_length=13, choices=Measurand.choices, default=Measurand.ALCOHOL
    )
    value = models.DecimalField(max_digits=12, decimal_places=4)
    value_text = models.CharField("result", max_length=30)
    standard_uncertainty = models.DecimalField(
        "standard uncertainty (k = 1)", max_digits=10, decimal_places=4, null=True, blank=True
    )
    laboratory = models.CharField(max_length=120)
    method = models.CharField(max_length=120, blank=True, default="")
    reported_on = models.DateField("reported on", null=True, blank=True)
    report_number = models.CharField(max_length=60, blank=True, default="")
    report = models.FileField(upload_to="laboratory/%Y/", blank=True, default="")

    class Meta:
        ordering = ["happened_at", "id"]
        indexes = [models.Index(fields=["lot", "measurand"], name="lab_of_lot")]

    def __str__(self) -> str:
        return f"{self.lot}: {self.get_measurand_display()} {self.value_text}"


class AlcoholEstimate(Event):
    """An estimate of alcohol: never evidence, always with its method and uncertainty."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="alcohol_estimates")
    method = models.CharField(max_length=60)
    inputs = models.TextField(help_text="what went into the calculation, with units")
    value = models.DecimalField("alcohol, % vol", max_digits=6, decimal_places=3)
    standard_uncertainty = models.DecimalField(
        "standard uncertainty, % vol", max_digits=6, decimal_places=3
    )
    calculation_version = models.CharField(max_length=20)

    class Meta:
        ordering = ["happened_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(standard_uncertainty__gt=0),
                name="estimate_is_uncertain",
                violation_error_message="An estimate has an uncertainty of more than nothing.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.lot}: {self.value} ± {self.standard_uncertainty} % vol ({self.method})"
