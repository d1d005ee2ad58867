"""Sheets of the recipes: a name, its versions, what goes in per litre, the approval."""

from __future__ import annotations

from functools import partial

from brewlog.domain import recipes, registers
from brewlog.forms import recipes as forms
from brewlog.forms.sheets import ApprovalRowForm, register_row
from brewlog.importing.references import Naming
from brewlog.importing.sheet import Sheet
from brewlog.models import Recipe

SHEETS = (
    Sheet(
        name="Recipes",
        help="The drinks' bases by name. What to do is in their versions.",
        form=register_row(forms.RecipeForm),
        verb=partial(registers.add, model=Recipe),
        key=("name",),
        gives=(Naming("recipe", "{name}"),),
    ),
    Sheet(
        name="Recipe versions",
        help="One row for each version of a recipe. Elsewhere it is called 'Name v2'.",
        form=forms.RecipeVersionForm,
        verb=recipes.add_version,
        key=("recipe", "number"),
        required=("number",),
        gives=(Naming("recipe version", "{recipe} v{number}"),),
    ),
    Sheet(
        name="Recipe lines",
        help="So much of one ingredient, or of starter, per litre of batch.",
        form=forms.RecipeLineRowForm,
        verb=recipes.add_line,
        key=("version", "role", "ingredient"),
        numbered=True,
        gives=(Naming("recipe line", "{version}"),),
    ),
    Sheet(
        name="Recipe approvals",
        help="Who approved a recipe version, and when.",
        form=ApprovalRowForm,
        verb=recipes.approve,
        key=("version",),
        needs=(Naming("recipe line", "{version}"),),
        when="when",
    ),
)
