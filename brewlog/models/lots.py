"""Lots, and the uses that join them: everything traceable stands here.

A lot is only ever saved through its child (`Batch`, `CultureLot`...), so that one
history row holds all of it. Its `happened_at` is when it came to exist.
"""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models.functions import Lower

from brewlog.models.base import (
    Event,
    Guarded,
    HappenedMixin,
    Record,
    RecordQuerySet,
    positive,
)
from brewlog.recording import RecordingError
from brewlog.units import Dimension

DIMENSION_CHOICES = [(d.value, d.value) for d in Dimension]


class LotKind(models.TextChoices):
    """What a lot is. The letter opens its code by default."""

    INGREDIENT = "ingredient", "ingredient"
    PREPARATION = "preparation", "preparation"
    CULTURE = "culture", "culture"
    BREW = "brew", "brew"
    BATCH = "batch", "batch"
    BOTTLING = "bottling", "bottling"


CODE_LETTER = {
    LotKind.INGREDIENT: "R",
    LotKind.PREPARATION: "P",
    LotKind.CULTURE: "S",
    LotKind.BREW: "K",
    LotKind.BATCH: "B",
    LotKind.BOTTLING: "L",
}


# What `Lot.detail` and its `describe()` read: with `select_related`, a table of lots costs
# one query.
DESCRIBED = (
    "as_ingredient__ingredient",
    "as_preparation",
    "as_culture__line",
    "as_brew__recipe__recipe",
    "as_batch__recipe__recipe",
    "as_batch__vessel",
    "as_bottling__flavour",
    "as_bottling__format",
)


def described(link: str) -> list[str]:
    """`DESCRIBED` behind a link to a lot: `described("source")`."""
    return [f"{link}__{path}" for path in DESCRIBED]


class LotQuerySet(RecordQuerySet):
    """Questions about lots. The base lot is read here and written through its child."""

    def coded(self, code: str) -> Lot | None:
        """The live lot of that code, however it was capitalised or spaced; None if unknown."""
        return self.live().with_code(code).first()

    def with_code(self, code: str) -> LotQuerySet:
        """Every lot of that code in any case, voided ones too; read from the index on it."""
        return self.alias(lower_code=Lower("code")).filter(
            lower_code=Lower(models.Value(code.strip()))
        )

    def create(self, **kwargs: Any) -> Any:
        if self.model is Lot:
            raise RecordingError("A lot is saved through its child: Batch, CultureLot...")
        return super().create(**kwargs)


class Lot(HappenedMixin, Guarded):
    """Something with a code that can be made, used, moved and traced.

    `made` is what it amounts to, in the canonical unit of its dimension: quantity
    received, volume after pitching, bottles filled. Null until it is known.
    """

    kind = models.CharField(max_length=11, choices=LotKind.choices, editable=False)
    code = models.CharField("lot code", max_length=40)
    dimension = models.CharField(max_length=6, choices=DIMENSION_CHOICES, editable=False)
    made = models.BigIntegerField(null=True, blank=True)
    made_text = models.CharField("amount", max_length=60, blank=True, default="")

    objects = LotQuerySet.as_manager()  # type: ignore[misc]

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                Lower("code"),
                condition=models.Q(voided_at__isnull=True),
                name="lot_code_once",
                violation_error_message="That lot code is taken. Choose another.",
            ),
            models.CheckConstraint(
                condition=models.Q(made__isnull=True) | models.Q(made__gte=0),
                name="lot_made_not_negative",
                violation_error_message="A lot cannot amount to less than nothing.",
            ),
            models.CheckConstraint(condition=~models.Q(code=""), name="lot_has_a_code"),
        ]
        indexes = [
            # Lists by kind, newest first or from a date on.
            models.Index(fields=["kind", "happened_at"], name="lot_kind_when"),
            # Codes as typed or scanned, in any case.
            models.Index(Lower("code"), name="lot_code_lower"),
        ]

    def __str__(self) -> str:
        return self.code

    def save(self, *args: Any, **kwargs: Any) -> None:
        if type(self) is Lot:
            raise RecordingError("A lot is saved through its child: Batch, CultureLot...")
        super().save(*args, **kwargs)

    @property
    def detail(self) -> Lot:
        """The child row: the `Batch`, `CultureLot`... that this lot is."""
        return self if type(self) is not Lot else getattr(self, f"as_{self.kind}")


