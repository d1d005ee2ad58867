"""What other apps make of lots that something was just written about.

They add themselves when they are loaded. A page asks in the same transaction as the verb, an
import once at its end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import fields, is_dataclass
from typing import Any

from django.db import models

from brewlog.ledger import ids_in
from brewlog.models import Lot, User

# Given who wrote, and the lots (None for all of them); says what came of it, in words.
LOOKS: list[Callable[[User, list[Lot] | None], list[str]]] = []


def look_at(actor: User, lots: list[Lot] | None) -> list[str]:
    """Let every app look at the lots. Call it inside `recording()`."""
    if lots is not None and not lots:
        return []
    return [words for look in LOOKS for words in look(actor, lots)]


def lots_touched(values: Iterable[Any]) -> list[Lot]:
    """The live lots that what was given to a verb, or came out of it, is or points at."""
    keys = {key for value in values for key in _keys(value)}
    return list(Lot.objects.live().filter(pk__in=ids_in(keys)).order_by("pk")) if keys else []


def _keys(value: Any) -> Iterator[int]:
    if isinstance(value, Lot):
        yield value.pk
    elif isinstance(value, models.Model):
        for field in value._meta.concrete_fields:
            points_at = field.related_model
            if isinstance(points_at, type) and issubclass(points_at, Lot):
                key = getattr(value, field.attname)
                if key is not None:
                    yield key
    elif isinstance(value, list | tuple):
        for each in value:
            yield from _keys(each)
    elif is_dataclass(value):
        for each in fields(value):
            yield from _keys(getattr(value, each.name))
