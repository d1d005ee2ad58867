"""Forms of choosing rules: what binds, what does not apply here, the house's own limits."""

from __future__ import annotations

from operator import attrgetter
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from brewlog.domain.versions import newest_version
from brewlog.forms.base import EntryForm, SeenForm
from brewlog.forms.fields import (
    ChoiceField,
    DayField,
    NoteField,
    NumberField,
    TextField,
    WholeField,
    YesNoField,
)
from brewlog.models import Hold, LotKind, Measurand, ProcessStep, Stage
from brewlog.when import WhenError, parse_when
from compliance.decision import Operator
from compliance.domain.holidays import DayOff
from compliance.domain.house_limits import HOUSE_KEY
from compliance.forms.fields import PickField, SignedForm
from compliance.models import Binding, Limit, LimitKind, RuleSet, policy

_VALUE = {"operator", "value"}
_MEASURED = {"measurand", *_VALUE}
# What each kind of limit cannot do without.
NEEDED: dict[str, set[str]] = {
    LimitKind.VALUE: _MEASURED,
    LimitKind.BY_DEADLINE: {*_MEASURED, "within_hours", "since"},
    LimitKind.PEAK: _MEASURED,
    LimitKind.SHELF_LIFE: _MEASURED,
    LimitKind.PRESENCE: {"measurand", "within_hours", "since"},
    LimitKind.TREND: _MEASURED,
    LimitKind.CALIBRATION: {"measurand"},
    LimitKind.SAMPLE_TEMPERATURE: _MEASURED,
    LimitKind.INSTRUMENT: _MEASURED,
    LimitKind.LAB_AGE: _MEASURED,
    LimitKind.BALANCE: _VALUE,
    LimitKind.STARTER_SHARE: _VALUE,
    LimitKind.STEP_TEMPERATURE: {"step", *_VALUE},
    LimitKind.PLACE_TEMPERATURE: _VALUE,
    LimitKind.GENERATION: _VALUE,
    LimitKind.CULTURE_AGE: _VALUE,
    LimitKind.CONDITION: {"lot_kind"},
    LimitKind.PRESSURE: {"lot_kind"},
    LimitKind.LABEL: {"words"},
}


class BindForm(EntryForm):
    ruleset = PickField(
        RuleSet.objects.live(),
        words=attrgetter("in_full"),
        label="Rule set",
        gone="There is no such rule set.",
    )
    since = DayField(
        label="From",
        initial=timezone.localdate,
        help_text="Lots begun from this day on are held against it.",
    )
    reason = NoteField(label="Why it binds", required=False)


def _since_when(binding: Binding) -> str:
    return f"{binding.ruleset.in_full} from {binding.since}"


class EndBindingForm(EntryForm):
    binding = PickField(
        Binding.objects.live().filter(until__isnull=True).select_related("ruleset"),
        words=_since_when,
        label="Rule set",
        gone="That rule set does not bind, or its end is set already.",
    )
    until = DayField(
        label="Until",
        initial=timezone.localdate,
        help_text="The first day it binds no more. Lots begun before stay judged by it.",
    )
    reason = NoteField(label="Why it binds no longer")


def _in_its_ruleset(limit: Limit) -> str:
    return f"{limit.ruleset.in_full}: {limit.title}"


class WaiverForm(SignedForm):
    meaning = "declared not applicable to this brewery"
    limit = PickField(
        Limit.objects.live().select_related("ruleset"),
        words=_in_its_ruleset,
        label="Limit",
        gone="There is no such limit.",
    )
    since = DayField(label="From", initial=timezone.localdate)
    reason = NoteField(label="Why it does not apply here, and on whose word")


