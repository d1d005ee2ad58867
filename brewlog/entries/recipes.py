"""Entries of the recipes."""

from __future__ import annotations

from functools import partial

from brewlog.domain import recipes, registers
from brewlog.entries.base import MANAGE, Entry, Lines
from brewlog.forms import recipes as forms
from brewlog.models import Recipe

ENTRIES = (
    Entry(
        slug="recipe",
        title="Name a recipe",
        form=forms.RecipeForm,
        verb=partial(registers.add, model=Recipe),
        permission=MANAGE,
    ),
    Entry(
        slug="recipe-version",
        title="Write a recipe version",
        form=forms.RecipeVersionForm,
        verb=recipes.add_version,
        permission=MANAGE,
        lines=(
            Lines(
                name="lines",
                title="Per litre of batch",
                form=forms.RecipeLineForm,
                build=recipes.PerLitre,
                least=1,
                blank_rows=5,
            ),
        ),
        about="recipe",
    ),
    Entry(
        slug="approve",
        title="Approve a recipe version",
        form=forms.ApproveForm,
        verb=recipes.approve,
        permission=MANAGE,
        about="version",
        button="Approve",
    ),
)
