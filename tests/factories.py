"""Records for tests, made by the same verbs a person uses. No surprises: what is not
named gets a plain default, and nothing else is made beside it but what it needs."""

from __future__ import annotations

import datetime as dt
import itertools
from typing import Any

from django.contrib.auth.models import Group

from brewlog.domain import ingredients, registers
from brewlog.models import (
    Brewery,
    Ingredient,
    IngredientLot,
    Supplier,
    User,
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
