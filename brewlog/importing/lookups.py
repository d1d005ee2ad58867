"""What an import has looked up, so that a name or a code is looked up once.

Registers and shipments are only ever added to within an import. A lot changes (starter
is added, it is retired), and is forgotten whenever a verb saves it again.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django import forms
from django.db.models.signals import post_save

from brewlog.forms.fields import LotField, NamedField, PersonField
from brewlog.forms.shipping import ShipmentField
from brewlog.importing.references import kind_referred_to, plain_name
from brewlog.models import Lot


class Lookups:
    """The records found so far, by kind and plain name."""

    def __init__(self) -> None:
        self._found: dict[tuple[str, str], Any] = {}

    def attach(self, field: forms.Field) -> None:
        """Let a form's field ask here first."""
        if isinstance(field, LotField | NamedField | PersonField | ShipmentField):
            field.to_python = _Remembering(field, self._found)  # type: ignore[method-assign]

    def forget_lots(self) -> None:
        """Forget every lot: a verb that failed may have left one half changed."""
        for token in [token for token in self._found if token[0] == "lot"]:
            del self._found[token]

    @contextmanager
    def watching(self) -> Iterator[None]:
        """Forget each lot that is saved again meanwhile."""
        post_save.connect(self._saved, weak=False, dispatch_uid=id(self))
        try:
            yield
        finally:
            post_save.disconnect(dispatch_uid=id(self))

    def _saved(self, instance: Any, created: bool, **signal: Any) -> None:
        if isinstance(instance, Lot) and not created:
            self._found.pop(("lot", plain_name(instance.code)), None)


class _Remembering:
    """A field's look-up that asks the database once for each name."""

    def __init__(self, field: forms.Field, found: dict[tuple[str, str], Any]) -> None:
        self._look_up = field.to_python
        self._kind = kind_referred_to(field)
        self._kinds_of_lot = field.kinds if isinstance(field, LotField) else ()
        self._found = found

    def __call__(self, value: Any) -> Any:
        token = (self._kind, plain_name(str(value or "")))
        found = self._found.get(token)
        # A lot of another kind than the column's is refused by the field itself.
        if found is None or (self._kinds_of_lot and found.kind not in self._kinds_of_lot):
            found = self._look_up(value)
            if found is not None:
                self._found[token] = found
        return found
