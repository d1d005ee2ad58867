"""What went wrong, what was done about it, and what becomes of the product."""

from __future__ import annotations

from django.db import models

from brewlog.models import Hold, Lot, StockAdjustment
from brewlog.models.base import Event, Record
from compliance.models.rulesets import Limit
from compliance.models.signatures import Signature


class Deviation(Event):
    """A limit was not met or a procedure not followed. Closed by a complete correction."""

    class Kind(models.TextChoices):
        LIMIT = "limit", "a limit was not met"
        INSTRUMENT = "instrument", "an instrument was out"
        PROCEDURE = "procedure", "a procedure was not followed"
        COMPLAINT = "complaint", "a complaint"
        UNANTICIPATED = "unanticipated", "nobody had thought of it"

    SENTENCES = frozenset({"title", "what_happened"})

    kind = models.CharField(max_length=13, choices=Kind.choices)
    title = models.CharField(max_length=200)
    what_happened = models.TextField()
    limit = models.ForeignKey(
        Limit, on_delete=models.PROTECT, related_name="deviations", null=True, blank=True
    )
    hold = models.ForeignKey(
        Hold, on_delete=models.PROTECT, related_name="deviations", null=True, blank=True
    )
    calibration = models.ForeignKey(
        "brewlog.Calibration",
        on_delete=models.PROTECT,
        related_name="deviations",
        null=True,
        blank=True,
    )

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return self.title

    @property
    def is_open(self) -> bool:
        """Until a signed correction closes it."""
        return (
            not self.is_void
            and not self.corrections.live().filter(signature__isnull=False).exists()
        )


class DeviationLot(Record):
    """A lot that a deviation touches."""

    deviation = models.ForeignKey(Deviation, on_delete=models.PROTECT, related_name="lots")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="deviation_links")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["deviation", "lot"],
                condition=models.Q(voided_at__isnull=True),
                name="deviation_names_lot_once",
                violation_error_message="The deviation names that lot already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.deviation}: {self.lot}"


class CorrectiveAction(Event):
    """The four things a correction must have done (21 CFR 117.150(a)(2), from memory)."""

    deviation = models.ForeignKey(Deviation, on_delete=models.PROTECT, related_name="corrections")
    problem_corrected = models.TextField("how the problem was found and corrected")
    made_less_likely = models.TextField("how it is made less likely to happen again")
    product_evaluated = models.TextField("how all affected product was evaluated")
    kept_out = models.TextField("how unsafe product is kept from being sold")
    plan_reanalysed = models.BooleanField("the hazard plan was looked at again", default=False)
    signature = models.ForeignKey(
        Signature,
        on_delete=models.PROTECT,
        related_name="corrections",
        null=True,
        blank=True,
        editable=False,
    )

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"correction of {self.deviation}"


class Disposition(Event):
    """What becomes of one lot under one hold: decided, signed, and carried out in the record.

    It ends that hold's reach through that lot to what is made from it.
    """

    class Kind(models.TextChoices):
        RELEASE = "release", "release: it is sound after all"
        REWORK = "rework", "rework or blend into a named batch"
        STRONG_STARTER = "strong_starter", "keep as strong starter"
        DESTROY = "destroy", "destroy"

    # What a cause allows. Mould and failed acidification are never blended or kept.
    ALLOWED = {
        Hold.Cause.MOULD: (Kind.DESTROY,),
        Hold.Cause.ACIDIFICATION: (Kind.RELEASE, Kind.DESTROY),
        Hold.Cause.FOREIGN: (Kind.RELEASE, Kind.DESTROY),
        Hold.Cause.ALLERGEN: (Kind.RELEASE, Kind.REWORK, Kind.DESTROY),
        Hold.Cause.ALCOHOL: (Kind.RELEASE, Kind.DESTROY),
        Hold.Cause.OVER_ACID: (Kind.REWORK, Kind.STRONG_STARTER, Kind.DESTROY),
        Hold.Cause.PRESSURE: (Kind.RELEASE, Kind.DESTROY),
        Hold.Cause.LABEL: (Kind.RELEASE, Kind.REWORK, Kind.DESTROY),
        Hold.Cause.RECORD: (Kind.RELEASE, Kind.DESTROY),
        Hold.Cause.OTHER: (Kind.RELEASE, Kind.REWORK, Kind.DESTROY),
    }

    hold = models.ForeignKey(Hold, on_delete=models.PROTECT, related_name="dispositions")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="dispositions")
    kind = models.CharField(max_length=14, choices=Kind.choices)
    reason = models.TextField()
    target = models.ForeignKey(
        Lot, on_delete=models.PROTECT, related_name="reworked_from", null=True, blank=True
    )
    adjustment = models.ForeignKey(
        StockAdjustment,
        on_delete=models.PROTECT,
        related_name="dispositions",
        null=True,
        blank=True,
        editable=False,
    )
    authority_asked = models.CharField(
        "which authority was asked, and what it said", max_length=200, blank=True, default=""
    )
    signature = models.ForeignKey(
        Signature, on_delete=models.PROTECT, related_name="dispositions", editable=False
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["hold", "lot"],
                condition=models.Q(voided_at__isnull=True),
                name="disposition_once_for_hold_and_lot",
                violation_error_message="That was decided for this lot already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.lot}: {self.get_kind_display()}"


class MarketDecision(Event):
    """What is done about bottles that left before something was found."""

    class Kind(models.TextChoices):
        NONE = "none", "nothing: what was shipped is sound"
        STOCK_RECOVERY = "stock_recovery", "stock recovery: it has not left our hands"
        WITHDRAWAL = "withdrawal", "withdrawal: a fault that harms nobody"
        RECALL = "recall", "recall"

    hold = models.ForeignKey(Hold, on_delete=models.PROTECT, related_name="market_decisions")
    kind = models.CharField(max_length=14, choices=Kind.choices)
    reason = models.TextField()
    hazard = models.TextField("what could happen to whom, and how likely it is")
    signature = models.ForeignKey(
        Signature, on_delete=models.PROTECT, related_name="market_decisions", editable=False
    )

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.hold}: {self.get_kind_display()}"
