"""Instruments and their calibrations."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models.functions import Cast, Concat, TruncDate

from brewlog.models.base import Event, Record, RecordQuerySet, Register


class Instrument(Register):
    """A meter, thermometer, hydrometer, refractometer or scale."""

    class Kind(models.TextChoices):
        PH_METER = "ph_meter", "pH meter"
        PH_STRIP = "ph_strip", "pH strips"
        THERMOMETER = "thermometer", "thermometer"
        HYDROMETER = "hydrometer", "hydrometer"
        REFRACTOMETER = "refractometer", "refractometer"
        DENSITY_METER = "density_meter", "density meter"
        SCALE = "scale", "scale"
        GAUGE = "gauge", "pressure gauge"
        BURETTE = "burette", "burette"
        OTHER = "other", "other"

    kind = models.CharField(max_length=13, choices=Kind.choices)
    serial = models.CharField("serial number", max_length=60, blank=True, default="")
    resolution = models.DecimalField(
        "smallest step shown",
        max_digits=10,
        decimal_places=5,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    accuracy = models.DecimalField(
        "stated accuracy, ±",
        max_digits=10,
        decimal_places=5,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    unit = models.CharField(max_length=12, blank=True, default="")
    calibrate_every_days = models.PositiveSmallIntegerField(null=True, blank=True)


class BufferBottle(Register):
    """A bottle of pH buffer on the shelf."""

    nominal_ph = models.DecimalField("nominal pH (25 °C)", max_digits=4, decimal_places=2)
    maker_lot = models.CharField("its maker's lot", max_length=60, blank=True, default="")
    supplier = models.ForeignKey(
        "brewlog.Supplier", on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    opened_on = models.DateField(null=True, blank=True)
    expires_on = models.DateField("good until")


class CalibrationQuerySet(RecordQuerySet):
    """Calibrations, with what their buffers say."""

    def with_expired_buffer(self) -> CalibrationQuerySet:
        """Each with `expired_buffer`: a bottle used in it past its date, in words, or None."""
        past = CalibrationPoint.objects.live().filter(
            calibration=models.OuterRef("pk"), bottle__expires_on__lt=models.OuterRef("its_day")
        )
        until = Cast("bottle__expires_on", models.CharField())
        told = Concat("bottle__name", models.Value(", good until "), until)
        return self.annotate(its_day=TruncDate("happened_at")).annotate(
            expired_buffer=models.Subquery(past.order_by("id").values(told=told)[:1])
        )


class Calibration(Event):
    """An instrument compared with references, as found and as left."""

    class Outcome(models.TextChoices):
        IN_TOLERANCE = "in", "in tolerance as found"
        ADJUSTED = "adjusted", "adjusted, in tolerance as left"
        OUT = "out", "out of tolerance as found"
        FAILED = "failed", "could not be brought into tolerance"

    instrument = models.ForeignKey(
        Instrument, on_delete=models.PROTECT, related_name="calibrations"
    )
    outcome = models.CharField(max_length=8, choices=Outcome.choices)
    slope_percent = models.DecimalField(
        "slope, %", max_digits=5, decimal_places=1, null=True, blank=True
    )
    offset_mv = models.DecimalField(
        "offset, mV", max_digits=5, decimal_places=1, null=True, blank=True
    )
    buffers = models.CharField(
        "buffers or references, lot and expiry", max_length=160, blank=True, default=""
    )
    due_on = models.DateField("next due", null=True, blank=True)

    # Told by `with_expired_buffer`.
    expired_buffer: str | None = None

    objects = CalibrationQuerySet.as_manager()  # type: ignore[misc]

    class Meta:
        ordering = ["happened_at", "id"]
        indexes = [
            # The calibration in force at a time.
            models.Index(fields=["instrument", "happened_at"], name="calibration_in_force")
        ]

    def __str__(self) -> str:
        return f"{self.instrument}: {self.get_outcome_display()}"

    @property
    def was_out(self) -> bool:
        """Whether readings since the last good one are in doubt."""
        return self.outcome in {self.Outcome.OUT, self.Outcome.FAILED}


class CalibrationPoint(Record):
    """One reference value, what the instrument showed of it before and after."""

    calibration = models.ForeignKey(Calibration, on_delete=models.PROTECT, related_name="points")
    reference = models.DecimalField(max_digits=10, decimal_places=4)
    found = models.DecimalField("as found", max_digits=10, decimal_places=4)
    left = models.DecimalField("as left", max_digits=10, decimal_places=4, null=True, blank=True)
    bottle = models.ForeignKey(
        BufferBottle,
        on_delete=models.PROTECT,
        related_name="points",
        null=True,
        blank=True,
        verbose_name="buffer bottle",
    )

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.reference.normalize():f} read as {self.found.normalize():f}"
