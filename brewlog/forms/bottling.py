"""Forms of flavours, formats, bottling and the checks around the line."""

from __future__ import annotations

from typing import Any

from django import forms

from brewlog.forms.base import AlreadyDoneMixin, EntryForm, EventForm
from brewlog.forms.fields import (
    ChoiceField,
    CodeField,
    DayField,
    LotField,
    NamedField,
    NoteField,
    NumberField,
    QuantityField,
    TemperatureField,
    TextField,
    WhenField,
    WholeField,
    YesNoField,
)
from brewlog.gs1 import Gs1Error, gtin14
from brewlog.models import BottlingLot, Flavour, Format, Instrument, LotKind, RetainedBottles
from brewlog.units import Dimension

_MANY = 1_000_000


class FlavourForm(EntryForm):
    name = TextField(label="Name", max_length=120)
    label_name = TextField(
        label="Name on the label",
        required=False,
        max_length=120,
        help_text="Left empty, the name above.",
    )
    best_before_days = WholeField(
        label="Best before, days", required=False, least=1, most=3660, initial=90
    )
    storage = TextField(
        label="Storage on the label",
        required=False,
        max_length=120,
        initial="Keep refrigerated",
    )
    gtin = TextField(label="GTIN", required=False, max_length=14)
    statement = NoteField(label="Further text on the label", required=False)
    note = NoteField(label="Note", required=False)

    def clean_gtin(self) -> str:
        typed = self.cleaned_data["gtin"]
        if not typed:
            return ""
        try:
            return gtin14(typed)
        except Gs1Error as error:
            raise forms.ValidationError(str(error)) from None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        cleaned["label_name"] = cleaned.get("label_name") or cleaned.get("name", "")
        for name in ("best_before_days", "storage"):
            if name in cleaned:
                cleaned[name] = cleaned[name] or self.fields[name].initial
        return cleaned


class FormatForm(EntryForm):
    name = TextField(label="Name", max_length=120)
    container = ChoiceField(label="Container", choices=Format.Container.choices)
    material = TextField(label="Material", required=False, max_length=40)
    holds = QuantityField(Dimension.VOLUME, label="Net contents", help_text="330 mL")
    rating = ChoiceField(
        label="Pressure rating", choices=Format.Rating.choices, initial=Format.Rating.UNKNOWN
    )
    rated_bar = NumberField(
        label="Rated gauge pressure, bar", required=False, least=0, most=100, places=2
    )
    is_reused = YesNoField(label="Comes back and is used again")
    note = NoteField(label="Note", required=False)


class OutputForm(EntryForm):
    """Bottles of one flavour and format."""

    flavour = NamedField(Flavour, label="Flavour")
    format = NamedField(Format, label="Format")
    count = WholeField(
        label="Filled", least=1, most=_MANY, help_text="Good ones, without the rejects."
    )
    code = CodeField(
        label="Lot code", required=False, max_length=40, help_text="Left empty, the next free one."
    )
    rejects = WholeField(label="Rejected on the line", required=False, least=0, most=_MANY)
    planned_count = WholeField(label="Planned", required=False, least=0, most=_MANY)
    fill = QuantityField(
        Dimension.VOLUME,
        label="Fill per bottle",
        required=False,
        default_unit="mL",
        help_text="Left empty, the net contents.",
    )
    carbonation = ChoiceField(
        label="Carbonation", choices=BottlingLot.Carbonation.choices, required=False
    )
    conditioning_from = WhenField(
        label="Warm from", required=False, help_text="Left empty, from the filling."
    )
    conditioning_temperature = TemperatureField(label="Warm at", is_cool=True, required=False)
    best_before = DayField(
        label="Best before", required=False, help_text="Left empty, by the flavour's days."
    )
    label_version = TextField(label="Label version", required=False, max_length=40)


class BottleForm(AlreadyDoneMixin, EventForm):
    """What was drawn, added and filled stands in the lines."""


class _OnlyForMixin(forms.Form):
    flavour = NamedField(Flavour, label="Only for flavour", required=False)
    format = NamedField(Format, label="Only for format", required=False)


class DrawnForm(_OnlyForMixin, EntryForm):
    source = LotField(LotKind.BATCH, label="Batch")
    quantity = QuantityField(Dimension.VOLUME, label="Amount drawn")

    field_order = ["source", "quantity"]


class AdditionForm(_OnlyForMixin, EntryForm):
    source = LotField(LotKind.INGREDIENT, LotKind.PREPARATION, label="Lot")
    quantity = QuantityField(label="Amount")

    field_order = ["source", "quantity"]


class BottleOneForm(AlreadyDoneMixin, OutputForm, EventForm):
    """One flavour and format; what else went in may stand elsewhere."""

    batch = LotField(LotKind.BATCH, label="Batch", required=False)
    drawn = QuantityField(Dimension.VOLUME, label="Amount drawn", required=False)

    field_order = ["when", "batch", "drawn"]


class LineClearanceForm(EventForm):
    lot = LotField(LotKind.BOTTLING, label="Bottling lot")
    previous = LotField(LotKind.BOTTLING, label="What ran before", required=False)
    first_label_kept = YesNoField(label="First label kept")
    last_label_kept = YesNoField(label="Last label kept")


class BreakageForm(EventForm):
    lot = LotField(LotKind.BOTTLING, label="Bottling lot")
    broken = WholeField(label="Broken", least=1, most=_MANY)
    not_counted = YesNoField(
        label="Broke before they were counted", help_text="They are not in the number filled."
    )
    set_apart = WholeField(
        label="Set apart",
        required=False,
        least=0,
        most=_MANY,
        help_text="Open bottles near by, and all back to the last good check.",
    )
    last_good_check_at = WhenField(label="Last good check", required=False)
    cleaned = TextField(label="What was cleaned and checked", max_length=160)


class BottleWashForm(EventForm):
    lot = LotField(LotKind.BOTTLING, label="Bottling lot")
    washed = WholeField(label="Washed", least=1, most=_MANY)
    chipped = WholeField(label="Put aside for chips or cracks", required=False, least=0, most=_MANY)
    gaskets_checked = YesNoField(label="Gaskets checked")
    method = TextField(label="How they were washed", max_length=120)


class KeepBottlesForm(EventForm):
    lot = LotField(LotKind.BOTTLING, label="Bottling lot")
    count = WholeField(label="Bottles kept back", least=1, most=_MANY)
    kept = ChoiceField(label="Kept", choices=RetainedBottles.Kept.choices)
    pull_on = DayField(label="Open on")


class PullBottlesForm(EventForm):
    lot = LotField(LotKind.BOTTLING, label="Bottling lot")
    kept = ChoiceField(label="Kept", choices=RetainedBottles.Kept.choices, required=False)
    pressure = TextField(
        label="Pressure on the gauge",
        required=False,
        max_length=30,
        help_text="Read before it is opened: 2.1 bar, or 30 psi.",
    )
    gauge = NamedField(Instrument, label="Gauge", required=False)
    finding = TextField(label="What was found", help_text="Gas, smell, taste, sediment.")
    is_wrong = YesNoField(label="Something is wrong", help_text="A reviewer will look at it.")
