"""What of an entry may be mended in place. Amounts and links are not: the entry is voided
and written again, since stock and traces were worked out from it."""

from __future__ import annotations

from django import forms
from django.db import models

from brewlog.entries.base import MANAGE, RECORD, REVIEW
from brewlog.forms.fields import (
    ChoiceField,
    DayField,
    NoteField,
    NumberField,
    TemperatureField,
    TextField,
    WhenField,
    WholeField,
    YesNoField,
)
from brewlog.models import (
    AlcoholEstimate,
    Batch,
    BottleWash,
    BottlingLot,
    Breakage,
    Brew,
    Brewery,
    Calibration,
    Checkpoint,
    ConditionCheck,
    CultureLine,
    CultureLot,
    Customer,
    Flavour,
    Format,
    Hold,
    ImportedRow,
    Ingredient,
    IngredientLot,
    Instrument,
    Keg,
    KegEvent,
    LabResult,
    LineClearance,
    Location,
    LotUse,
    Move,
    PreparationLot,
    ProcessStep,
    Recipe,
    RecipeLine,
    RecipeVersion,
    RetainedBottles,
    ReviewFlag,
    RoleChange,
    Shipment,
    ShipmentLine,
    StockAdjustment,
    Supplier,
    Vessel,
)

_REGISTER = ("name", "note", "in_use")
_RECEIVED_AS = ("supplier_code", "document_number")

CORRECTABLE: dict[type[models.Model], tuple[str, ...]] = {
    # Lots: their amounts, times and links carry others.
    IngredientLot: (
        *_RECEIVED_AS, "brand", "packaging", "best_before", "arrival_temperature", "condition",
        "document_type", "transporter", "origin", "code_source", "organic", "certificate_number",
        "picked_at_place", "picked_by", "picked_on", "spraying", "note",
    ),
    PreparationLot: ("name", "preparation_kind", "treatment", "storage", "use_by", "note"),
    CultureLot: (*_RECEIVED_AS, "pellicles", "is_backup", "note"),
    Brew: ("water_source", "note"),
    Batch: ("water_source", "note"),
    BottlingLot: (
        "planned_count", "rejects", "best_before", "label_version", "conditioning_temperature",
        "note",
    ),
    # What happened.
    LotUse: ("note",),
    ProcessStep: ("when", "kind", "minutes", "note"),
    Checkpoint: ("when", "sample_temperature", "stage", "replicate", "note"),
    ConditionCheck: (
        "when", "kahm_yeast", "vinegar_eels", "flies", "smell", "look", "taste", "note",
    ),
    LabResult: ("laboratory", "method", "reported_on", "report_number", "note"),
    AlcoholEstimate: ("inputs", "note"),
    StockAdjustment: ("witness", "reference", "note"),
    Move: ("when", "note"),
    Shipment: ("document_type", "document_number", "transporter", "loading_temperature", "note"),
    ShipmentLine: ("note",),
    Calibration: ("slope_percent", "offset_mv", "buffers", "due_on", "note"),
    LineClearance: ("when", "first_label_kept", "last_label_kept", "note"),
    Breakage: ("when", "broken", "set_apart", "cleaned", "note"),
    BottleWash: ("when", "washed", "chipped", "gaskets_checked", "method", "note"),
    RetainedBottles: ("count", "kept", "pull_on", "note"),
    KegEvent: ("when", "note"),
    # Registers.
    Supplier: (
        *_REGISTER, "contact", "address", "country", "phone", "email", "approved_on",
        "organic_certificate", "organic_certificate_until",
    ),
    Ingredient: (
        *_REGISTER, "label_name", "allergens", "organic", "form", "on_traceability_list", "country",
    ),
    Vessel: _REGISTER,
    CultureLine: _REGISTER,
    Recipe: _REGISTER,
    Instrument: (*_REGISTER, "serial", "unit", "calibrate_every_days"),
    Flavour: (*_REGISTER, "label_name", "best_before_days", "storage", "gtin", "statement"),
    Format: (*_REGISTER, "material", "is_reused"),
    Customer: (*_REGISTER, "kind", "contact", "address", "country", "phone", "email"),
    Location: (*_REGISTER, "kind", "is_cold", "address"),
    Keg: _REGISTER,
    Brewery: (
        "name", "address", "country", "phone", "email", "registration_number", "time_zone",
        "date_order",
    ),
}  # fmt: skip

_BY_MANAGERS = {Brewery, Recipe, RecipeVersion, RecipeLine, RoleChange}
_BY_REVIEWERS = {Hold, ReviewFlag}
# These have no voiding of their own: they tell what was done to something else.
NOT_VOIDED = {Brewery, RoleChange, ImportedRow, ReviewFlag}


def void_permission(model: type[models.Model]) -> str:
    """Who may correct or strike out entries of the model."""
    if model in _BY_MANAGERS:
        return MANAGE
    return REVIEW if model in _BY_REVIEWERS else RECORD


def correction_fields(model: type[models.Model]) -> dict[str, forms.Field]:
    """The correctable fields as form fields. `when` stands for time and precision."""
    fields: dict[str, forms.Field] = {}
    for name in CORRECTABLE[model]:
        if name == "when":
            fields[name] = WhenField(label="When")
        else:
            fields[name] = _form_field(model._meta.get_field(name))  # type: ignore[arg-type]
    return fields


def _form_field(field: models.Field) -> forms.Field:
    words = str(field.verbose_name)
    options = {
        "label": words[:1].upper() + words[1:],
        "required": not field.blank and not field.has_default(),
        "help_text": field.help_text,
    }
    if field.choices:
        return ChoiceField(choices=field.choices, **options)
    if isinstance(field, models.BooleanField):
        return YesNoField(**options)
    if isinstance(field, models.DateField):
        return DayField(**options)
    if isinstance(field, models.DecimalField):
        if words.endswith("°C"):
            options["label"] = options["label"].removesuffix(", °C")
            return TemperatureField(**options)
        return NumberField(places=field.decimal_places, **options)
    if isinstance(field, models.PositiveIntegerField | models.PositiveSmallIntegerField):
        return WholeField(least=0, **options)
    if isinstance(field, models.TextField):
        return NoteField(**options)
    if isinstance(field, models.EmailField):
        return forms.EmailField(**options)
    return TextField(max_length=field.max_length, **options)