def lot_link(kind: LotKind) -> models.OneToOneField:
    """The explicit, protected link of a child to its lot."""
    return models.OneToOneField(
        Lot,
        on_delete=models.PROTECT,
        parent_link=True,
        primary_key=True,
        related_name=f"as_{kind.value}",
    )


class LotUse(Event):
    """An amount of one lot went into another: the one kind of edge there is.

    `quantity` is in the source's canonical unit. `added` is what it added to the
    product's amount after that was measured, in the product's unit: a top-up or a
    blend adds, what went in before the measuring is part of `made`.
    """

    class Purpose(models.TextChoices):
        INGREDIENT = "ingredient", "ingredient"
        BREW = "brew", "sweet tea"
        STARTER = "starter", "starter"
        FEED = "feed", "feed"
        CULTURE = "culture", "kept back or carried on"
        POOL = "pool", "pooled"
        TRANSFER = "transfer", "transfer or blend"
        DRINK = "drink", "drink bottled"
        FLAVOURING = "flavouring", "flavouring"
        PACKAGING = "packaging", "packaging"

    source = models.ForeignKey(
        Lot, on_delete=models.PROTECT, related_name="uses_out", db_index=False
    )
    into = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="uses_in", db_index=False)
    quantity = models.BigIntegerField()
    quantity_text = models.CharField(max_length=60)
    added = models.BigIntegerField(null=True, blank=True)
    purpose = models.CharField(max_length=10, choices=Purpose.choices)

    class Meta:
        ordering = ["id"]
        constraints = [
            positive("quantity", "use_of_something"),
            models.CheckConstraint(
                condition=~models.Q(source=models.F("into")),
                name="use_not_of_itself",
                violation_error_message="A lot cannot be used in itself.",
            ),
            models.CheckConstraint(
                condition=models.Q(added__isnull=True) | models.Q(added__gt=0),
                name="use_adds_something",
            ),
        ]
        indexes = [
            # The trace forward and the ledger: index-only on both databases (SQLite reads the
            # condition's column too, so it stands in the index).
            models.Index(
                fields=["source", "into", "quantity", "voided_at"],
                condition=models.Q(voided_at__isnull=True),
                name="use_down",
            ),
            # The trace backward, and what was added to a lot.
            models.Index(
                fields=["into", "source", "added", "voided_at"],
                condition=models.Q(voided_at__isnull=True),
                name="use_up",
            ),
            # The last use of a kind: what the last batch took of a starter.
            models.Index(
                fields=["purpose", "happened_at", "voided_at"],
                condition=models.Q(voided_at__isnull=True),
                name="use_lately",
            ),
            # Voided uses on the pages of their lots: few, and in no index above.
            models.Index(
                fields=["source"],
                condition=models.Q(voided_at__isnull=False),
                name="use_down_voided",
            ),
            models.Index(
                fields=["into"],
                condition=models.Q(voided_at__isnull=False),
                name="use_up_voided",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity_text} of {self.source} into {self.into}"


class Hold(Event):
    """A lot is kept back until someone decides. What it stops depends on the cause."""

    class Cause(models.TextChoices):
        MOULD = "mould", "mould or foreign growth"
        ACIDIFICATION = "acidification", "did not acidify in time"
        FOREIGN = "foreign", "chemical, metal or glass"
        ALLERGEN = "allergen", "allergen"
        ALCOHOL = "alcohol", "alcohol over the line"
        OVER_ACID = "over_acid", "too acid"
        PRESSURE = "pressure", "pressure"
        LABEL = "label", "label fault"
        RECORD = "record", "record incomplete or in doubt"
        OTHER = "other", "other"

    # These travel with the drink; the others stop at the lot they are found in.
    FLOWING = (Cause.MOULD, Cause.ACIDIFICATION, Cause.FOREIGN, Cause.ALLERGEN)

    # Of the texts, those the program may make: kept with ISO dates and degrees Celsius.
    SENTENCES = frozenset({"reason"})

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="holds")
    cause = models.CharField(max_length=13, choices=Cause.choices)
    reason = models.TextField()
    lifted_at = models.DateTimeField(null=True, blank=True, editable=False)
    lifted_by = models.ForeignKey(
        "brewlog.User",
        on_delete=models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        editable=False,
        db_index=False,
    )
    lift_reason = models.TextField(blank=True, default="", editable=False)

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(
                fields=["lot", "cause"],
                condition=models.Q(lifted_at__isnull=True, voided_at__isnull=True),
                name="hold_open",
            )
        ]

    def __str__(self) -> str:
        return f"{self.lot} held: {self.get_cause_display()}"

    @property
    def is_open(self) -> bool:
        return self.lifted_at is None and not self.is_void

    @property
    def flows(self) -> bool:
        """Whether everything made from the lot is held with it."""
        return self.cause in self.FLOWING


