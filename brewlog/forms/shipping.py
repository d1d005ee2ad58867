"""Forms of places, customers, shipments, stock and kegs."""

from __future__ import annotations

from typing import Any

from django import forms

from brewlog.forms.base import AlreadyDoneMixin, EntryForm, EventForm
from brewlog.forms.fields import (
    ChoiceField,
    LotField,
    NamedField,
    NoteField,
    QuantityField,
    TemperatureField,
    TextField,
    YesNoField,
    plain_code,
)
from brewlog.models import (
    Customer,
    Keg,
    KegEvent,
    Location,
    LotKind,
    Shipment,
    StockAdjustment,
)
from brewlog.units import Dimension


class LocationForm(EntryForm):
    name = TextField(label="Name", max_length=120)
    kind = ChoiceField(label="Kind", choices=Location.Kind.choices)
    is_cold = YesNoField(
        label="Kept cold", help_text="A cooler always is. What stands there is not counted as warm."
    )
    address = NoteField(label="Address", required=False)
    note = NoteField(label="Note", required=False)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("kind") == Location.Kind.COOLER:
            cleaned["is_cold"] = True
        return cleaned


class CustomerForm(EntryForm):
    name = TextField(label="Name", max_length=120)
    kind = ChoiceField(
        label="Kind",
        choices=Customer.Kind.choices,
        help_text="The public has no names to write down: one for each stall or door, called by "
        "its place.",
    )
    contact = TextField(label="Contact person", required=False, max_length=120)
    address = NoteField(label="Address", required=False)
    country = TextField(label="Country", required=False, max_length=60)
    phone = TextField(label="Phone", required=False, max_length=40)
    email = forms.EmailField(label="E-mail", required=False)
    note = NoteField(label="Note", required=False)


class MoveForm(EventForm):
    lot = LotField(label="Lot")
    quantity = QuantityField(label="Amount")
    from_location = NamedField(
        Location, label="From", required=False, help_text="Left empty, where it stands."
    )
    to_location = NamedField(Location, label="To")


class ShipmentForm(AlreadyDoneMixin, EventForm):
    customer = NamedField(
        Customer,
        label="Customer",
        help_text="At a stall or the door nobody's name is asked: use Sell at a stall or the door.",
    )
    number = TextField(
        label="Shipment number",
        required=False,
        max_length=40,
        help_text="Left empty, the next of the day.",
    )
    kind = ChoiceField(
        label="Kind",
        choices=Shipment.Kind.choices,
        required=False,
        help_text="Left empty, a sale. What is sold to the public is a stall sale.",
    )
    ship_from = NamedField(Location, label="Sent from", required=False)
    document_type = TextField(
        label="Reference document", required=False, max_length=40, help_text="Invoice, delivery."
    )
    document_number = TextField(label="Document number", required=False, max_length=60)
    transporter = TextField(label="Transporter", required=False, max_length=120)
    loading_temperature = TemperatureField(
        label="Temperature at loading", is_cool=True, required=False
    )

    field_order = ["customer", "when"]
    shown_at_first = 2


class StallSaleForm(AlreadyDoneMixin, EventForm):
    """What was sold to nobody in particular, by place and day."""

    place = NamedField(
        Location, label="Sold at", help_text="The stall, the tap or the brewery's door."
    )

    field_order = ["place", "when"]


class ShipLineForm(EntryForm):
    """One line of a shipment. Any lot may be written; what must not leave is refused."""

    lot = LotField(label="Lot")
    quantity = QuantityField(label="Amount")
    note = TextField(label="Note", required=False, max_length=120)


class ShipmentField(forms.Field):
    """A shipment, by its number."""

    def prepare_value(self, value: Any) -> Any:
        return value.number if isinstance(value, Shipment) else value

    def to_python(self, value: Any) -> Shipment | None:
        text = plain_code(" ".join(str(value or "").split()))
        if not text:
            return None
        found = Shipment.objects.live().filter(number__iexact=text).first()
        if found is None:
            raise forms.ValidationError(f"No shipment has the number '{text}'.")
        return found


class ShipmentLineForm(AlreadyDoneMixin, ShipLineForm):
    """A line that names its shipment."""

    shipment = ShipmentField(label="Shipment number")

    field_order = ["shipment"]


class TakeBackForm(EventForm):
    lot = LotField(LotKind.BOTTLING, label="Lot")
    quantity = QuantityField(label="Amount brought back")
    customer = NamedField(Customer, label="Customer")
    reference = TextField(label="Reference document", required=False, max_length=80)


_WRITTEN_OFF = [
    choice
    for choice in StockAdjustment.Reason.choices
    if choice[0] not in {*StockAdjustment.COMES_BACK, *StockAdjustment.EITHER_WAY}
]


class AdjustForm(AlreadyDoneMixin, EventForm):
    lot = LotField(label="Lot")
    quantity = QuantityField(label="Amount gone")
    why = ChoiceField(label="What became of it", choices=_WRITTEN_OFF)
    witness = TextField(
        label="Witness", required=False, max_length=120, help_text="Needed for what is destroyed."
    )
    reference = TextField(
        label="Reference document",
        required=False,
        max_length=80,
        help_text="Of a sample sent to a laboratory, its number: the result is waited for.",
    )


class CountForm(EventForm):
    lot = LotField(label="Lot")
    counted = QuantityField(label="Counted")
    witness = TextField(label="Witness", required=False, max_length=120)
    reference = TextField(label="Reference document", required=False, max_length=80)


class KegForm(EntryForm):
    name = TextField(label="Serial number", max_length=120)
    holds = QuantityField(Dimension.VOLUME, label="Holds")
    note = NoteField(label="Note", required=False)


class KegEventForm(AlreadyDoneMixin, EventForm):
    keg = NamedField(Keg, label="Keg")
    kind = ChoiceField(label="What happened", choices=KegEvent.Kind.choices)
    lot = LotField(
        LotKind.BOTTLING, label="Lot", required=False, help_text="What it was filled with."
    )
    customer = NamedField(Customer, label="Customer", required=False, help_text="Where it went.")
