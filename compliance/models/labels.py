"""Labels: the stock they are printed on, each printing, and what became of them."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from brewlog.models import Lot
from brewlog.models.base import Event, Register, positive
from compliance.label_stock import PAGE_MM, SHEETS, Sheet, roll

STOCKS = [(key, sheet.name) for key, sheet in SHEETS.items()]


def _length(words: str, least: float, **options: object) -> models.DecimalField:
    """A length in millimetres."""
    return models.DecimalField(
        f"{words}, mm",
        max_digits=6,
        decimal_places=2,
        validators=[MinValueValidator(least), MaxValueValidator(500)],
        **options,  # type: ignore[arg-type]
    )


class LabelSheet(Register):
    """The brewery's own label stock: a sheet or a roll, by its measures."""

    class Paper(models.TextChoices):
        A4 = "a4", "A4"
        LETTER = "letter", "US Letter"
        ROLL = "roll", "roll"

    paper = models.CharField(max_length=6, choices=Paper.choices)
    columns = models.PositiveSmallIntegerField("labels across", default=1)
    rows = models.PositiveSmallIntegerField("labels down", default=1)
    label_width = _length("label width", 5)
    label_height = _length("label height", 5)
    left = _length("left margin", 0, default=0)
    top = _length("top margin", 0, default=0)
    pitch_across = _length("from one label to the next across", 0, default=0)
    pitch_down = _length("from one label to the next down", 0, default=0)

    class Meta(Register.Meta):
        abstract = False
        constraints = [
            *Register.Meta.constraints,
            positive("columns", "label_sheet_has_columns"),
            positive("rows", "label_sheet_has_rows"),
            positive("label_width", "label_has_width"),
            positive("label_height", "label_has_height"),
        ]

    @property
    def geometry(self) -> Sheet:
        """The measures as they are drawn by. Raises `LabelError` where they cannot be."""
        width, height = float(self.label_width), float(self.label_height)
        if self.paper == self.Paper.ROLL:
            return roll(self.name, width, height)
        return Sheet(
            self.name,
            *PAGE_MM[self.paper],
            self.columns,
            self.rows,
            width,
            height,
            float(self.left),
            float(self.top),
            float(self.pitch_across) or width,
            float(self.pitch_down) or height,
        )


class Labelled(models.TextChoices):
    """What a label is stuck on."""

    BOTTLE = "bottle", "bottles, cans or kegs"
    CASE = "case", "cases"


class LabelRun(Event):
    """Labels of one lot printed together, from a place of a sheet on; or printed elsewhere, of
    which no more is known than how many there were."""

    UNTOLD = frozenset({"printed"})

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="label_runs")
    what = models.CharField("for", max_length=6, choices=Labelled.choices)
    per_case = models.PositiveSmallIntegerField("bottles in a case", default=0)
    case_gtin = models.CharField("GTIN of the case", max_length=14, blank=True, default="")
    sheet = models.ForeignKey(
        LabelSheet, on_delete=models.PROTECT, related_name="runs", null=True, blank=True
    )
    # Where no sheet of the brewery's own is named: one of the usual ones; neither is where they
    # were printed elsewhere.
    stock = models.CharField(max_length=6, choices=STOCKS, blank=True, default="")
    symbol = models.CharField("barcode", max_length=12, blank=True, default="")
    count = models.PositiveIntegerField("labels printed")
    start = models.PositiveSmallIntegerField("first place on the sheet", default=1)
    # What each label said and how it stood on it, as JSON: `documents.label_run.PrintedLabel`;
    # '' where they were printed elsewhere.
    printed = models.TextField("as printed", blank=True, default="", editable=False)

    class Meta:
        ordering = ["id"]
        constraints = [
            positive("count", "label_run_of_something"),
            positive("start", "label_run_starts_at_a_place"),
            models.CheckConstraint(
                condition=models.Q(what="case", per_case__gt=0) | models.Q(what="bottle"),
                name="label_run_of_cases_says_how_many",
                violation_error_message="Write how many bottles are in a case.",
            ),
            models.CheckConstraint(
                condition=models.Q(sheet__isnull=False, stock="")
                | models.Q(sheet__isnull=True) & ~models.Q(stock="")
                | models.Q(sheet__isnull=True, stock="", printed=""),
                name="label_run_names_its_stock",
            ),
        ]

    @property
    def is_elsewhere(self) -> bool:
        """Whether they were printed elsewhere: what they said is not kept."""
        return not self.printed

    @property
    def geometry(self) -> Sheet:
        """The measures it is printed by."""
        return self.sheet.geometry if self.sheet is not None else SHEETS[self.stock]

    def __str__(self) -> str:
        where = ", printed elsewhere" if self.is_elsewhere else ""
        return f"{self.lot}: {self.count} labels for {self.get_what_display()}{where}"


class LabelCount(Event):
    """What became of a lot's labels: put on, spoiled, or left over and destroyed."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="label_counts")
    what = models.CharField("for", max_length=6, choices=Labelled.choices)
    put_on = models.PositiveIntegerField("put on")
    spoiled = models.PositiveIntegerField(default=0)
    destroyed = models.PositiveIntegerField("left over and destroyed", default=0)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.lot}: {self.put_on} labels put on, {self.spoiled} spoiled"