class HoldEnd(Event):
    """One hold ends at one lot: neither it nor what is made from it is held by that any more."""

    hold = models.ForeignKey(Hold, on_delete=models.PROTECT, related_name="ends")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="hold_ends")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["hold", "lot"],
                condition=models.Q(voided_at__isnull=True),
                name="hold_ends_once_at_a_lot",
                violation_error_message="That hold ends there already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.hold}, ended at {self.lot}"


class ReviewFlag(Record):
    """Something recorded as it happened that a reviewer has to look at."""

    class Kind(models.TextChoices):
        USED_BLOCKED = "used_blocked", "used or sent while it should have been kept back"
        OVERDRAWN = "overdrawn", "more than the books show"
        VESSEL = "vessel", "unsuitable vessel"
        UNAPPROVED = "unapproved", "recipe not approved"
        CONDITION = "condition", "looks, smells or measures wrong"
        INSTRUMENT = "instrument", "read by an instrument in doubt"
        RETURNED = "returned", "brought back"
        CONTAINER = "container", "unfit bottle or keg"
        OTHER = "other", "other"

    SENTENCES = frozenset({"text"})

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="flags")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    text = models.TextField()
    settled_at = models.DateTimeField(null=True, blank=True, editable=False)
    settled_by = models.ForeignKey(
        "brewlog.User",
        on_delete=models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        editable=False,
        db_index=False,
    )
    settled_note = models.TextField(blank=True, default="", editable=False)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.lot}: {self.text}"

    @property
    def is_open(self) -> bool:
        return self.settled_at is None and not self.is_void


class StockAdjustment(Event):
    """Stock that left or came back other than by a use or a shipment.

    `change` is in the lot's canonical unit: less than nothing for what is gone.
    """

    class Reason(models.TextChoices):
        SAMPLE = "sample", "sample"
        TASTING = "tasting", "tasting"
        BREAKAGE = "breakage", "breakage"
        DESTROYED = "destroyed", "destroyed"
        SEDIMENT = "sediment", "sediment"
        EVAPORATION = "evaporation", "evaporation"
        PELLICLE = "pellicle", "taken up by the pellicle"
        SHORT_FILL = "short_fill", "short fills and rejects"
        SPILL = "spill", "spilt"
        STAFF = "staff", "staff"
        DONATION = "donation", "donation"
        EXPIRED = "expired", "past its date"
        RETURN = "return", "brought back by a customer"
        COUNT = "count", "count correction"

    COMES_BACK = (Reason.RETURN,)
    EITHER_WAY = (Reason.COUNT,)
    NEEDS_WITNESS = (Reason.DESTROYED,)

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="adjustments")
    change = models.BigIntegerField()
    quantity_text = models.CharField("amount", max_length=60)
    reason = models.CharField(max_length=11, choices=Reason.choices)
    witness = models.CharField(max_length=120, blank=True, default="")
    customer = models.ForeignKey(
        "brewlog.Customer",
        on_delete=models.PROTECT,
        related_name="returns",
        null=True,
        blank=True,
    )
    reference = models.CharField("reference document", max_length=80, blank=True, default="")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(change=0),
                name="adjustment_of_something",
                violation_error_message="An adjustment of nothing changes nothing.",
            ),
            models.CheckConstraint(
                condition=models.Q(reason="count")
                | models.Q(reason="return", change__gt=0)
                | (~models.Q(reason__in=["count", "return"]) & models.Q(change__lt=0)),
                name="adjustment_way_fits_reason",
            ),
            models.CheckConstraint(
                condition=~models.Q(reason="return") | models.Q(customer__isnull=False),
                name="return_names_a_customer",
                violation_error_message="Name the customer who brought it back.",
            ),
        ]
        indexes = [
            # The ledger of a lot.
            models.Index(
                fields=["lot", "change", "voided_at"],
                condition=models.Q(voided_at__isnull=True),
                name="adjustment_ledger",
            )
        ]

    def __str__(self) -> str:
        return f"{self.lot}: {self.quantity_text} {self.get_reason_display()}"
