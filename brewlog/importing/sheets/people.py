"""Sheets of the brewery itself and of the people in it."""

from __future__ import annotations

from typing import Any

from brewlog.domain import people
from brewlog.forms.sheets import BreweryRowForm, PersonRowForm
from brewlog.importing.references import Naming
from brewlog.importing.sheet import Sheet
from brewlog.models import User


def add_person(*, actor: User, is_active: bool, **facts: Any) -> User:
    """Add someone who has no password yet: a manager gives them one.

    Who has left is there by name, for what they did, and cannot log in.
    """
    person = people.add_person(actor=actor, **facts)
    if not is_active:
        why = "had left before the records were imported"
        people.deactivate(actor=actor, person=person, reason=why)
    return person


BREWERY = Sheet(
    name="Brewery",
    help="One row: the brewery's name and place, its clock, and how it writes dates.",
    form=BreweryRowForm,
    verb=people.set_up_brewery,
    key=("name",),
)
PEOPLE = Sheet(
    name="People",
    help="Who records and reads. Each gets a password from a manager afterwards.",
    form=PersonRowForm,
    verb=add_person,
    key=("username",),
    gives=(Naming("person", "{username}"), Naming("person", "{name}")),
)
