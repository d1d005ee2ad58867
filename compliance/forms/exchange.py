"""What is asked before records are handed over: which lots, which period."""

from __future__ import annotations

from typing import Any

from brewlog.forms.base import EntryForm
from brewlog.forms.fields import ChoiceField, DayField, LotField, NamedField, YesNoField
from brewlog.models import Ingredient
from compliance.exchange.scopes import WAYS, Period, Scope


class PeriodForm(EntryForm):
    first = DayField(label="From", required=False)
    last = DayField(label="To", required=False)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        first, last = cleaned.get("first"), cleaned.get("last")
        if first and last and last < first:
            self.add_error("last", "This day is before the first. Exchange them.")
        return cleaned

    @property
    def period(self) -> Period:
        return Period(self.cleaned_data["first"], self.cleaned_data["last"])


class ScopeForm(PeriodForm):
    """One lot's trace, or all lots."""

    lot = LotField(label="Lot", required=False, help_text="Left empty, all lots.")
    way = ChoiceField(label="Which way", choices=list(WAYS.items()), required=False)

    field_order = ["lot", "way", "first", "last"]

    @property
    def scope(self) -> Scope:
        said = self.cleaned_data
        return Scope(said["lot"], said["way"], self.period)


class TraceabilityForm(ScopeForm):
    listed_only = YesNoField(label="Listed foods only")


class OrganicForm(PeriodForm):
    ingredient = NamedField(
        Ingredient, label="Ingredient", required=False, empty_label="every organic one"
    )

    field_order = ["ingredient", "first", "last"]


class AlcoholForm(PeriodForm):
    daily = YesNoField(label="The daily record too")


class BinderForm(PeriodForm):
    every = YesNoField(label="Lots never released too")
