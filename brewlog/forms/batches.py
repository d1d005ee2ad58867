"""Forms of vessels, brews, batches and the steps in them."""

from __future__ import annotations

from brewlog.forms.base import AlreadyDoneMixin, EntryForm, EventForm
from brewlog.forms.fields import (
    ChoiceField,
    CodeField,
    LotField,
    NamedField,
    NoteField,
    QuantityField,
    TemperatureField,
    TextField,
    WholeField,
)
from brewlog.forms.recipes import RecipeVersionField
from brewlog.models import Instrument, Location, LotKind, LotUse, ProcessStep, Vessel
from brewlog.units import Dimension


class VesselForm(EntryForm):
    name = TextField(label="Name", max_length=120)
    material = ChoiceField(label="Material", choices=Vessel.Material.choices)
    capacity = QuantityField(Dimension.VOLUME, label="Holds", required=False)
    location = NamedField(
        Location, label="Stands in", required=False, help_text="The room a round is made by."
    )
    note = NoteField(label="Note", required=False)


class BrewForm(AlreadyDoneMixin, EventForm):
    recipe = RecipeVersionField(
        label="Recipe version", required=False, help_text="Like Black tea base v2."
    )
    kettle = NamedField(Vessel, label="Kettle", required=False)
    planned = QuantityField(Dimension.VOLUME, label="Planned volume", required=False)
    quantity = QuantityField(
        Dimension.VOLUME, label="Volume made", required=False, help_text="If it is known yet."
    )
    water_source = TextField(
        label="Water source and treatment",
        required=False,
        max_length=120,
        help_text="Potable; how chlorine was taken out.",
    )
    code = CodeField(
        label="Lot code", required=False, max_length=40, help_text="Left empty, the next free one."
    )


class BrewVolumeForm(EntryForm):
    brew = LotField(LotKind.BREW, label="Brew")
    quantity = QuantityField(Dimension.VOLUME, label="Volume made")
    reason = TextField(label="Reason", required=False)


class BatchForm(AlreadyDoneMixin, EventForm):
    recipe = RecipeVersionField(label="Recipe version", required=False)
    vessel = NamedField(Vessel, label="Vessel", required=False)
    planned = QuantityField(Dimension.VOLUME, label="Planned volume", required=False)
    water_source = TextField(label="Water source and treatment", required=False, max_length=120)
    code = CodeField(
        label="Lot code", required=False, max_length=40, help_text="Left empty, the next free one."
    )


class IngredientDrawForm(EntryForm):
    source = LotField(LotKind.INGREDIENT, LotKind.PREPARATION, label="Lot")
    quantity = QuantityField(label="Amount")


class FillForm(AlreadyDoneMixin, EventForm):
    batch = LotField(LotKind.BATCH, label="Batch")


class FillDrawForm(EntryForm):
    source = LotField(LotKind.BREW, LotKind.INGREDIENT, LotKind.PREPARATION, label="Lot")
    quantity = QuantityField(label="Amount")


class PitchForm(AlreadyDoneMixin, EventForm):
    batch = LotField(LotKind.BATCH, label="Batch")
    temperature = TemperatureField(
        label="Temperature of the tea",
        is_cool=True,
        required=False,
        keep_text_as="temperature_text",
    )
    instrument = NamedField(Instrument, label="Measured with", required=False)
    quantity = QuantityField(
        Dimension.VOLUME, label="Volume afterwards", help_text="All the vessel now holds."
    )


class PitchRowForm(PitchForm):
    """A row of the Starter added sheet: one starter. A second one goes in the Uses sheet."""

    source = LotField(LotKind.CULTURE, label="Starter")
    taken = QuantityField(Dimension.VOLUME, label="Amount of starter")


class StepForm(EventForm):
    lot = LotField(LotKind.BREW, LotKind.BATCH, LotKind.PREPARATION, label="Lot")
    kind = ChoiceField(label="Step", choices=ProcessStep.Kind.choices)
    temperature = TemperatureField(
        label="Temperature", required=False, keep_text_as="temperature_text"
    )
    volume = QuantityField(Dimension.VOLUME, label="Volume", required=False)
    minutes = WholeField(label="Minutes", required=False, least=0, most=100_000)
    instrument = NamedField(Instrument, label="Measured with", required=False)

    field_order = ["when", "lot", "kind"]


class TransferForm(AlreadyDoneMixin, EventForm):
    source = LotField(LotKind.BATCH, label="From batch")
    into = LotField(LotKind.BATCH, label="Into batch")
    quantity = QuantityField(Dimension.VOLUME, label="Amount")


class UseForm(AlreadyDoneMixin, EventForm):
    """Any lot into any other: what the other forms do not name."""

    source = LotField(label="Lot used")
    into = LotField(label="Into")
    quantity = QuantityField(label="Amount")
    purpose = ChoiceField(label="As", choices=LotUse.Purpose.choices)
    added = QuantityField(
        label="Volume it added",
        required=False,
        help_text="Where it went into a vessel measured before.",
    )
