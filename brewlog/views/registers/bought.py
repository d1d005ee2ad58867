"""The pages of what is bought and whom it is bought from."""

from __future__ import annotations

from brewlog.models import Ingredient, Supplier
from brewlog.views.details import Detail, Next, Section
from brewlog.views.lists import Column, Linked, choice, get, link
from brewlog.views.nouns.lots import mark_transfers
from brewlog.views.nouns.parts import CODE
from brewlog.views.registers.parts import (
    CULTURE_COLUMNS,
    DELIVERY_COLUMNS,
    cultures,
    deliveries,
    stock_over_time,
)
from brewlog.views.standing import mark_kept_back

INGREDIENT = Detail(
    noun="ingredient",
    model=Ingredient,
    title="Ingredient",
    list_title="Ingredients and packaging",
    sections=(
        Section(
            "Deliveries",
            DELIVERY_COLUMNS,
            lambda found: deliveries(ingredient=found),
            mark_kept_back,
            empty="None received yet.",
        ),
        Section(
            "In recipes",
            (
                Column(
                    "version", "Recipe version", lambda line: Linked(line.version, line.version)
                ),
                Column("role", "As", choice("role")),
                Column("per_litre", "Per litre", get("per_litre_text"), number=True),
            ),
            lambda found: found.recipe_lines.live().select_related("version__recipe"),
        ),
    ),
    next=(Next("receive", "ingredient"),),
    extra=stock_over_time("ingredient-stock"),
)
SUPPLIER = Detail(
    noun="supplier",
    model=Supplier,
    title="Supplier",
    list_title="Suppliers",
    sections=(
        Section(
            "Deliveries",
            (
                CODE,
                Column("ingredient", "Ingredient", link("ingredient")),
                *DELIVERY_COLUMNS[1:4],
                *DELIVERY_COLUMNS[5:],
            ),
            lambda found: deliveries(supplier=found),
            mark_kept_back,
            empty="Nothing received from them yet.",
        ),
        Section(
            "Cultures bought",
            CULTURE_COLUMNS,
            lambda found: cultures(supplier=found),
            mark_transfers,
        ),
    ),
    next=(Next("receive", "supplier"), Next("buy-culture", "supplier")),
)
