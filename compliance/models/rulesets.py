"""Rule sets: limits as data, each with its source and how surely that source was read.

None of this is legal advice. A rule set says what someone wrote down of a rule; the
authority's own text comes first.
"""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from django.db import models

from brewlog.models import Hold, LotKind, Measurand, Stage
from brewlog.models.base import Record, RecordQuerySet
from compliance.decision import Operator


class RuleSet(Record):
    """One edition of what a jurisdiction, a publication or the house asks for."""

    class Status(models.TextChoices):
        LAW = "law", "law or regulation"
        GUIDANCE = "guidance", "published guidance"
        PRACTICE = "practice", "common practice"
        HOUSE = "house", "the brewery's own"

    key = models.SlugField(max_length=60)
    edition = models.CharField(max_length=40)
    title = models.CharField(max_length=160)
    jurisdiction = models.CharField(max_length=120, blank=True, default="")
    status = models.CharField(max_length=8, choices=Status.choices)
    effective_from = models.DateField()
    effective_until = models.DateField(null=True, blank=True)
    source = models.TextField()
    note = models.TextField(blank=True, default="")

    class Meta:
        ordering = ["jurisdiction", "title", "effective_from"]
        constraints = [
            models.UniqueConstraint(
                fields=["key", "edition"],
                name="ruleset_edition_once",
                violation_error_message="That edition is there already.",
            ),
            models.CheckConstraint(
                condition=models.Q(effective_until__isnull=True)
                | models.Q(effective_until__gt=models.F("effective_from")),
                name="ruleset_ends_after_it_begins",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title} ({self.edition})"

    @property
    def in_full(self) -> str:
        """Whose it is, and which: of several that share a name. What is signed keeps `str`."""
        if not self.jurisdiction or self.title.startswith(self.jurisdiction):
            return str(self)
        if self.jurisdiction.startswith(self.title):
            return f"{self.jurisdiction} ({self.edition})"
        return f"{self.jurisdiction}: {self}"

    @property
    def is_law(self) -> bool:
        return self.status == self.Status.LAW


class LimitKind(models.TextChoices):
    """What a limit looks at, and when."""

    VALUE = "value", "each reading at a stage"
    BY_DEADLINE = "by_deadline", "reached by a deadline"
    PEAK = "peak", "the highest value at any time"
    SHELF_LIFE = "shelf_life", "at the end of shelf life"
    PRESENCE = "presence", "a reading is there in time"
    TREND = "trend", "rises or stalls"
    CALIBRATION = "calibration", "the instrument was in calibration"
    SAMPLE_TEMPERATURE = "sample_temperature", "the sample's temperature"
    INSTRUMENT = "instrument", "the instrument can decide"
    LAB_AGE = "lab_age", "time since the last laboratory result"
    BALANCE = "balance", "volumes or counts that do not add up"
    STARTER_SHARE = "starter_share", "share of starter"
    STEP_TEMPERATURE = "step_temperature", "temperature of a step"
    PLACE_TEMPERATURE = "place_temperature", "temperature where it stands"
    GENERATION = "generation", "transfers since bought"
    CULTURE_AGE = "culture_age", "age of a starter"
    CONDITION = "condition", "mould or an off look or smell"
    PRESSURE = "pressure", "pressure the bottle may reach"
    LABEL = "label", "what the label must say"


class Unit(models.TextChoices):
    """The units that limits' values stand in. Specific gravity has none."""

    PH = "pH", "pH"
    CELSIUS = "°C", "°C"
    BRIX = "°Bx", "°Bx"
    ACIDITY = "g/L as acetic", "g/L as acetic"
    BAR = "bar", "bar"
    MILLILITRES = "mL", "mL"
    ALCOHOL = "% vol", "% vol"
    DAYS = "days", "days"
    TRANSFERS = "transfers", "transfers"
    UNEXPLAINED = "% unexplained", "% unexplained"
    OF_THE_VOLUME = "% of the volume", "% of the volume"


class Limit(Record):
    """One limit: what is compared with what, from when to when, and what follows."""

    class Consequence(models.TextChoices):
        CRITICAL = "critical", "critical limit: the lot is kept back"
        ACTION = "action", "action limit: do something now"
        LABEL = "label", "label trigger"
        NOTE = "note", "note"

    class Reading(models.TextChoices):
        """How surely the source was read."""

        CONFIRMED = "confirmed", "read in the source"
        SECONDARY = "secondary", "read in a restatement"
        MEMORY = "memory", "from memory, not confirmed"
        DERIVED = "derived", "worked out from cited values"
        PRACTICE = "practice", "common practice"
        HOUSE = "house", "set by the house"

    class Since(models.TextChoices):
        """The event a deadline counts from."""

        PITCHED = "pitched", "starter added"
        BEGAN = "began", "the lot began"
        BOTTLED = "bottled", "bottled"
        LAST = "last", "the last one"

    ruleset = models.ForeignKey(RuleSet, on_delete=models.PROTECT, related_name="limits")
    key = models.SlugField(max_length=60)
    title = models.CharField(max_length=160)
    kind = models.CharField(max_length=18, choices=LimitKind.choices)
    lot_kind = models.CharField(max_length=11, choices=LotKind.choices, blank=True, default="")
    measurand = models.CharField(max_length=13, choices=Measurand.choices, blank=True, default="")
    stage = models.CharField(max_length=12, choices=Stage.choices, blank=True, default="")
    step = models.CharField(max_length=10, blank=True, default="")
    operator = models.CharField(
        max_length=2, choices=[(o.value, o.sign) for o in Operator], blank=True, default=""
    )
    value = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    unit = models.CharField(max_length=15, choices=Unit.choices, blank=True, default="")
    # As a manager typed it: 70 °F.
    value_text = models.CharField("value as typed", max_length=30, blank=True, default="")
    words = models.CharField("words on the label", max_length=60, blank=True, default="")
    within_hours = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    since = models.CharField(max_length=7, choices=Since.choices, blank=True, default="")
    consequence = models.CharField(max_length=8, choices=Consequence.choices)
    cause = models.CharField(max_length=13, choices=Hold.Cause.choices)
    risk = models.DecimalField(max_digits=4, decimal_places=3, default="0.050")
    citation = models.CharField(max_length=200)
    reading = models.CharField(max_length=9, choices=Reading.choices)
    # Of the house's own: its lots are those begun within these days.
    effective_from = models.DateField("holds from", null=True, blank=True)
    effective_until = models.DateField("ended on", null=True, blank=True)
    because = models.TextField("the reason behind it")
    clears = models.TextField("what would clear it")

    class Meta:
        ordering = ["ruleset_id", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["ruleset", "key"],
                condition=models.Q(voided_at__isnull=True),
                name="limit_once_in_its_ruleset",
            ),
            models.CheckConstraint(
                condition=models.Q(operator="", value__isnull=True)
                | (~models.Q(operator="") & models.Q(value__isnull=False)),
                name="limit_operator_goes_with_value",
                violation_error_message="Write both the sign and the value, or neither.",
            ),
            models.CheckConstraint(
                condition=models.Q(risk__gt=0, risk__lte=0.5), name="limit_risk_in_range"
            ),
            models.CheckConstraint(
                condition=models.Q(effective_until__isnull=True)
                | models.Q(effective_until__gte=models.F("effective_from")),
                name="limit_ends_after_it_begins",
                violation_error_message="It cannot end before it begins.",
            ),
        ]

    def __str__(self) -> str:
        return self.title

    def holds_on(self, day: dt.date) -> bool:
        """Whether it is one of its rule set on a day."""
        return _within(day, self.effective_from or dt.date.min, self.effective_until)

    @property
    def sign(self) -> Operator:
        """The operator, for limits that have a value."""
        return Operator(self.operator)

    @property
    def as_typed(self) -> str:
        """The value as a manager typed it, where that was in another unit: `70 °F`."""
        typed_unit = self.value_text.lstrip("+-0123456789., ")
        return "" if typed_unit in ("", self.unit) else self.value_text

    @property
    def comparison(self) -> str:
        """`≤ 4.2 pH`, `≤ 21.11 °C (70 °F)`, or nothing for a limit without a value."""
        if self.value is None:
            return ""
        shown = round(self.value, 2) if self.as_typed else self.value
        typed = f"({self.as_typed})" if self.as_typed else ""
        return " ".join(filter(None, [self.sign.sign, f"{shown.normalize():f}", self.unit, typed]))


