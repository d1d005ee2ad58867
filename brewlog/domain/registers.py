"""Named things the brewery has or deals with: written down once, used by name."""

from __future__ import annotations

from typing import Any, TypeVar

from brewlog.domain.lots import save_new
from brewlog.models import User
from brewlog.models.base import Register
from brewlog.recording import recording

R = TypeVar("R", bound=Register)


def add(*, actor: User, model: type[R], reason: str = "", **fields: Any) -> R:
    """Add one to a register. Raises `ValidationError` by field where the name is taken."""
    with recording(actor, reason):
        record = model(**fields)
        save_new(record)
        return record