class HouseLimitForm(EntryForm):
    title = TextField(label="Title", max_length=160)
    kind = ChoiceField(label="What it looks at", choices=[("", "—"), *LimitKind.choices])
    lot_kind = ChoiceField(label="Of which lots", choices=LotKind.choices, required=False)
    measurand = ChoiceField(label="Measured", choices=Measurand.choices, required=False)
    stage = ChoiceField(label="At which stage", choices=Stage.choices, required=False)
    step = ChoiceField(label="At which step", choices=ProcessStep.Kind.choices, required=False)
    operator = ChoiceField(
        label="Sign", choices=[(each.value, each.sign) for each in Operator], required=False
    )
    value = TextField(
        label="Value",
        required=False,
        max_length=30,
        help_text="4.2, 70 °F or 30 psi: converted once, and kept as typed beside it.",
    )
    words = TextField(label="Words the label needs", required=False, max_length=60)
    within_hours = NumberField(label="Within how many hours", required=False, least=0, places=2)
    since = ChoiceField(label="Counted from", choices=Limit.Since.choices, required=False)
    effective_from = DayField(
        label="From",
        initial=timezone.localdate,
        required=False,
        help_text="Lots begun from this day on are held against it.",
    )
    consequence = ChoiceField(label="What follows", choices=Limit.Consequence.choices)
    cause = ChoiceField(label="Cause of the hold", choices=Hold.Cause.choices)
    citation = TextField(label="Where it comes from", max_length=200)
    because = NoteField(label="The reason behind it")
    clears = NoteField(label="What would clear it")
    reason = NoteField(label="Why it is added now", required=False)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        for name in sorted(NEEDED.get(cleaned.get("kind", ""), ())):
            if cleaned.get(name) in (None, "") and name not in self.errors:
                self.add_error(name, "A limit of this kind needs this too.")
        if bool(cleaned.get("operator")) != bool(cleaned.get("value")):
            missing = "value" if cleaned.get("operator") else "operator"
            if missing not in self.errors:
                self.add_error(missing, "Write both the sign and the value, or neither.")
        return cleaned


class DaysOffField(NoteField):
    """Days with their names, one a line, typed or pasted: `2026-12-25 Christmas Day`."""

    day_first = True

    def clean(self, value: Any) -> list[DayOff]:  # type: ignore[override]
        lines = [" ".join(line.split()) for line in str(super().clean(value)).splitlines()]
        return [self._read(line) for line in lines if line]

    def _read(self, line: str) -> DayOff:
        day, _, name = line.partition(" ")
        try:
            when = parse_when(day.rstrip(",;:"), self.day_first)
        except WhenError:
            raise ValidationError(
                f"'{line}' begins with no day. Write it like 2026-12-25 Christmas Day."
            ) from None
        return DayOff(timezone.localtime(when.at).date(), name[:120] or "holiday")


class HolidaysForm(EntryForm):
    days = DaysOffField(
        label="Days",
        widget=forms.Textarea(attrs={"rows": 8}),
        help_text="One a line, the day first: 2026-12-25 Christmas Day. Days that are there "
        "already stay as they are.",
    )


def _own_limits() -> Any:
    return Limit.objects.live().filter(
        ruleset__key=HOUSE_KEY, ruleset__voided_at__isnull=True, effective_until__isnull=True
    )


def _with_value(limit: Limit) -> str:
    return f"{limit}: {limit.comparison}" if limit.comparison else str(limit)


_NO_OWN_LIMIT = "That is no limit of our own, or its end is set already."


class EndHouseLimitForm(EntryForm):
    limit = PickField(_own_limits(), words=_with_value, label="Limit", gone=_NO_OWN_LIMIT)
    until = DayField(
        label="Until",
        initial=timezone.localdate,
        help_text="Lots begun from this day on are not held against it. Those begun before stay "
        "judged by it.",
    )
    reason = NoteField(label="Why it holds no longer")


class ReplaceHouseLimitForm(EntryForm):
    limit = PickField(_own_limits(), words=_with_value, label="Limit", gone=_NO_OWN_LIMIT)
    value = TextField(
        label="New value",
        required=False,
        max_length=30,
        help_text="4.2, 70 °F or 30 psi. Left empty, it stays.",
    )
    within_hours = NumberField(
        label="Within how many hours",
        required=False,
        least=0,
        places=2,
        help_text="Left empty, it stays.",
    )
    effective_from = DayField(
        label="From",
        initial=timezone.localdate,
        help_text="Lots begun from this day on are held against the new one.",
    )
    reason = NoteField(label="Why it changes")


class PolicyForm(SeenForm):
    release_needed_since = DayField(
        label="Lots bottled from this day on are shipped only once released",
        required=False,
        help_text="Left empty, bottles may be shipped without a release.",
    )
    review_within_days = WholeField(
        label="Records are reviewed within so many working days", least=1, most=90
    )
    one_person = YesNoField(
        label="The reviewer may have taken the readings",
        help_text="For a one-person brewery. Each review shows it.",
    )
    reason = NoteField(label="Why")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        now = policy()
        for name in ("release_needed_since", "review_within_days", "one_person"):
            self.fields[name].initial = getattr(now, name)
        self.fields["seen"].initial = newest_version(now)
