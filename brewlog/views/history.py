"""The versions of an entry, each with what it changed."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import models

from brewlog.models import Lot, User
from brewlog.views.facts import is_sentence, label_of
from brewlog.views.reader import NOTHING, Reader
from brewlog.when import Precision, When

# Amounts without a text beside them, each in the unit of the lot this links to.
_AMOUNT_OF = {"change": "lot_id", "added": "into_id"}
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


class Named:
    """Records that others point at, to be told by name: one query for those of each kind."""

    def __init__(self) -> None:
        self._found: dict[type[models.Model], dict[Any, models.Model]] = defaultdict(dict)

    def fetch(self, wanted: Iterable[tuple[type[models.Model], Any]]) -> None:
        """Read those that were not read yet, with what their names are made of."""
        lacking: dict[type[models.Model], set[Any]] = defaultdict(set)
        for model, pk in wanted:
            if pk is not None and pk not in self._found[model]:
                lacking[model].add(pk)
        for model, pks in lacking.items():
            rows = model._base_manager.select_related(*_named_by(model))
            self._found[model] |= rows.in_bulk(list(pks))

    def fetch_linked(self, model: type[models.Model], rows: Iterable[Any]) -> None:
        """What the versions of records of a model point at."""
        links = _links(model) + [each for each in told(model) if each.related_model is User]
        self.fetch((_target(each), getattr(row, each.attname)) for row in rows for each in links)

    def get(self, model: type[models.Model], pk: Any) -> Any:
        return self._found[model].get(pk)


def _target(link: models.Field) -> type[models.Model]:
    return link.related_model  # type: ignore[return-value]


def _named_by(model: type[models.Model]) -> list[str]:
    """The links from which a record's name is made: its own and those one step on."""
    return [
        path
        for link in _links(model)
        for path in (link.name, *(f"{link.name}__{on.name}" for on in _links(_target(link))))
    ]


def _links(model: type[models.Model]) -> list[models.Field]:
    fields = model._meta.concrete_fields
    return [each for each in fields if each.is_relation and _target(each) is not User]


def versions_of(record: Any, reader: Reader) -> list[Version]:
    """Every version, the newest first. The first lists what was filled in."""
    rows = list(record.history.select_related("history_user").order_by("history_id"))
    names = Named()
    names.fetch_linked(type(record), rows)
    versions = []
    before = None
    for number, row in enumerate(rows, start=1):
        versions.append(
            Version(
                number,
                row.history_date,
                str(row.history_user),
                row.history_change_reason or "",
                changes(type(record), before, row, reader, names),
            )
        )
        before = row
    return versions[::-1]


def changes(
    model: type[models.Model], before: Any, after: Any, reader: Reader, names: Named
) -> list[Change]:
    """What a version changed, field by field; of the first, what was filled in."""
    found = []
    for field in told(model):
        old = _words(before, field, reader, names) if before is not None else NOTHING
        new = _words(after, field, reader, names)
        if old != new and not (before is None and new == "no"):
            found.append(Change(label_of(field), old, new))
    return found


def told(model: type[models.Model]) -> list[models.Field]:
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


def _words(row: Any, field: models.Field, reader: Reader, names: Named) -> str:
    value = getattr(row, field.attname)
    if value is None or value == "":
        return NOTHING
    if field.choices:
        return str(getattr(row, f"get_{field.name}_display")())
    if isinstance(value, Decimal) and str(field.verbose_name).endswith("°C"):
        return reader.temperature(value)
    measured_as = names.get(Lot, getattr(row, _AMOUNT_OF.get(field.name, ""), None))
    if measured_as is not None:
        return reader.amount(value, measured_as.dimension)
    precision = getattr(row, f"{field.name.removesuffix('_at')}_precision", "")
    if precision:
        return reader.when(When(value, Precision(precision)))
    if is_sentence(field):
        return reader.words(value)
    return reader.show(names.get(_target(field), value) if field.is_relation else value)
