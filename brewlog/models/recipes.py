"""Recipes: the master record, in versions, per litre of finished batch."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from brewlog.models.base import Record, Register, positive


class Recipe(Register):
    """A named drink base, such as a black-tea kombucha. What to do is in its versions."""


class RecipeVersion(Record):
    """One version of a recipe. Once approved it is never changed, only followed by another."""

    recipe = models.ForeignKey(Recipe, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    steep_temperature = models.DecimalField(
        "steep at, °C", max_digits=5, decimal_places=2, null=True, blank=True
    )
    steep_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    pitch_temperature = models.DecimalField(
        "cool to this or below before adding starter, °C",
        max_digits=5,
        decimal_places=2,
        null=True,
        blank=True,
    )
    ferment_temperature = models.DecimalField(
        "ferment at, °C", max_digits=5, decimal_places=2, null=True, blank=True
    )
    ferment_days = models.PositiveSmallIntegerField("usual days to ferment", null=True, blank=True)
    target_ph = models.DecimalField(
        "bottle at about pH", max_digits=4, decimal_places=2, null=True, blank=True
    )
    instructions = models.TextField(blank=True, default="")
    approved_at = models.DateTimeField(null=True, blank=True, editable=False)
    approved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        editable=False,
    )

    class Meta:
        ordering = ["recipe_id", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["recipe", "number"],
                condition=models.Q(voided_at__isnull=True),
                name="recipe_version_once",
                violation_error_message="That version number is taken. Use the next one.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.recipe} v{self.number}"

    @property
    def is_approved(self) -> bool:
        return self.approved_at is not None


class RecipeLine(Record):
    """So much of one ingredient, or of starter, per litre of batch."""

    class Role(models.TextChoices):
        TEA = "tea", "tea"
        SUGAR = "sugar", "sugar"
        STARTER = "starter", "starter"
        WATER = "water", "water"
        OTHER = "other", "other"

    version = models.ForeignKey(RecipeVersion, on_delete=models.PROTECT, related_name="lines")
    role = models.CharField(max_length=7, choices=Role.choices)
    ingredient = models.ForeignKey(
        "brewlog.Ingredient",
        on_delete=models.PROTECT,
        related_name="recipe_lines",
        null=True,
        blank=True,
    )
    dimension = models.CharField(
        max_length=6, choices=[("mass", "mass"), ("volume", "volume"), ("count", "count")]
    )
    per_litre = models.BigIntegerField("per litre")
    per_litre_text = models.CharField(max_length=60)

    class Meta:
        ordering = ["id"]
        constraints = [
            positive("per_litre", "recipe_line_of_something"),
            models.CheckConstraint(
                condition=models.Q(role="starter") | models.Q(ingredient__isnull=False),
                name="recipe_line_names_ingredient",
                violation_error_message="Name the ingredient (only starter goes without).",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.per_litre_text}/L {self.ingredient or self.role}"
