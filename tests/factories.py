"""Records for tests, made by the same verbs a person uses. No surprises: what is not
named gets a plain default, and nothing else is made beside it but what it needs."""

from __future__ import annotations

import datetime as dt
import itertools
from typing import Any

from django.contrib.auth.models import Group

from brewlog.domain import batches, cultures, ingredients, recipes, registers, vessels
from brewlog.domain.lots import Draw, use_lot
from brewlog.models import (
    Batch,
    Brew,
    Brewery,
    CultureLine,
    CultureLot,
    Ingredient,
    IngredientLot,
    Lot,
    LotUse,
    Recipe,
    RecipeVersion,
    Supplier,
    User,
    Vessel,
)
from brewlog.recording import recording
from brewlog.units import Dimension, Quantity, parse_quantity
from brewlog.when import When

_numbers = itertools.count(1)


def person(role: str, username: str = "") -> User:
    """Someone of that role, with the password `living culture 7`."""
    user = User.objects.create_user(
        username or f"{role}{next(_numbers)}", password="living culture 7", first_name=role.title()
    )
    user.groups.add(Group.objects.get(name=role))
    return user


def brewery(actor: User, time_zone: str = "Europe/Lisbon") -> Brewery:
    with recording(actor):
        found = Brewery(pk=1, name="Saltmarsh Ferments", time_zone=time_zone)
        found.save()
        return found


def quantity(text: str) -> Quantity:
    return parse_quantity(text, *Dimension)


def at(day: int, hour: int = 9, minute: int = 0, month: int = 3) -> When:
    """A minute in March 2026 (or another month), UTC."""
    return When(dt.datetime(2026, month, day, hour, minute, tzinfo=dt.UTC))


def supplier(actor: User, name: str = "") -> Supplier:
    return registers.add(actor=actor, model=Supplier, name=name or f"Supplier {next(_numbers)}")


def ingredient(
    actor: User, name: str = "", kind: str = "tea", dimension: str = "mass", **fields: Any
) -> Ingredient:
    return registers.add(
        actor=actor,
        model=Ingredient,
        name=name or f"Ingredient {next(_numbers)}",
        kind=kind,
        dimension=dimension,
        **fields,
    )


def ingredient_lot(
    actor: User,
    amount: str = "10 kg",
    of: Ingredient | None = None,
    when: When | None = None,
    **fields: Any,
) -> IngredientLot:
    """An accepted delivery, of a new ingredient unless one is named."""
    amount_received = quantity(amount)
    fields.setdefault("accepted", True)
    return ingredients.receive(
        actor=actor,
        ingredient=of or ingredient(actor, dimension=amount_received.dimension.value),
        quantity=amount_received,
        when=when or at(1),
        supplier=fields.pop("supplier", None) or supplier(actor),
        **fields,
    )


def vessel(actor: User, name: str = "", material: str = "glass", **fields: Any) -> Vessel:
    return vessels.add_vessel(
        actor=actor, name=name or f"Vessel {next(_numbers)}", material=material, **fields
    )


def culture_line(actor: User, name: str = "") -> CultureLine:
    return registers.add(actor=actor, model=CultureLine, name=name or f"Line {next(_numbers)}")


def culture(
    actor: User,
    amount: str = "10 L",
    when: When | None = None,
    line: CultureLine | None = None,
    **fields: Any,
) -> CultureLot:
    """A bought culture."""
    return cultures.buy_culture(
        actor=actor,
        line=line or culture_line(actor),
        quantity=quantity(amount),
        when=when or at(1),
        supplier=fields.pop("supplier", None) or supplier(actor),
        **fields,
    )


def recipe_version(actor: User, name: str = "", approved: bool = True) -> RecipeVersion:
    """Five grams of tea, sixty of sugar and a decilitre of starter a litre."""
    version = recipes.add_version(
        actor=actor,
        recipe=registers.add(actor=actor, model=Recipe, name=name or f"Base {next(_numbers)}"),
        lines=[
            recipes.PerLitre("tea", quantity("5 g"), ingredient(actor)),
            recipes.PerLitre("sugar", quantity("60 g"), ingredient(actor, kind="sugar")),
            recipes.PerLitre("starter", quantity("100 mL")),
        ],
    )
    return recipes.approve(actor=actor, version=version) if approved else version


def brew(actor: User, amount: str = "100 L", when: When | None = None, **fields: Any) -> Brew:
    return batches.start_brew(actor=actor, quantity=quantity(amount), when=when or at(2), **fields)


def batch(
    actor: User,
    amount: str = "60 L",
    when: When | None = None,
    starter: Lot | None = None,
    starter_amount: str = "6 L",
    **fields: Any,
) -> Batch:
    """A pitched batch holding `amount` after the starter went in."""
    begun = batches.plan_batch(actor=actor, when=when or at(3), **fields)
    return batches.pitch(
        actor=actor,
        batch=begun,
        when=when or at(3),
        quantity=quantity(amount),
        lines=[
            Draw(
                starter or culture(actor, when=at(1)),
                quantity(starter_amount),
                LotUse.Purpose.STARTER,
            )
        ],
    )


def use(
    actor: User,
    source: Lot,
    into: Lot,
    amount: str,
    when: When | None = None,
    purpose: str = "transfer",
    **fields: Any,
) -> LotUse:
    return use_lot(
        actor=actor,
        source=source,
        into=into,
        quantity=quantity(amount),
        purpose=purpose,
        when=when or at(10),
        **fields,
    )
