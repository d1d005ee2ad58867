"""Recall questions answered against the clock, as drills or in earnest, and what came back."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from brewlog.models import Customer, Lot
from brewlog.models.base import Event
from brewlog.when import Precision, When
from compliance.models.deviations import MarketDecision
from compliance.models.signatures import Signature

_M = MarketDecision.Kind


class RecallRun(Event):
    """One recall question, from when it was asked to its signed answer.

    `result` keeps the answer as it was signed; it is empty until then. `counted` is what was
    counted of the bottles in store, where they were counted.
    """

    class Kind(models.TextChoices):
        DRILL = "drill", "drill"
        STOCK_RECOVERY = _M.STOCK_RECOVERY.value, _M.STOCK_RECOVERY.label
        WITHDRAWAL = _M.WITHDRAWAL.value, _M.WITHDRAWAL.label
        RECALL = _M.RECALL.value, _M.RECALL.label

    class Level(models.TextChoices):
        """How many customers are checked on (21 CFR 7.42(b)(3), from memory)."""

        A = "A", "A: every customer"
        B = "B", "B: more than one in ten, as agreed"
        C = "C", "C: one in ten"
        D = "D", "D: one in fifty"
        E = "E", "E: none"

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="recall_runs")
    kind = models.CharField(max_length=14, choices=Kind.choices)
    question = models.TextField("what is asked, and why")
    since_at = models.DateTimeField("suspect only since", null=True, blank=True)
    since_precision = models.CharField(max_length=6, blank=True, default="", editable=False)
    level = models.CharField(
        "customers to be checked on", max_length=1, choices=Level.choices, default=Level.A
    )
    counted = models.PositiveIntegerField(
        "bottles counted in store", null=True, blank=True, editable=False
    )
    learnt = models.TextField("what was learnt", blank=True, default="", editable=False)
    result = models.JSONField(null=True, blank=True, editable=False)
    signature = models.ForeignKey(
        Signature,
        on_delete=models.PROTECT,
        related_name="recall_runs",
        null=True,
        blank=True,
        editable=False,
    )

    class Meta:
        verbose_name = "recall question"
        ordering = ["-happened_at", "-id"]

    def __str__(self) -> str:
        return f"{'Recall drill' if self.is_drill else self.get_kind_display()} of {self.lot}"

    @property
    def is_drill(self) -> bool:
        return self.kind == self.Kind.DRILL

    @property
    def since(self) -> When | None:
        """From when on the lot is suspect; None for from the first."""
        return When(self.since_at, Precision(self.since_precision)) if self.since_at else None


class RecallClosing(Event):
    """A recall was closed, or opened again: the newest of them counts.

    `result` keeps how well it worked as it stood when it was closed, and was signed.
    """

    class Act(models.TextChoices):
        CLOSED = "closed", "closed"
        REOPENED = "reopened", "opened again"

    run = models.ForeignKey(RecallRun, on_delete=models.PROTECT, related_name="closings")
    act = models.CharField("what was done", max_length=8, choices=Act.choices)
    why = models.TextField("why")
    bottles = models.TextField("what became of the bottles", blank=True, default="")
    result = models.JSONField(null=True, blank=True, editable=False)
    signature = models.ForeignKey(
        Signature, on_delete=models.PROTECT, related_name="recall_closings", editable=False
    )

    class Meta:
        verbose_name = "closing of a recall"
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(act="reopened") | (~Q(bottles="") & Q(result__isnull=False)),
                name="closing_says_what_became",
                violation_error_message="Write what became of the bottles.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.run}: {self.get_act_display()}"


class RecallResponse(Event):
    """One try to reach a customer, and what they said.

    `found` is what they still had when they heard of it, and empty until they say; what was
    destroyed and sent back is of that. Each answer gives the whole so far: the last one counts.
    """

    class How(models.TextChoices):
        PHONE = "phone", "telephone"
        MAIL = "mail", "e-mail"
        LETTER = "letter", "letter"
        VISIT = "visit", "visit"
        NOTICE = "notice", "notice where it was sold"

    run = models.ForeignKey(RecallRun, on_delete=models.PROTECT, related_name="responses")
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, related_name="recall_responses"
    )
    how = models.CharField("reached by", max_length=6, choices=How.choices)
    is_reached = models.BooleanField("they know of it", default=True)
    spoke_with = models.CharField("who answered", max_length=120, blank=True, default="")
    found = models.PositiveIntegerField("bottles they still had", null=True, blank=True)
    destroyed = models.PositiveIntegerField("of these destroyed", default=0)
    returned = models.PositiveIntegerField("of these sent back", default=0)
    sold_on = models.PositiveIntegerField("sold on or used up", default=0)
    told_on = models.CharField("whom they told in turn", max_length=200, blank=True, default="")

    class Meta:
        verbose_name = "answer of a customer"
        ordering = ["happened_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(is_reached=True) | Q(found__isnull=True),
                name="response_of_someone_reached",
                violation_error_message="Who was not reached has not said what they have.",
            ),
            models.CheckConstraint(
                condition=Q(found__isnull=True, destroyed=0, returned=0, sold_on=0)
                | Q(found__gte=F("destroyed") + F("returned")),
                name="response_adds_up",
                violation_error_message="What is destroyed and sent back is of what they had.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.customer}: {'reached' if self.is_reached else 'not reached'}"
