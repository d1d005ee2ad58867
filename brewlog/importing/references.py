"""What a row names and what it calls into being, as tokens that rows wait for.

A token is a kind and a name, both in one plain spelling: ("lot", "b26147a").
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django import forms

from brewlog.forms.fields import LotField, NamedField, PersonField, plain_code
from brewlog.forms.recipes import RecipeVersionField
from brewlog.forms.shipping import ShipmentField

Token = tuple[str, str]


def plain_name(text: str) -> str:
    """A name or code without differences of case, spaces and `.0`."""
    return plain_code(" ".join(text.split())).casefold()


def kind_referred_to(field: forms.Field) -> str:
    """What kind of thing a field names; '' for a field that names none."""
    if isinstance(field, LotField):
        return "lot"
    if isinstance(field, NamedField):
        return field.model._meta.model_name or ""
    if isinstance(field, PersonField):
        return "person"
    if isinstance(field, RecipeVersionField):
        return "recipe version"
    if isinstance(field, ShipmentField):
        return "shipment"
    return ""


@dataclass(frozen=True)
class Naming:
    """How a row's cells make up the name of something: `{recipe} v{number}`.

    The cells are in one spelling; `{when:.10}` is the day of a time.
    """

    kind: str
    pattern: str

    def token(self, values: Mapping[str, str]) -> Token | None:
        """The token of a row; None where a cell it needs is empty."""
        try:
            return (self.kind, plain_name(self.pattern.format(**values)))
        except KeyError:
            return None
