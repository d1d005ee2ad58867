"""The versions of an entry, each with what it changed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db import models

from brewlog.views.facts import label_of
from brewlog.views.reader import NOTHING, Reader

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
    for field in model._meta.concrete_fields:
        if field.name in _SILENT:
            continue
        old = getattr(before, field.attname) if before is not None else None
        new = getattr(after, field.attname)
        if old == new or (before is None and new in (None, "", False)):
            continue
        shown_before = _words(before, field, reader) if before is not None else NOTHING
        changes.append(Change(label_of(field), shown_before, _words(after, field, reader)))
    return changes


def _words(row: Any, field: models.Field, reader: Reader) -> str:
    if field.choices:
        return str(getattr(row, f"get_{field.name}_display")() or NOTHING)
    if field.is_relation and getattr(row, field.attname) is None:
        return NOTHING
    return reader.show(getattr(row, field.name))
