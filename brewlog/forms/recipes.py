"""Forms of the recipes."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError

from brewlog.forms.base import EntryForm
from brewlog.forms.fields import (
    ChoiceField,
    NamedField,
    NoteField,
    NumberField,
    QuantityField,
    TemperatureField,
    TextField,
    WholeField,
)
from brewlog.models import Ingredient, Recipe, RecipeLine, RecipeVersion


class RecipeForm(EntryForm):
    name = TextField(label="Name", max_length=120)
    note = NoteField(label="Note", required=False)


class RecipeVersionField(TextField):
    """A recipe version by name and number: `Black tea base v2`."""

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        return find_version(text) if text else None

    def prepare_value(self, value: Any) -> Any:
        return str(value) if isinstance(value, RecipeVersion) else value

    def run_validators(self, value: Any) -> None:
        """There is nothing to check about a version that was found."""


def find_version(text: str) -> RecipeVersion:
    """The live version called so; without a number, the newest approved one.

    Raises `ValidationError` naming the versions there are.
    """
    name, mark, number = text.rpartition(" v")
    if not mark or not number.isdigit():
        name, number = text, ""
    versions = RecipeVersion.objects.live().filter(recipe__name__iexact=name.strip())
    if number:
        versions = versions.filter(number=int(number))
    else:
        versions = versions.filter(approved_at__isnull=False)
    found = versions.select_related("recipe").order_by("-number").first()
    if found is None:
        listed = ", ".join(
            str(version) for version in RecipeVersion.objects.live().select_related("recipe")[:12]
        )
        raise ValidationError(
            f"No recipe version is called '{text}'. There are: {listed or 'none yet'}."
        )
    return found


class RecipeVersionForm(EntryForm):
    recipe = NamedField(Recipe, label="Recipe")
    number = WholeField(
        label="Version",
        required=False,
        least=1,
        most=9999,
        help_text="Left empty, the next number.",
    )
    steep_temperature = TemperatureField(label="Steep at", required=False)
    steep_minutes = WholeField(label="Steep, minutes", required=False, least=0, most=2880)
    pitch_temperature = TemperatureField(
        label="Cool to before adding starter", is_cool=True, required=False
    )
    ferment_temperature = TemperatureField(label="Ferment at", is_cool=True, required=False)
    ferment_days = WholeField(label="Usual days to ferment", required=False, least=1, most=365)
    target_ph = NumberField(label="Bottle at about pH", required=False, least=1, most=7, places=2)
    instructions = NoteField(label="Instructions", required=False)


class RecipeLineForm(EntryForm):
    """So much per litre of batch."""

    role = ChoiceField(label="Role", choices=RecipeLine.Role.choices)
    ingredient = NamedField(Ingredient, label="Ingredient", required=False)
    quantity = QuantityField(label="Per litre")


class RecipeLineRowForm(RecipeLineForm):
    version = RecipeVersionField(label="Recipe version")

    field_order = ["version"]


class ApproveForm(EntryForm):
    version = RecipeVersionField(label="Recipe version")
    reason = TextField(label="Remark", required=False)
