"""Rows on their way in: what each says, names, waits for, and when it happened."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError

from brewlog.forms.base import EntryForm
from brewlog.forms.fields import CodeField
from brewlog.importing.lookups import Lookups
from brewlog.importing.problems import Problem
from brewlog.importing.references import Token, kind_referred_to, plain_name
from brewlog.importing.sheet import REPEAT, Sheet
from brewlog.importing.tables import Line, Table
from brewlog.models import Brewery, User
from brewlog.units import Quantity
from brewlog.when import When

_LONGEST_KEY = 300
_BEFORE_ALL = dt.datetime.min.replace(tzinfo=dt.UTC)


class State(Enum):
    """What became of a row."""

    WAITING = "waiting"
    NEW = "new"
    UNCHANGED = "unchanged"
    CHANGED = "changed"
    BAD = "bad"
    LEANING = "leaning"


@dataclass(eq=False)
class Row:
    """One row. `needs` are the tokens it waits for, by the field that names them."""

    table: Table
    number: int
    values: dict[str, str]
    key: str = ""
    at: dt.datetime = _BEFORE_ALL
    gives: set[Token] = field(default_factory=set)
    needs: dict[Token, str] = field(default_factory=dict)
    sequence: Token | None = None
    state: State = State.WAITING

    @property
    def sheet(self) -> Sheet:
        return self.table.sheet

    @property
    def said(self) -> str:
        """What it says, as it is remembered."""
        return json.dumps(self.values, ensure_ascii=False, sort_keys=True)

    def problem(self, field_name: str, reason: str) -> Problem:
        """A mistake in one of its cells; in the row as a whole where no field is named."""
        return Problem(
            self.table.name,
            self.number,
            self.table.heading(field_name) if field_name else "",
            self.values.get(field_name, ""),
            reason,
        )


class SheetReader:
    """Reads one sheet's rows through its form, made once."""

    def __init__(
        self, sheet: Sheet, actor: User, brewery: Brewery | None, lookups: Lookups
    ) -> None:
        self.sheet = sheet
        self.form: EntryForm = sheet.new_form(actor, brewery)
        self.form.is_bound = True
        self._kinds = {name: kind_referred_to(each) for name, each in self.form.fields.items()}
        for each in self.form.fields.values():
            lookups.attach(each)

    def row(self, table: Table, line: Line) -> Row:
        """The row with its key, its time, and what it names and waits for."""
        row = Row(table, line.number, line.values)
        row.key = _fitted(
            " | ".join(self.plain(name, line.values.get(name, "")) for name in self._keys())
        )
        plain = {name: self.plain(name, text) for name, text in line.values.items()}
        row.gives = {token for naming in self.sheet.gives if (token := naming.token(plain))}
        for name, kind in self._kinds.items():
            if kind and line.values.get(name):
                row.needs[(kind, plain_name(line.values[name]))] = name
        for naming in self.sheet.needs:
            token = naming.token(plain)
            if token:
                row.needs.setdefault(token, "")
        if self.sheet.sequence:
            row.sequence = self.sheet.sequence.token(plain)
        row.at = self._moment(line.values)
        return row

    def _keys(self) -> tuple[str, ...]:
        return (*self.sheet.key, REPEAT) if self.sheet.numbered else self.sheet.key

    def _moment(self, values: dict[str, str]) -> dt.datetime:
        text = values.get(self.sheet.when)
        if not text:
            return _BEFORE_ALL
        try:
            when = self.form.fields[self.sheet.when].clean(text)
        except ValidationError:
            # It is reported when the row's turn comes.
            return _BEFORE_ALL
        if not isinstance(when, When):
            raise TypeError(f"{self.sheet.name}: {self.sheet.when} is not a time.")
        return when.ends if self.sheet.closes else when.at

    def plain(self, name: str, text: str) -> str:
        """A cell in one spelling: `1000 g` and `1 kg`, `4/3/2026` and `2026-03-04` are alike."""
        each = self.form.fields.get(name)
        if not text or each is None or self._kinds[name] or isinstance(each, CodeField):
            return plain_name(text)
        if isinstance(each, forms.CharField):
            return plain_name(text) if name in self.sheet.key else " ".join(text.split())
        try:
            return _plain_value(each.clean(text))
        except ValidationError:
            return plain_name(text)

    def read(self, row: Row) -> tuple[dict[str, Any], list[Problem]]:
        """What the verb takes, or what is wrong with the cells."""
        empty = [name for name in self.sheet.required if not row.values.get(name)]
        form = self.form
        form.data = row.values
        form._errors = None  # type: ignore[attr-defined]
        problems = [
            row.problem(name if name != NON_FIELD_ERRORS else "", str(reason))
            for name, reasons in form.errors.items()
            for reason in reasons
        ]
        problems += [
            row.problem(name, "This is needed: it tells the row from the others.") for name in empty
        ]
        return form.cleaned_data, problems

    def check_cells(self, row: Row) -> list[Problem]:
        """The mistakes of a row's own cells, of a row that leans on one with a mistake."""
        problems = []
        for name, each in self.form.fields.items():
            if self._kinds[name]:
                continue
            try:
                each.clean(row.values.get(name, ""))
            except ValidationError as error:
                problems += [row.problem(name, reason) for reason in error.messages]
        return problems

    def differences(self, before: str, row: Row) -> list[tuple[str, str, str]]:
        """Field, what was said before, what is said now: where they do not mean the same."""
        if before == row.said:
            return []
        old: dict[str, str] = json.loads(before)
        return [
            (name, old.get(name, ""), row.values.get(name, ""))
            for name in dict.fromkeys([*self.form.fields, *old, *row.values])
            if self.plain(name, old.get(name, "")) != self.plain(name, row.values.get(name, ""))
        ]


def _fitted(key: str) -> str:
    """The key, within what the records hold of it."""
    if len(key) <= _LONGEST_KEY:
        return key
    tail = hashlib.sha256(key.encode()).hexdigest()
    return f"{key[: _LONGEST_KEY - len(tail) - 1]} {tail}"


def _plain_value(value: Any) -> str:
    if isinstance(value, Quantity):
        return f"{value.canonical} {value.dimension}"
    if isinstance(value, bool):
        return "yes" if value else ""
    return str(value)