class BindingQuerySet(RecordQuerySet):
    """Questions about what binds."""

    def on(self, day: Any) -> BindingQuerySet:
        """Those in force on a day, the rule set's own dates included."""
        return self.live().filter(
            models.Q(until__isnull=True) | models.Q(until__gt=day),
            models.Q(ruleset__effective_until__isnull=True)
            | models.Q(ruleset__effective_until__gt=day),
            since__lte=day,
            ruleset__effective_from__lte=day,
        )


class Binding(Record):
    """The brewery is held to a rule set from a day on; ended, never removed."""

    ruleset = models.ForeignKey(RuleSet, on_delete=models.PROTECT, related_name="bindings")
    since = models.DateField()
    until = models.DateField(null=True, blank=True)

    objects: ClassVar = BindingQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(until__isnull=True) | models.Q(until__gt=models.F("since")),
                name="binding_ends_after_it_begins",
                violation_error_message="It cannot end before it begins.",
            )
        ]

    SENTENCES: ClassVar[frozenset[str]] = frozenset()  # but its own name, which tells a day

    def __str__(self) -> str:
        return f"{self.ruleset} from {self.since}"

    def binds_on(self, day: dt.date) -> bool:
        """Whether it held on a day, the rule set's own dates included: as `on(day)`."""
        return _within(day, self.since, self.until) and _within(
            day, self.ruleset.effective_from, self.ruleset.effective_until
        )


class Waiver(Record):
    """A limit declared not applicable here: signed, with the reason. A law is not loosened."""

    limit = models.ForeignKey(Limit, on_delete=models.PROTECT, related_name="waivers")
    reason = models.TextField()
    since = models.DateField()
    until = models.DateField(null=True, blank=True)
    printed_name = models.CharField(max_length=120)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.limit} not applicable: {self.reason}"

    def holds_on(self, day: dt.date) -> bool:
        return _within(day, self.since, self.until)


def _within(day: dt.date, since: dt.date, until: dt.date | None) -> bool:
    """From its first day on, the day it ends left out."""
    return since <= day and (until is None or day < until)
