"""Many rows of one noun at once, where their number matters and their making does not."""

from __future__ import annotations

import copy
import datetime as dt
from typing import Any

from brewlog import bulk
from brewlog.models import Lot, User
from brewlog.recording import recording

# What must be there once.
_ONCE = ("code", "name", "number", "username", "day")


def many_more(actor: User, record: Any, count: int) -> None:
    """So many copies of a record, each with its history and its own name or code."""
    original = record.detail if isinstance(record, Lot) else record
    with recording(actor):
        first = bulk.next_id(Lot if isinstance(original, Lot) else type(original))
        copies = [_copy(original, first + number) for number in range(count)]
        if isinstance(original, User):
            User.objects.bulk_create(copies)
        else:
            bulk.insert(copies)


def _copy(original: Any, key: int) -> Any:
    found = copy.copy(original)
    found._state = copy.copy(original._state)
    found.pk = key
    for name in _ONCE:
        value = getattr(original, name, None)
        if isinstance(value, str):
            setattr(found, name, f"{value[:20]}-{key}")
        elif isinstance(value, int):
            setattr(found, name, key)
        elif isinstance(value, dt.date):
            setattr(found, name, value + dt.timedelta(days=key))
    return found
