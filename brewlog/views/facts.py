"""Any record as labelled facts, in the words of its fields."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import models
from django.urls import reverse

from brewlog.models import Lot, User
from brewlog.models.base import HappenedMixin
from brewlog.views.links import DETAIL_NOUN, kind_and_key, url_of
from brewlog.views.reader import Celsius, Words

# Kept by the record itself: shown in its history, not among its facts.
BOOKKEEPING = {
    "id",
    "lot_ptr",
    "happened_at",
    "happened_precision",
    "recorded_at",
    "recorded_by",
    "voided_at",
    "voided_by",
    "void_reason",
}
# Of a lot: in its heading, or told by the page in better words.
LOT_HEADING = {"lot", "kind", "dimension", "code", "made"}

LAST = {"in_use", "note"}


@dataclass(frozen=True)
class Fact:
    """A label and a value; `url` where the value has a page, `wide` for running text."""

    label: str
    value: Any
    url: str = ""
    wide: bool = False


def label_of(field: models.Field) -> str:
    """The field's name for people, without the unit its value is shown with."""
    words = str(field.verbose_name).removesuffix(", °C").removesuffix(" text")
    return words[:1].upper() + words[1:]


def shown_fields(model: type[models.Model]) -> list[models.Field]:
    """The model's own facts, in their order; of a value and its text as typed, the text."""
    names = {field.name for field in model._meta.concrete_fields}
    hidden = BOOKKEEPING | (LOT_HEADING if issubclass(model, Lot) else set())
    fields = [
        field
        for field in model._meta.concrete_fields
        if field.name not in hidden
        and not field.name.endswith("_precision")
        and f"{field.name}_text" not in names
    ]
    return sorted(fields, key=lambda field: field.name in LAST)


def facts_of(record: models.Model, *, without: set[str] | None = None) -> list[Fact]:
    """What the record says, blanks left out. An event begins with when and by whom."""
    facts = []
    if isinstance(record, HappenedMixin) and "when" not in (without or set()):
        facts.append(Fact("When", record.when))
    for field in shown_fields(type(record)):
        if field.name in (without or set()):
            continue
        value = value_of(record, field)
        if value not in (None, ""):
            facts.append(_fact(record, field, value))
    return facts


def is_sentence(field: models.Field) -> bool:
    """Whether the program may have made the text, with dates and temperatures that are shown as
    their reader reads them. What is stored stays as it was written."""
    return field.name in getattr(field.model, "SENTENCES", frozenset())


def title_of(record: models.Model) -> Any:
    """What the record is called: by a sentence, or a name with a day in it."""
    return Words(record) if hasattr(record, "SENTENCES") else str(record)


def value_of(record: models.Model, field: models.Field) -> Any:
    """The field's value as it is shown: a choice in its words, a temperature as one."""
    if field.choices:
        return getattr(record, f"get_{field.name}_display")()
    value = getattr(record, field.name)
    if is_sentence(field):
        return Words(value)
    if isinstance(value, Decimal) and str(field.verbose_name).endswith("°C"):
        return Celsius(value)
    if field.name.endswith("_text") and not value:
        return _untyped(record, field.name.removesuffix("_text"))
    return value


def _untyped(record: models.Model, name: str) -> Any:
    """The value itself where no text was kept beside it."""
    if not any(field.name == name for field in record._meta.concrete_fields):
        return ""
    field = record._meta.get_field(name)
    value = getattr(record, name)
    if isinstance(value, Decimal) and str(field.verbose_name).endswith("°C"):  # type: ignore[union-attr]
        return Celsius(value)
    return value


def _fact(record: models.Model, field: models.Field, value: Any) -> Fact:
    label = label_of(field)
    if isinstance(field, models.FileField):
        kind, key = kind_and_key(record)
        address = reverse("record-file", args=[kind, key, field.name])
        return Fact(label, value.name.rpartition("/")[2], address)
    if isinstance(value, Lot) or type(value) in DETAIL_NOUN:
        # People have a page too, but a name beside "by" is not where anyone wants to go.
        return Fact(label, str(value), "" if isinstance(value, User) else url_of(value))
    return Fact(label, value, wide=isinstance(field, models.TextField))
