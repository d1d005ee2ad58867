"""Forms of receiving, deciding and preparing."""

from __future__ import annotations

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
    YesNoField,
)
from brewlog.forms.uploads import PaperField
from brewlog.models import Ingredient, LotKind, PreparationLot, Supplier
from brewlog.models.lots import DIMENSION_CHOICES
from brewlog.units import Dimension


class SupplierForm(EntryForm):
    name = TextField(label="Name", max_length=120)
    contact = TextField(label="Contact person", required=False, max_length=120)
    address = NoteField(label="Address", required=False)
    country = TextField(label="Country", required=False, max_length=60)
    phone = TextField(label="Phone", required=False, max_length=40)
    email = forms.EmailField(label="E-mail", required=False)
    approved_on = DayField(label="Approved on", required=False)
    organic_certificate = TextField(label="Organic certificate", required=False, max_length=80)
    organic_certificate_until = DayField(label="Certificate valid until", required=False)
    note = NoteField(label="Note", required=False)


class IngredientForm(EntryForm):
    name = TextField(label="Name", max_length=120)
    kind = ChoiceField(label="Kind", choices=Ingredient.Kind.choices)
    dimension = ChoiceField(label="Measured by", choices=DIMENSION_CHOICES)
    label_name = TextField(label="Name on the label", required=False, max_length=120)
    allergens = TextField(label="Allergens", required=False, max_length=120)
    organic = ChoiceField(
        label="Organic",
        choices=Ingredient.Organic.choices,
        required=False,
    )
    form = TextField(
        label="Form as received",
        required=False,
        max_length=60,
        help_text="dried, fresh, frozen, juice",
    )
    on_traceability_list = YesNoField(
        label="Listed for extra trace records",
        help_text="In this form. See your authority's list of foods; it is they differ.",
    )
    country = TextField(label="Country of origin", required=False, max_length=60)
    density = NumberField(
        label="Density, kg/L", required=False, least=0, most=20, help_text="weight counts as volume"
    )
    note = NoteField(label="Note", required=False)

    def clean_organic(self) -> str:
        return self.cleaned_data["organic"] or Ingredient.Organic.NOT_APPLICABLE


class ReceiveForm(EventForm):
    ingredient = NamedField(Ingredient, label="Ingredient")
    quantity = QuantityField(label="Amount", help_text="12.5 kg, 20 L, 500 pieces")
    code = CodeField(
        label="Lot code", required=False, max_length=40, help_text="Left empty, the next free one."
    )
    supplier = NamedField(Supplier, label="Supplier", required=False)
    supplier_code = TextField(label="Supplier's lot code", required=False, max_length=60)
    brand = TextField(label="Brand and variety", required=False, max_length=120)
    packaging = TextField(label="Packed as", required=False, max_length=80)
    best_before = DayField(label="Best before", required=False)
    arrival_temperature = TemperatureField(
        label="Temperature on arrival",
        is_cool=True,
        required=False,
        help_text="Where it came chilled or frozen.",
    )
    condition = TextField(label="Condition on arrival", required=False, max_length=120)
    accepted = YesNoField(
        label="Accepted", help_text="Looked at, sound, and as ordered. Otherwise it waits."
    )
    document_type = TextField(label="Reference document", required=False, max_length=40)
    document_number = TextField(label="Document number", required=False, max_length=60)
    transporter = TextField(label="Transporter", required=False, max_length=120)
    origin = TextField(label="Country of origin", required=False, max_length=60)
    code_source = TextField(label="Who gave the trace code", required=False, max_length=200)
    organic = ChoiceField(label="Organic", choices=Ingredient.Organic.choices, required=False)
    certificate = PaperField(label="Certificate")
    certificate_number = TextField(label="Certificate number", required=False, max_length=80)
    certificate_from = DayField(label="Certificate valid from", required=False)
    certificate_until = DayField(label="Certificate valid until", required=False)
    picked_at_place = TextField(
        label="Picked at",
        required=False,
        max_length=120,
        help_text="For what was grown or gathered instead of bought.",
    )
    picked_by = TextField(label="Picked by", required=False, max_length=120)
    picked_on = DayField(label="Picked on", required=False)
    spraying = TextField(label="What is known of spraying", required=False, max_length=120)

    field_order = [
        "when",
        "ingredient",
        "quantity",
        "supplier",
        "supplier_code",
        "best_before",
        "accepted",
    ]
    shown_at_first = 7

    def clean_organic(self) -> str:
        return self.cleaned_data["organic"] or Ingredient.Organic.NOT_APPLICABLE


class DecideForm(EntryForm):
    lot = LotField(LotKind.INGREDIENT, label="Lot")
    reason = TextField(label="Reason", max_length=200)


class PrepareForm(AlreadyDoneMixin, EventForm):
    name = TextField(label="Name", max_length=120)
    preparation_kind = ChoiceField(label="Kind", choices=PreparationLot.Kind.choices)
    quantity = QuantityField(Dimension.MASS, Dimension.VOLUME, label="Amount made")
    code = CodeField(
        label="Lot code", required=False, max_length=40, help_text="Left empty, the next free one."
    )
    treatment = TextField(
        label="Treatment",
        required=False,
        max_length=160,
        help_text="heated to 82 °C for 30 s, frozen, none",
    )
    storage = TextField(label="Storage", required=False, max_length=120)
    use_by = DayField(label="Use by", required=False)


class DrawForm(EntryForm):
    """One line of what went in."""

    source = LotField(LotKind.INGREDIENT, LotKind.PREPARATION, LotKind.CULTURE, label="Lot used")
    quantity = QuantityField(label="Amount")
