"""The versions of an entry, each with what it changed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db import models

from brewlog.views.facts import label_of
from brewlog.views.reader import NOTHING, Reader
from brewlog.when import Precision, When

_SILENT = {"recorded_at", "recorded_by", "lot", "lot_ptr", "id"}


@dataclass(frozen=True)
class Change:
    """One field before and after, in words."""

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class Version:
    """One writing of the entry."""

    number: int
    at: dt.datetime
    by: str
    reason: str
    changes: list[Change]


def versions_of(record: Any, reader: Reader) -> list[Version]:
    """Every version, the newest first. The first lists what was filled in."""
    rows = list(record.history.select_related("history_user").order_by("history_id"))
    versions = []
    before = None
    for number, row in enumerate(rows, start=1):
        versions.append(
            Version(
                number,
                row.history_date,
                str(row.history_user),
                row.history_change_reason or "",
                _changes(type(record), before, row, reader),
            )
        )
        before = row
    return versions[::-1]


def _changes(model: type[models.Model], before: Any, after: Any, reader: Reader) -> list[Change]:
    changes = []
    for field in _told(model):
        old = _words(before, field, reader) if before is not None else NOTHING
        new = _words(after, field, reader)
        if old != new and not (before is None and new == "no"):
            changes.append(Change(label_of(field), old, new))
    return changes


def _told(model: type[models.Model]) -> list[models.Field]:
    """The fields a person reads: of a value and its text, the text; of a time, not how exact;
    none that the record says are kept for drawing only (`UNTOLD`)."""
    silent = _SILENT | getattr(model, "UNTOLD", frozenset())
    names = {field.name for field in model._meta.concrete_fields}
    return [
        field
        for field in model._meta.concrete_fields
        if field.name not in silent
        and not field.name.endswith("_precision")
        and f"{field.name}_text" not in names
    ]


def _words(row: Any, field: models.Field, reader: Reader) -> str:
    value = getattr(row, field.attname)
    if value is None or value == "":
        return NOTHING
    if field.choices:
        return str(getattr(row, f"get_{field.name}_display")())
    precision = getattr(row, f"{field.name.removesuffix('_at')}_precision", "")
    if precision:
        return reader.when(When(value, Precision(precision)))
    return reader.show(getattr(row, field.name))
