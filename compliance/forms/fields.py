"""Fields that only deciding needs: a password to sign with, a record picked from a list, lots."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from django import forms
from django.db.models import Model, QuerySet

from brewlog.forms.base import EntryForm
from brewlog.forms.fields import LotField, OwnPasswordField
from brewlog.models import Lot
from brewlog.when import dates_in


class SignedForm(EntryForm):
    """A form that ends in a signature. `meaning` is what the signature says."""

    meaning = ""
    password = OwnPasswordField(label="Your password, to sign")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["password"] = self.fields.pop("password")
        self.fields[
            "password"
        ].help_text = f"Signs as {self.actor}, now, with the meaning: {self.meaning}."


class PickField(forms.ModelChoiceField):
    """A record from a list, in words of its own, its dates in the order of who picks."""

    day_first = True

    def __init__(
        self, rows: QuerySet, words: Callable[[Any], str] = str, gone: str = "", **options: Any
    ) -> None:
        self.words = words
        options.setdefault("empty_label", "—")
        if gone:
            options["error_messages"] = {"invalid_choice": gone}
        super().__init__(queryset=rows, **options)

    def label_from_instance(self, record: Model) -> str:
        return dates_in(self.words(record), self.day_first)


class LotsField(forms.Field):
    """Several lots by their codes, between commas or one a line, as a list."""

    widget = forms.Textarea(attrs={"rows": 2, "autocapitalize": "characters"})

    def to_python(self, value: Any) -> list[Lot]:
        one = LotField()
        lots: dict[int, Lot] = {}
        for code in re.split(r"[,;\n]", str(value or "")):
            found = one.to_python(code)
            if found is not None:
                lots[found.pk] = found
        return list(lots.values())
