"""The hazard plan: what can go wrong at each step, and how it is kept from going wrong.

After the twelve steps of Codex CXC 1-1969 and the contents of Food Code 8-201.14 (read).
A plan is approved by whoever the authority accepts; what comes with the program is an
example to adapt.
"""

from __future__ import annotations

from django.db import models

from brewlog.models.base import Event, Record, Register
from compliance.models.rulesets import Limit
from compliance.models.signatures import Signature


class HazardPlan(Register):
    """One plan for one kind of product; what it says is in its versions."""


class PlanVersion(Record):
    """A version of a plan. Once signed it is not changed, only followed by another."""

    plan = models.ForeignKey(HazardPlan, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    product = models.TextField("the product and its recipe")
    intended_use = models.TextField("intended use, and who drinks it")
    team = models.TextField("team and scope")
    training = models.TextField("training", blank=True, default="")
    validation = models.TextField("what shows that the plan works", blank=True, default="")
    verification = models.TextField("how it is verified", blank=True, default="")
    is_example = models.BooleanField(default=False, editable=False)
    reanalyse_by = models.DateField(null=True, blank=True)
    signature = models.ForeignKey(
        Signature,
        on_delete=models.PROTECT,
        related_name="plans",
        null=True,
        blank=True,
        editable=False,
    )

    class Meta:
        ordering = ["plan_id", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["plan", "number"],
                condition=models.Q(voided_at__isnull=True),
                name="plan_version_once",
            )
        ]

    def __str__(self) -> str:
        return f"{self.plan} v{self.number}"


class PlanStep(Record):
    """A step of the flow, its hazard, and how it is controlled."""

    class Hazard(models.TextChoices):
        BIOLOGICAL = "biological", "biological"
        CHEMICAL = "chemical", "chemical"
        PHYSICAL = "physical", "physical"
        ALLERGEN = "allergen", "allergen"
        LEGAL = "legal", "legal: alcohol or label"

    class Control(models.TextChoices):
        CRITICAL = "critical", "critical control point"
        OPERATIONAL = "operational", "control point"
        PREREQUISITE = "prerequisite", "good practice"

    version = models.ForeignKey(PlanVersion, on_delete=models.PROTECT, related_name="steps")
    order = models.PositiveSmallIntegerField()
    step = models.CharField(max_length=80)
    hazard_kind = models.CharField("kind of hazard", max_length=10, choices=Hazard.choices)
    hazard = models.TextField("what can go wrong")
    is_significant = models.BooleanField("it is significant", default=True)
    justification = models.TextField("why, or why not")
    control = models.CharField(max_length=12, choices=Control.choices)
    measure = models.TextField("how it is kept from happening")
    limit = models.ForeignKey(
        Limit, on_delete=models.PROTECT, related_name="plan_steps", null=True, blank=True
    )
    monitoring = models.TextField("what is looked at, how, how often, by whom")
    correction = models.TextField("what is done when it is not met")
    verification = models.TextField("how it is verified")
    records = models.TextField("records")

    class Meta:
        ordering = ["version_id", "order", "id"]

    def __str__(self) -> str:
        return f"{self.order}. {self.step}: {self.hazard}"


class Reanalysis(Event):
    """The plan was looked at again (21 CFR 117.170, from memory), whether it changed or not."""

    version = models.ForeignKey(PlanVersion, on_delete=models.PROTECT, related_name="reanalyses")
    because = models.TextField("why it was looked at again")
    found = models.TextField("what was looked at, and what was found")
    signature = models.ForeignKey(
        Signature, on_delete=models.PROTECT, related_name="reanalyses", editable=False
    )

    class Meta:
        verbose_name_plural = "reanalyses"
        ordering = ["happened_at", "id"]

    def __str__(self) -> str:
        return f"{self.version} looked at again"
