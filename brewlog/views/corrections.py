"""What of an entry may be mended in place. Amounts and links are not: the entry is voided
and written again, since stock and traces were worked out from it."""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal
from typing import Any

from django import forms
from django.db import models
from django.http import QueryDict
from django.utils import timezone

from brewlog.domain.versions import differs, newest_version
from brewlog.entries.base import MANAGE, RECORD, REVIEW
from brewlog.forms.base import EntryForm, SeenForm
from brewlog.forms.fields import (
    ChoiceField,
    DayField,
    NamedField,
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
    BufferBottle,
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
    Lot,
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
    SharedDevice,
    Shipment,
    ShipmentLine,
    StockAdjustment,
    Supplier,
    User,
    UsualRun,
    Vessel,
)
from brewlog.models.base import Guarded
from brewlog.when import Precision

_REGISTER = ("name", "note", "in_use")
_RECEIVED_AS = ("supplier_code", "document_number")

CORRECTABLE: dict[type[models.Model], tuple[str, ...]] = {
    # Lots: their amounts, times and links carry others.
    IngredientLot: (
        *_RECEIVED_AS, "brand", "packaging", "best_before", "arrival_temperature", "condition",
        "document_type", "transporter", "origin", "code_source", "organic", "certificate_number",
        "certificate_from", "certificate_until",
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
    UsualRun: ("when", "looked_into", "note"),
    # Registers.
    Supplier: (
        *_REGISTER, "contact", "address", "country", "phone", "email", "approved_on",
        "organic_certificate", "organic_certificate_until",
    ),
    Ingredient: (
        *_REGISTER, "label_name", "allergens", "organic", "form", "on_traceability_list", "country",
    ),
    Vessel: (*_REGISTER, "location"),
    CultureLine: _REGISTER,
    Recipe: _REGISTER,
    BufferBottle: (*_REGISTER, "nominal_ph", "maker_lot", "opened_on", "expires_on"),
    Instrument: (*_REGISTER, "serial", "unit", "calibrate_every_days"),
    Flavour: (*_REGISTER, "label_name", "best_before_days", "storage", "gtin", "statement"),
    Format: (*_REGISTER, "material", "is_reused"),
    Customer: (*_REGISTER, "kind", "contact", "address", "country", "phone", "email"),
    Location: (*_REGISTER, "kind", "is_cold", "address"),
    Keg: _REGISTER,
    SharedDevice: (*_REGISTER, "idle_minutes"),
    Brewery: (
        "name", "address", "country", "phone", "email", "registration_number", "time_zone",
        "date_order",
    ),
}  # fmt: skip

BY_MANAGERS = {Brewery, Recipe, RecipeVersion, RecipeLine, RoleChange, SharedDevice, UsualRun}
BY_REVIEWERS = {Hold, ReviewFlag}
# These have no voiding of their own: they tell what was done to something else.
NOT_VOIDED = {Brewery, RoleChange, ImportedRow, ReviewFlag}


def is_voidable(record: models.Model) -> bool:
    """Whether an entry may be struck out: what is signed is undone by a new act."""
    is_signed = getattr(record, "signature_id", None) is not None
    return type(record) not in NOT_VOIDED and not is_signed


def is_new(record: models.Model) -> bool:
    """Whether an entry may be struck out and stands as it was first written.

    What a verb only changed was there before: to strike that out would undo more than the verb.
    """
    found: Any = record.detail if isinstance(record, Lot) else record
    is_guarded = isinstance(found, Guarded)
    return is_guarded and is_voidable(found) and bool(found.history.count() == 1)


class VoidForm(SeenForm):
    reason = NoteField(label="Why it is wrong")


def void_permission(model: type[models.Model]) -> str:
    """Who may correct or strike out entries of the model."""
    if model in BY_MANAGERS:
        return MANAGE
    return REVIEW if model in BY_REVIEWERS else RECORD


def correction_form(
    record: Any, data: QueryDict | None, actor: User, brewery: Brewery | None
) -> EntryForm:
    """The correctable fields of an entry as it stands, and the reason."""
    fields: dict[str, forms.Field] = {
        name: _when_field(record) if name == "when" else _form_field(type(record), name)
        for name in CORRECTABLE[type(record)]
    }
    fields["reason"] = NoteField(label="What was wrong, and how it is known")
    initial = {name: _as_typed(record, name) for name in CORRECTABLE[type(record)]}
    initial["seen"] = newest_version(record)
    form_class = type("CorrectionForm", (SeenForm,), fields)
    return form_class(data, actor=actor, brewery=brewery, initial=initial)


def as_shown(record: Any, seen: int | None) -> Any:
    """The entry as it stood in the version that was seen; as it stands where there is none."""
    version = record.history.filter(history_id=seen).first()
    return version.instance if version else record


def as_typed_over(
    record: Any, sent: QueryDict, form: EntryForm, changed: Collection[str]
) -> QueryDict:
    """What was typed, put over the entry as it stands now: others were quicker."""
    now = correction_form(record, None, form.actor, form.brewery)
    data = sent.copy()
    data["seen"] = now["seen"].value()
    for name in set(CORRECTABLE[type(record)]).difference(changed):
        data[name] = now[name].value() or ""
    return data


def changes_in(form: EntryForm, record: Any) -> dict[str, Any]:
    """What the valid form says differently from the entry, by field name."""
    changes = {}
    for name, value in form.cleaned_data.items():
        if name in {"reason", "seen"}:
            continue
        if name == "when":
            # To the minute as it is shown: seconds nobody sees are no change.
            is_changed = form[name].data != form.fields[name].prepare_value(form[name].initial)
        else:
            is_changed = differs(getattr(record, name), value)
        if is_changed:
            changes[name] = value
    return changes


def _as_typed(record: Any, name: str) -> Any:
    """The value as a person of any unit system would write it: a temperature with its unit."""
    value = getattr(record, name)
    if name == "when":
        day = timezone.localtime(value.at).date()
        return day.isoformat() if value.precision == Precision.DAY else value
    if isinstance(value, Decimal):
        unit = " °C" if str(record._meta.get_field(name).verbose_name).endswith("°C") else ""
        return f"{value.normalize():f}{unit}"
    return value


def _when_field(record: Any) -> WhenField:
    """A time known to the day is asked as a day, so that it is not made exact by accident."""
    if record.when.precision == Precision.DAY:
        return WhenField(label="When", widget=forms.DateInput(attrs={"type": "date"}))
    return WhenField(label="When")


def _form_field(model: type[models.Model], name: str) -> forms.Field:
    field: Any = model._meta.get_field(name)
    words = str(field.verbose_name)
    options = {
        "label": words[:1].upper() + words[1:],
        "required": not field.blank and not field.has_default(),
        "help_text": field.help_text,
    }
    if isinstance(field, models.ForeignKey):
        return NamedField(field.related_model, **options)
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
