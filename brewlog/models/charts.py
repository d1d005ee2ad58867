"""What people decide about the charts of batches side by side."""

from __future__ import annotations

from django.db import models

from brewlog.models.base import Event


class BatchFigure(models.TextChoices):
    """A value every batch has once, at the same point of the work."""

    PH_PITCH = "ph-pitch", "pH after adding starter"
    WARMTH_PITCH = "warmth-pitch", "warmth after adding starter"
    PH_SECOND_DAY = "ph-second-day", "pH on the second day"
    PH_END = "ph-end", "pH at the end of the ferment"
    SUGAR_END = "sugar-end", "sugar at the end of the ferment, by Brix"
    ACID_END = "acid-end", "total acidity at the end of the ferment"
    ALCOHOL = "alcohol", "alcohol by a laboratory"
    PH_DEADLINE = "ph-deadline", "pH when it was due"
    HOURS_TO_LIMIT = "hours-to-limit", "hours until the pH that was due"


class UsualRun(Event):
    """A run of batches that what is usual is taken from: later ones are held against it.

    The run is every batch of the recipe (in the vessel, where one is named) that starter was
    added to from the first to the last, as far as it was written down by then, without those left
    out. What the limits are follows from the readings of those batches as they stand corrected.
    The newest of a chart holds; voided, the one before it does again.
    """

    recipe = models.ForeignKey(
        "brewlog.Recipe", on_delete=models.PROTECT, related_name="usual_runs"
    )
    vessel = models.ForeignKey(
        "brewlog.Vessel",
        on_delete=models.PROTECT,
        related_name="usual_runs",
        null=True,
        blank=True,
    )
    figure = models.CharField("value", max_length=14, choices=BatchFigure.choices)
    first = models.ForeignKey("brewlog.Batch", on_delete=models.PROTECT, related_name="+")
    last = models.ForeignKey("brewlog.Batch", on_delete=models.PROTECT, related_name="+")
    left_out = models.TextField("batches left out", blank=True, default="")
    looked_into = models.TextField("what was found of those outside", blank=True, default="")

    class Meta:
        ordering = ["id"]
        verbose_name = "run of batches that is usual"
        verbose_name_plural = "runs of batches that are usual"

    def __str__(self) -> str:
        return f"usual {self.get_figure_display()} of {self.recipe}, {self.first} to {self.last}"

    @property
    def left_out_codes(self) -> list[str]:
        return self.left_out.split(", ") if self.left_out else []
