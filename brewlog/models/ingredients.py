"""What comes in: suppliers, ingredients and packaging, received lots, preparations."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from brewlog.models.base import RecordHistory, Register
from brewlog.models.lots import DIMENSION_CHOICES, Lot, LotKind, lot_link


class Supplier(Register):
    """Who something was bought from: the immediate previous source (21 CFR 1.337)."""

    contact = models.CharField("contact person", max_length=120, blank=True, default="")
    address = models.TextField(blank=True, default="")
    country = models.CharField(max_length=60, blank=True, default="")
    phone = models.CharField(max_length=40, blank=True, default="")
    email = models.EmailField(blank=True, default="")
    approved_on = models.DateField("approved on", null=True, blank=True)
    organic_certificate = models.CharField(max_length=80, blank=True, default="")
    organic_certificate_until = models.DateField(null=True, blank=True)


class Ingredient(Register):
    """Something bought in lots: tea, sugar, a culture, fruit, caps, labels."""

    class Kind(models.TextChoices):
        TEA = "tea", "tea"
        SUGAR = "sugar", "sugar"
        WATER = "water", "water source"
        CULTURE = "culture", "culture"
        FLAVOURING = "flavouring", "fruit or flavouring"
        PROCESSING_AID = "processing_aid", "processing aid"
        PACKAGING = "packaging", "packaging"

    class Organic(models.TextChoices):
        ORGANIC = "organic", "organic"
        CONVENTIONAL = "conventional", "not organic"
        NOT_APPLICABLE = "none", "does not apply"

    kind = models.CharField(max_length=14, choices=Kind.choices)
    dimension = models.CharField("measured by", max_length=6, choices=DIMENSION_CHOICES)
    label_name = models.CharField(
        "common name on the label", max_length=120, blank=True, default=""
    )
    allergens = models.CharField(max_length=120, blank=True, default="")
    organic = models.CharField(
        max_length=12, choices=Organic.choices, default=Organic.NOT_APPLICABLE
    )
    form = models.CharField(
        "form as received", max_length=60, blank=True, default="", help_text="dried, fresh, frozen"
    )
    on_traceability_list = models.BooleanField(
        "listed for extra trace records in this form", default=False
    )
    country = models.CharField("usual country of origin", max_length=60, blank=True, default="")
    density = models.DecimalField(
        "density, kg/L",
        max_digits=6,
        decimal_places=4,
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(20)],
        help_text="lets an amount by weight count as volume in a vessel",
    )


class IngredientLot(Lot):
    """One delivery of one ingredient: the receiving record (21 CFR 1.1345, 1.337)."""

    class Acceptance(models.TextChoices):
        AWAITING = "awaiting", "awaiting a decision"
        ACCEPTED = "accepted", "accepted"
        REJECTED = "rejected", "rejected"

    lot = lot_link(LotKind.INGREDIENT)
    ingredient = models.ForeignKey(Ingredient, on_delete=models.PROTECT, related_name="lots")
    supplier = models.ForeignKey(
        Supplier, on_delete=models.PROTECT, related_name="lots", null=True, blank=True
    )
    supplier_code = models.CharField("supplier's lot code", max_length=60, blank=True, default="")
    brand = models.CharField("brand and variety", max_length=120, blank=True, default="")
    packaging = models.CharField("packed as", max_length=80, blank=True, default="")
    best_before = models.DateField(null=True, blank=True)
    arrival_temperature = models.DecimalField(
        "temperature on arrival, °C", max_digits=5, decimal_places=2, null=True, blank=True
    )
    condition = models.CharField("condition on arrival", max_length=120, blank=True, default="")
    document_type = models.CharField(
        "reference document", max_length=40, blank=True, default="", help_text="invoice, delivery"
    )
    document_number = models.CharField(max_length=60, blank=True, default="")
    transporter = models.CharField(max_length=120, blank=True, default="")
    origin = models.CharField("country of origin", max_length=60, blank=True, default="")
    code_source = models.CharField(
        "who gave the lot its trace code, and where", max_length=200, blank=True, default=""
    )
    organic = models.CharField(
        max_length=12,
        choices=Ingredient.Organic.choices,
        default=Ingredient.Organic.NOT_APPLICABLE,
    )
    certificate = models.FileField(upload_to="certificates/%Y/", blank=True, default="")
    certificate_number = models.CharField(max_length=80, blank=True, default="")
    certificate_from = models.DateField("certificate valid from", null=True, blank=True)
    certificate_until = models.DateField("certificate valid until", null=True, blank=True)
    # Home-grown or foraged instead of bought.
    picked_at_place = models.CharField("picked at", max_length=120, blank=True, default="")
    picked_by = models.CharField(max_length=120, blank=True, default="")
    picked_on = models.DateField(null=True, blank=True)
    spraying = models.CharField("what is known of spraying", max_length=120, blank=True, default="")
    # A decision of a person, kept with its history.
    acceptance = models.CharField(
        max_length=8, choices=Acceptance.choices, default=Acceptance.AWAITING, editable=False
    )
    acceptance_reason = models.CharField(max_length=200, blank=True, default="", editable=False)
    decided_at = models.DateTimeField(null=True, blank=True, editable=False)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        editable=False,
    )

    history = RecordHistory()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(certificate_from__isnull=True)
                | models.Q(certificate_until__isnull=True)
                | models.Q(certificate_until__gte=models.F("certificate_from")),
                name="certificate_ends_after_it_begins",
                violation_error_message="The certificate ends before it begins. Mend its days.",
            )
        ]
        indexes = [models.Index(fields=["best_before"], name="ingredient_best_before")]

    def describe(self) -> str:
        return str(self.ingredient)


class PreparationLot(Lot):
    """Something made in the house from ingredient lots: syrup, juice, purée, infusion."""

    class Kind(models.TextChoices):
        SYRUP = "syrup", "syrup"
        JUICE = "juice", "pressed juice"
        PUREE = "puree", "purée"
        CUT_FRUIT = "cut_fruit", "cut fruit"
        FROZEN_FRUIT = "frozen_fruit", "frozen fruit"
        INFUSION = "infusion", "infusion"
        OTHER = "other", "other"

    lot = lot_link(LotKind.PREPARATION)
    name = models.CharField(max_length=120)
    preparation_kind = models.CharField("kind", max_length=12, choices=Kind.choices)
    treatment = models.CharField(
        max_length=160, blank=True, default="", help_text="heated to 82 °C for 30 s, frozen, none"
    )
    storage = models.CharField(max_length=120, blank=True, default="")
    use_by = models.DateField(null=True, blank=True)

    history = RecordHistory()

    class Meta:
        indexes = [models.Index(fields=["use_by"], name="preparation_use_by")]

    def describe(self) -> str:
        return self.name
