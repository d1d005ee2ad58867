"""Forms of holding, lifting and settling."""

from __future__ import annotations

from typing import Any

from django import forms

from brewlog.forms.base import EntryForm, EventForm
from brewlog.forms.fields import ChoiceField, DoneByField, LotField, NoteField, TextField, WhenField
from brewlog.models import Hold, ReviewFlag


class HoldForm(EventForm):
    lot = LotField(label="Lot")
    cause = ChoiceField(label="Cause", choices=Hold.Cause.choices)
    why = NoteField(label="What is wrong")


class LiftForm(EntryForm):
    lot = LotField(label="Lot")
    cause = ChoiceField(
        label="Cause",
        choices=Hold.Cause.choices,
        required=False,
        help_text="Where the lot has several holds.",
    )
    reason = NoteField(label="What was found, and why it may go on")
    authority_asked = TextField(
        label="Which authority was asked, and what it said",
        required=False,
        max_length=200,
        help_text="Needed for alcohol over the line.",
    )


class LiftRowForm(LiftForm):
    """A hold that was lifted some time ago."""

    when = WhenField(label="When")
    done_by = DoneByField(label="By", required=False)


class FlagField(forms.Field):
    """A review flag, by its number."""

    def prepare_value(self, value: Any) -> Any:
        return value.pk if isinstance(value, ReviewFlag) else value

    def to_python(self, value: Any) -> ReviewFlag | None:
        text = str(value or "").strip().removesuffix(".0")
        if not text:
            return None
        found = ReviewFlag.objects.live().filter(pk=text).first() if text.isdecimal() else None
        if found is None:
            raise forms.ValidationError(f"There is nothing to look at under number '{text}'.")
        return found


class SettleForm(EntryForm):
    flag = FlagField(label="Number")
    note = NoteField(label="What was found and done")
