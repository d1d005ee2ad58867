"""Forms of the living cultures."""

from __future__ import annotations

from typing import Any

from brewlog.forms.base import AlreadyDoneMixin, EntryForm, EventForm
from brewlog.forms.fields import (
    ChoiceField,
    CodeField,
    LotField,
    NamedField,
    NoteField,
    QuantityField,
    TextField,
    WhenField,
    WholeField,
    YesNoField,
)
from brewlog.models import CultureLine, CultureLot, LotKind, Supplier, Vessel
from brewlog.units import Dimension
from brewlog.when import now


class CultureLineForm(EntryForm):
    name = TextField(label="Name", max_length=120)
    feed_every_days = WholeField(
        label="Feed every, days",
        required=False,
        least=1,
        most=365,
        help_text="Today then says which starters to feed. Left empty, it does not.",
    )
    note = NoteField(label="Note", required=False)


class _NewStarterForm(AlreadyDoneMixin, EventForm):
    """What every new lot of starter is asked."""

    quantity = QuantityField(Dimension.VOLUME, label="Starter liquid")
    pellicles = WholeField(label="Pellicles", required=False, least=0, most=999)
    vessel = NamedField(Vessel, label="Vessel", required=False)
    code = CodeField(
        label="Lot code", required=False, max_length=40, help_text="Left empty, the next free one."
    )

    def clean_pellicles(self) -> int:
        return self.cleaned_data["pellicles"] or 0


class BuyCultureForm(_NewStarterForm):
    line = NamedField(CultureLine, label="Culture line")
    supplier = NamedField(Supplier, label="Supplier")
    supplier_code = TextField(label="Supplier's lot code", required=False, max_length=60)
    document_number = TextField(label="Document number", required=False, max_length=60)
    grown_from_drink = YesNoField(label="Grown from a bought raw drink")

    field_order = ["when", "line", "supplier", "supplier_code", "document_number"]


class FeedForm(_NewStarterForm):
    culture = LotField(LotKind.CULTURE, label="Starter")
    taken = QuantityField(
        Dimension.VOLUME, label="How much of it goes on", help_text="All of it, if nothing is left."
    )
    quantity = QuantityField(Dimension.VOLUME, label="Starter liquid after feeding")
    pellicles = WholeField(
        label="Pellicles", required=False, least=0, most=999, help_text="Left empty, as before."
    )

    field_order = ["when", "culture", "taken", "quantity"]

    def clean_pellicles(self) -> int | None:  # type: ignore[override]
        return self.cleaned_data["pellicles"]


class PoolForm(_NewStarterForm):
    line = NamedField(CultureLine, label="Culture line")

    field_order = ["when", "line", "quantity"]


class StarterDrawForm(EntryForm):
    source = LotField(LotKind.CULTURE, label="Starter")
    quantity = QuantityField(Dimension.VOLUME, label="Amount")


class KeepBackForm(_NewStarterForm):
    batch = LotField(LotKind.BATCH, label="Batch")
    line = NamedField(
        CultureLine,
        label="Culture line",
        required=False,
        help_text="Left empty, the line the batch was started with.",
    )
    is_backup = YesNoField(label="Kept apart as a backup")

    field_order = ["when", "batch", "quantity", "line"]


class SplitBackupForm(_NewStarterForm):
    culture = LotField(LotKind.CULTURE, label="Starter")

    field_order = ["when", "culture", "quantity"]


class RetireForm(EntryForm):
    culture = LotField(LotKind.CULTURE, label="Starter")
    when = WhenField(label="When", initial=now)
    retire_reason = TextField(label="Reason", max_length=200)


class CultureRowForm(_NewStarterForm):
    """A row of the Cultures sheet: any new lot of starter, with its one source if it has one."""

    line = NamedField(CultureLine, label="Culture line")
    origin = ChoiceField(label="Origin", choices=CultureLot.Origin.choices)
    is_backup = YesNoField(label="Backup")
    supplier = NamedField(Supplier, label="Supplier", required=False)
    supplier_code = TextField(label="Supplier's lot code", required=False, max_length=60)
    document_number = TextField(label="Document number", required=False, max_length=60)
    source = LotField(LotKind.BATCH, LotKind.CULTURE, label="From", required=False)
    taken = QuantityField(Dimension.VOLUME, label="Amount taken", required=False)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("source") and not cleaned.get("taken") and cleaned.get("quantity"):
            cleaned["taken"] = cleaned["quantity"]
        return cleaned
