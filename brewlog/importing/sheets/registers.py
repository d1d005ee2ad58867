"""Sheets of the named things a brewery has or deals with."""

from __future__ import annotations

from functools import partial

from brewlog.domain import registers, vessels
from brewlog.forms import batches, cultures, ingredients
from brewlog.forms.sheets import register_row
from brewlog.importing.references import Naming
from brewlog.importing.sheet import Sheet
from brewlog.models import CultureLine, Ingredient, Supplier

SHEETS = (
    Sheet(
        name="Suppliers",
        help="Who ingredients, cultures and packaging are bought from.",
        form=register_row(ingredients.SupplierForm),
        verb=partial(registers.add, model=Supplier),
        key=("name",),
        gives=(Naming("supplier", "{name}"),),
    ),
    Sheet(
        name="Ingredients",
        help="What is bought in lots: tea, sugar, water, fruit, bottles, caps, labels.",
        form=register_row(ingredients.IngredientForm),
        verb=partial(registers.add, model=Ingredient),
        key=("name",),
        gives=(Naming("ingredient", "{name}"),),
    ),
    Sheet(
        name="Vessels",
        help="Kettles, jars, tanks and barrels.",
        form=register_row(batches.VesselForm),
        verb=vessels.add_vessel,
        key=("name",),
        gives=(Naming("vessel", "{name}"),),
    ),
    Sheet(
        name="Culture lines",
        help="Living cultures carried on from batch to batch under one name.",
        form=register_row(cultures.CultureLineForm),
        verb=partial(registers.add, model=CultureLine),
        key=("name",),
        gives=(Naming("cultureline", "{name}"),),
    ),
)
