"""Rows that only a sheet has: a decision with its date, a register's "in use"."""

from __future__ import annotations

from typing import Any

from django import forms

from brewlog.forms.base import EntryForm
from brewlog.forms.cultures import RetireForm
from brewlog.forms.fields import (
    ChoiceField,
    DoneByField,
    LotField,
    NoteField,
    TextField,
    WhenField,
    YesNoField,
)
from brewlog.forms.people import BreweryForm, PersonForm
from brewlog.forms.recipes import RecipeVersionField
from brewlog.models import Brewery, Hold, IngredientLot, LotKind, User

_DECISIONS = [
    choice
    for choice in IngredientLot.Acceptance.choices
    if choice[0] != IngredientLot.Acceptance.AWAITING
]


class YesUnlessNoField(YesNoField):
    """Yes or no, and yes where nothing is written."""

    def to_python(self, value: Any) -> bool:
        return super().to_python(value) if str(value or "").strip() else True


class _InUseMixin(forms.Form):
    in_use = YesUnlessNoField(label="In use", help_text="no, for what is not used any more")


def register_row(form: type[EntryForm]) -> type[EntryForm]:
    """A register's form with the column that says whether it is still in use."""
    last = {"__module__": __name__, "field_order": [*form.base_fields, "in_use"]}
    return type(f"{form.__name__}Row", (form, _InUseMixin), last)


class BreweryRowForm(BreweryForm):
    """The brewery itself. What is left out is as usual."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        del self.fields["seen"]
        self.fields.pop("reason", None)
        for name in ("date_order", "lot_code_pattern"):
            self.fields[name].required = False

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        for name in ("date_order", "lot_code_pattern"):
            if name in cleaned and not cleaned[name]:
                cleaned[name] = getattr(Brewery(), name)
        return cleaned


class PersonRowForm(PersonForm):
    """Someone who records or reads. A sheet is no place for a password."""

    is_active = YesUnlessNoField(label="Still here", help_text="no, for someone who has left")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        del self.fields["password"]
        self.fields["units"].required = False

    def clean_units(self) -> str:
        return self.cleaned_data["units"] or User.UnitSystem.METRIC


class DecisionRowForm(EntryForm):
    """A delivery was accepted or rejected."""

    lot = LotField(LotKind.INGREDIENT, label="Lot")
    decision = ChoiceField(label="Decision", choices=_DECISIONS)
    when = WhenField(label="When")
    done_by = DoneByField(label="By", required=False)
    reason = TextField(label="Reason", max_length=200)


class ApprovalRowForm(EntryForm):
    """A recipe version was approved."""

    version = RecipeVersionField(label="Recipe version")
    when = WhenField(label="When")
    done_by = DoneByField(label="By", required=False)
    reason = TextField(label="Remark", required=False)


class HoldEndRowForm(EntryForm):
    """A hold ended at one lot it had reached; that lot goes on."""

    held = LotField(label="Held lot")
    cause = ChoiceField(label="Cause", choices=Hold.Cause.choices)
    lot = LotField(label="Lot that goes on")
    when = WhenField(label="When")
    done_by = DoneByField(label="By", required=False)
    reason = NoteField(label="What was found, and why it may go on")


class RetireRowForm(RetireForm):
    """A starter was taken out of use."""

    done_by = DoneByField(label="By", required=False)
