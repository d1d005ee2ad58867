"""What a sheet is: a form, a verb, and what tells one row from another."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from django import forms

from brewlog.forms.base import EntryForm
from brewlog.importing.references import Naming
from brewlog.models import Brewery, User

REPEAT = "repeat"
REPEAT_LABEL = "No."


def loose(text: str) -> str:
    """A name as compared: letters and figures only, in one case, accents aside."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in apart if c.isalnum() and not unicodedata.combining(c))


@dataclass(frozen=True)
class Column:
    """One column: the form field it fills, its name on the sheet, and what it takes."""

    field: str
    label: str
    required: bool
    help: str


@dataclass(frozen=True)
class Sheet:
    """One record type as a spreadsheet.

    `verb(actor=..., **fixed, **cleaned)` writes a row. `key` are the fields that tell a
    row from every other. `gives` names what a row calls into being, `needs` what it waits
    for beyond what its fields refer to. `when` is the field that dates it, '' for rows
    that come as soon as what they need is there. `closes`: known to the day, it is taken
    to be the last thing of that day. `numbered`: rows alike in every key field may be
    told apart by a column "No.". `sequence`: rows of one such name follow one another, so
    that after a mistake in one the later ones are not looked at.
    """

    name: str
    help: str
    form: type[EntryForm]
    verb: Callable[..., Any]
    key: tuple[str, ...]
    gives: tuple[Naming, ...] = ()
    needs: tuple[Naming, ...] = ()
    when: str = ""
    fixed: Mapping[str, Any] = field(default_factory=dict)
    required: tuple[str, ...] = ()
    closes: bool = False
    numbered: bool = False
    sequence: Naming | None = None

    @cached_property
    def fields(self) -> dict[str, forms.Field]:
        """The form's fields that are columns, by name."""
        return self.new_form(User(), None).fields

    def new_form(self, actor: User, brewery: Brewery | None) -> EntryForm:
        """The form for this sheet's rows, with the columns' fields only."""
        form = self.form(actor=actor, brewery=brewery, from_sheet=True)
        for name, found in list(form.fields.items()):
            # A file is attached on a page instead.
            if name in self.fixed or isinstance(found, forms.FileField):
                del form.fields[name]
        return form

    @cached_property
    def columns(self) -> tuple[Column, ...]:
        """Every column, in the form's order."""
        found = [
            Column(
                name,
                str(each.label),
                each.required or name in self.required,
                str(each.help_text),
            )
            for name, each in self.fields.items()
        ]
        if self.numbered:
            alike = "1, 2, 3 for rows that are otherwise alike"
            found.append(Column(REPEAT, REPEAT_LABEL, False, alike))
        return tuple(found)

    @cached_property
    def by_label(self) -> dict[str, Column]:
        """Columns by their name as compared."""
        return {loose(column.label): column for column in self.columns}

    def is_called(self, name: str) -> bool:
        """Whether a file or sheet of that name is this one: `02 shipment line.csv` too."""
        stripped = re.sub(r"^\d+[\s._-]+|[\s._-]*(\(\d+\)|\d+)$", "", name.strip())
        known = loose(self.name)
        found = {loose(name), loose(stripped)}
        return any(known in {name, f"{name}s", f"{name}es"} for name in found)
