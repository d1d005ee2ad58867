"""Where bottles stand and where they go: places, moves, customers, shipments, kegs."""

from __future__ import annotations

from django.db import models

from brewlog.models.base import Event, Record, Register, positive
from brewlog.models.lots import Lot


class Location(Register):
    """A place stock stands in: a cooler, the warm room, a stall, a van."""

    class Kind(models.TextChoices):
        COOLER = "cooler", "cooler"
        WARM_ROOM = "warm_room", "warm room"
        STORE = "store", "dry store"
        STALL = "stall", "stall"
        VAN = "van", "van"
        OTHER = "other", "other"

    kind = models.CharField(max_length=9, choices=Kind.choices)
    is_cold = models.BooleanField("kept cold", default=False)
    address = models.TextField(blank=True, default="")


class Move(Event):
    """Part of a lot went from one place to another. Stays are worked out from moves."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="moves")
    quantity = models.BigIntegerField()
    quantity_text = models.CharField("amount", max_length=60)
    from_location = models.ForeignKey(
        Location,
        on_delete=models.PROTECT,
        related_name="moves_out",
        null=True,
        blank=True,
        verbose_name="from",
    )
    to_location = models.ForeignKey(
        Location, on_delete=models.PROTECT, related_name="moves_in", verbose_name="to"
    )

    class Meta:
        ordering = ["happened_at", "id"]
        constraints = [
            positive("quantity", "move_of_something"),
            models.CheckConstraint(
                condition=models.Q(from_location__isnull=True)
                | ~models.Q(from_location=models.F("to_location")),
                name="move_goes_somewhere",
                violation_error_message="It is in that place already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot}: {self.quantity_text} to {self.to_location}"


class Customer(Register):
    """Who receives shipments: the immediate subsequent recipient (21 CFR 1.345)."""

    class Kind(models.TextChoices):
        SHOP = "shop", "shop"
        CAFE = "cafe", "café or restaurant"
        DISTRIBUTOR = "distributor", "distributor"
        PUBLIC = "public", "the public, at a stall or tap"
        OTHER = "other", "other"

    kind = models.CharField(max_length=11, choices=Kind.choices)
    contact = models.CharField("contact person", max_length=120, blank=True, default="")
    address = models.TextField(blank=True, default="")
    country = models.CharField(max_length=60, blank=True, default="")
    phone = models.CharField(max_length=40, blank=True, default="")
    email = models.EmailField(blank=True, default="")


class Shipment(Event):
    """What left together for one recipient (21 CFR 1.1340, 1.345)."""

    class Kind(models.TextChoices):
        SALE = "sale", "sale"
        STALL = "stall", "stall sale"
        SAMPLE = "sample", "sample or gift"
        SWAP = "swap", "swapped from the van"

    number = models.CharField("shipment number", max_length=40)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="shipments")
    kind = models.CharField(max_length=6, choices=Kind.choices, default=Kind.SALE)
    document_type = models.CharField("reference document", max_length=40, blank=True, default="")
    document_number = models.CharField(max_length=60, blank=True, default="")
    transporter = models.CharField(max_length=120, blank=True, default="")
    ship_from = models.ForeignKey(
        Location,
        on_delete=models.PROTECT,
        related_name="shipments",
        null=True,
        blank=True,
    )
    loading_temperature = models.DecimalField(
        "temperature at loading, °C", max_digits=5, decimal_places=2, null=True, blank=True
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                models.functions.Lower("number"),
                condition=models.Q(voided_at__isnull=True),
                name="shipment_number_once",
                violation_error_message="That shipment number is taken.",
            )
        ]
        indexes = [models.Index(fields=["customer", "happened_at"], name="shipment_of_customer")]

    def __str__(self) -> str:
        return self.number


class ShipmentLine(Record):
    """So much of one lot in a shipment. Customer and time are those of the shipment."""

    shipment = models.ForeignKey(Shipment, on_delete=models.PROTECT, related_name="lines")
    lot = models.ForeignKey(
        Lot, on_delete=models.PROTECT, related_name="shipment_lines", db_index=False
    )
    quantity = models.BigIntegerField()
    quantity_text = models.CharField("amount", max_length=60)
    note = models.CharField(max_length=120, blank=True, default="")

    class Meta:
        ordering = ["id"]
        constraints = [positive("quantity", "line_of_something")]
        indexes = [
            # The ledger, and who has the bottles: index-only on both databases.
            models.Index(
                fields=["lot", "shipment", "quantity", "voided_at"],
                condition=models.Q(voided_at__isnull=True),
                name="line_ledger",
            ),
            # Voided lines on the pages of their lots: few, and not in the index above.
            models.Index(
                fields=["lot"],
                condition=models.Q(voided_at__isnull=False),
                name="line_of_lot_voided",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity_text} of {self.lot}"


class Keg(Register):
    """A keg with a serial number of its own: its name."""

    holds = models.BigIntegerField()
    holds_text = models.CharField("holds", max_length=60)

    class Meta(Register.Meta):
        abstract = False
        constraints = [*Register.Meta.constraints, positive("holds", "keg_holds_something")]


class KegEvent(Event):
    """A keg was cleaned, filled, sent out, came back or was retired."""

    class Kind(models.TextChoices):
        CLEANED = "cleaned", "cleaned"
        FILLED = "filled", "filled"
        OUT = "out", "sent out"
        BACK = "back", "came back"
        RETIRED = "retired", "retired"

    keg = models.ForeignKey(Keg, on_delete=models.PROTECT, related_name="events")
    kind = models.CharField(max_length=7, choices=Kind.choices)
    lot = models.ForeignKey(
        Lot, on_delete=models.PROTECT, related_name="keg_events", null=True, blank=True
    )
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, related_name="keg_events", null=True, blank=True
    )

    class Meta:
        ordering = ["happened_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(kind="filled") | models.Q(lot__isnull=False),
                name="keg_filled_from_a_lot",
                violation_error_message="Name the lot the keg was filled with.",
            ),
            models.CheckConstraint(
                condition=~models.Q(kind="out") | models.Q(customer__isnull=False),
                name="keg_out_to_a_customer",
                violation_error_message="Name the customer the keg went to.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.keg}: {self.get_kind_display()}"
