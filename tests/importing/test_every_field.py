"""Every field of every record can be filled from a sheet, or it says here why it is not."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.db import models

from brewlog.importing.reading import read_files
from brewlog.importing.running import import_source
from brewlog.importing.sheets import SHEETS
from brewlog.models.base import Guarded
from compliance.models import Holiday, LabelCount, LabelSheet
from tests.importing import full, small

pytestmark = pytest.mark.django_db

STAMPED = "stamped as it is written"
STRUCK_OUT = "an entry is struck out on its own page, with a reason"
ATTACHED = "a file is attached on the record's own page"
SETTLED = "a reviewer settles it on its own page"
NOT_A_RECORD = "the program's own memory, not a record of the brewery"

NOT_FROM_A_SHEET = {
    "*.id": STAMPED,
    "*.lot": "a lot's link to itself",
    "*.recorded_at": STAMPED,
    "*.recorded_by": STAMPED,
    "*.voided_at": STRUCK_OUT,
    "*.voided_by": STRUCK_OUT,
    "*.void_reason": STRUCK_OUT,
    "Brewery.logo": ATTACHED,
    "IngredientLot.certificate": ATTACHED,
    "ConditionCheck.photo": ATTACHED,
    "ConditionCheck.photo_digest": ATTACHED,
    "LabResult.report": ATTACHED,
    "ReviewFlag.settled_at": SETTLED,
    "ReviewFlag.settled_by": SETTLED,
    "ReviewFlag.settled_note": SETTLED,
    "*.happened_precision": "follows from how the time is written: a date alone is a day",
    "SharedDevice.*": "a device is shared on the device itself",
    "ImportedRow.*": NOT_A_RECORD,
    "Submission.*": NOT_A_RECORD,
}

OF_COMPLIANCE = (Holiday, LabelSheet, LabelCount)


@pytest.fixture
def imported(manager):
    source = read_files("every column", small.files(full.sheets(manager.username)))
    outcome = import_source(source, actor=manager)
    assert outcome.problems == []
    return outcome


def _fields() -> list[tuple[type[Guarded], models.Field]]:
    """Every field a record of its own kind has, those of a lot once for each kind of lot; and of
    what compliance has sheets of."""
    return [
        (model, field)
        for model in [*apps.get_app_config("brewlog").get_models(), *OF_COMPLIANCE]
        if issubclass(model, Guarded) and model.__name__ != "Lot"
        for field in model._meta.concrete_fields
        if not field.name.endswith("_ptr")
    ]


def _excused(model: type[Guarded], field: models.Field) -> bool:
    names = {f"{model.__name__}.{field.name}", f"*.{field.name}", f"{model.__name__}.*"}
    return bool(names & set(NOT_FROM_A_SHEET))


def _is_filled(model: type[Guarded], field: models.Field) -> bool:
    """Whether some record holds more in it than nothing and its default."""
    plain = {None, "", field.get_default() if field.has_default() else None}
    if isinstance(field, models.BooleanField):
        plain = {field.get_default()}
    return any(value not in plain for value in model.objects.values_list(field.attname, flat=True))


def test_every_column_is_filled_in_the_full_sheets(manager):
    content = full.sheets(manager.username)
    empty = [
        f"{sheet.name}: {column.label}"
        for sheet in SHEETS
        for column in sheet.columns
        if not any(row.get(column.label) for row in content.get(sheet.name, []))
    ]

    assert empty == []


def test_every_field_is_filled_from_a_sheet(imported):
    never = [
        f"{model.__name__}.{field.name}"
        for model, field in _fields()
        if not _excused(model, field) and not _is_filled(model, field)
    ]

    assert "; ".join(never) == ""


def test_no_field_is_excused_that_a_sheet_fills(imported):
    filled = [
        f"{model.__name__}.{field.name}"
        for model, field in _fields()
        if f"{model.__name__}.{field.name}" in NOT_FROM_A_SHEET and _is_filled(model, field)
    ]

    assert filled == []
