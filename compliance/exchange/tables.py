"""The tables of an archive, and their rows as lines of JSON and back.

A line holds one row under its columns' own names. Whole numbers, texts and truth values are
themselves; times are ISO 8601 in UTC, days ISO dates, decimals texts with all their places.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.apps import apps
from django.contrib.auth.models import Group
from django.db import models

from brewlog.models import PutAside, SavedView, SubmittedForm, User
from compliance.models import KeptFinding, KeptUpTo, LookAgain

APPS = ("brewlog", "compliance")
# Which role each person holds: by the group's name, its number differs between installs.
ROLES_TABLE = "brewlog_user_groups"
ROLE_COLUMNS = ("user_id", "group")
# What an archive that may be handed on must not hold. Passwords are set anew.
_SECRET = {(User, "password"), (User, "pin"), (User, "last_login")}
_NO_RECORDS = {PutAside, SavedView, SubmittedForm, KeptFinding, KeptUpTo, LookAgain}
_AT_A_TIME = 2_000


@dataclass(frozen=True)
class ArchiveTable:
    """A table: its model, and the columns that are written."""

    model: type[models.Model]
    fields: tuple[models.Field, ...]

    @property
    def name(self) -> str:
        return self.model._meta.db_table

    @property
    def columns(self) -> tuple[str, ...]:
        return tuple(field.attname for field in self.fields)

    def rows(self) -> models.QuerySet:
        """Every row, voided ones too, in the order of their keys."""
        return self.model._base_manager.order_by("pk")

    def lines(self) -> Iterator[bytes]:
        """Every row as a line of JSON."""
        found = self.rows().values_list(*self.columns)
        for row in found.iterator(chunk_size=_AT_A_TIME):
            yield _line(dict(zip(self.columns, map(_plain, row), strict=True)))

    def records(self, lines: Iterable[bytes]) -> Iterator[models.Model]:
        """The rows of the lines, not yet saved. Raises `ValueError` for what is no row."""
        for line in lines:
            said = json.loads(line)
            if set(said) != set(self.columns):
                raise ValueError("a line has other columns than its table")
            record = self.model()
            for field in self.fields:
                setattr(record, field.attname, field.to_python(said[field.attname]))
            yield record


def archive_tables() -> list[ArchiveTable]:
    """Every table of the records, its history included, by name.

    Left out: who is logged in, the marks that keep a form from being sent twice, and what is
    kept of the findings for the lists.
    """
    found = [
        ArchiveTable(
            model,
            tuple(
                f for f in model._meta.local_concrete_fields if (model, f.attname) not in _SECRET
            ),
        )
        for app in APPS
        for model in apps.get_app_config(app).get_models()
        if model not in _NO_RECORDS
    ]
    return sorted(found, key=lambda table: table.name)


def role_lines() -> Iterator[bytes]:
    """Who holds which role, as lines of JSON."""
    held = User.objects.filter(groups__isnull=False).values_list("pk", "groups__name")
    for row in held.order_by("pk", "groups__name"):
        yield _line(dict(zip(ROLE_COLUMNS, row, strict=True)))


def give_roles(lines: Iterable[bytes]) -> None:
    """Give each person the role of the lines. Raises `ValueError` for one there is not."""
    groups = {group.name: group for group in Group.objects.all()}
    for line in lines:
        said = json.loads(line)
        if said["group"] not in groups:
            raise ValueError(f"there is no role '{said['group']}'")
        User.objects.get(pk=said["user_id"]).groups.add(groups[said["group"]])


def described_columns() -> dict[str, list[dict[str, str]]]:
    """What each column of each table is, for whoever reads the archive without the program."""
    described = {
        table.name: [_described(field) for field in table.fields] for table in archive_tables()
    }
    described[ROLES_TABLE] = [
        {"column": "user_id", "type": "integer", "means": "person", "refers to": "brewlog_user"},
        {"column": "group", "type": "text", "means": "role", "refers to": ""},
    ]
    return dict(sorted(described.items()))


def _described(field: models.Field) -> dict[str, str]:
    target = field.related_model
    return {
        "column": field.attname,
        "type": _type_of(field),
        "means": str(field.verbose_name),
        "refers to": target._meta.db_table if isinstance(target, type) else "",
    }


_TYPES: tuple[tuple[type[models.Field], str], ...] = (
    (models.BooleanField, "true or false"),
    (models.DateTimeField, "time, ISO 8601 in UTC"),
    (models.DateField, "day, ISO 8601"),
    (models.DecimalField, "decimal, as text"),
    (models.JSONField, "JSON"),
    (models.FileField, "name of a file under files/"),
    (models.IntegerField, "integer"),
    (models.FloatField, "number"),
)


def _type_of(field: models.Field) -> str:
    if isinstance(field, models.ForeignKey):
        field = field.target_field
    return next((words for kind, words in _TYPES if isinstance(field, kind)), "text")


def _plain(value: Any) -> Any:
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat()
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value, "f")
    return value


def _line(row: dict[str, Any]) -> bytes:
    # Keys sorted: one database keeps the order of a JSON value's keys, another does not.
    return json.dumps(row, ensure_ascii=False, sort_keys=True).encode() + b"\n"
