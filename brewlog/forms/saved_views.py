"""The form of keeping a way of looking at a list."""

from __future__ import annotations

from typing import Any

from brewlog.forms.base import EntryForm
from brewlog.forms.fields import TextField, YesNoField

_MAY_MANAGE = "brewlog.manage_brewery"


class SaveViewForm(EntryForm):
    name = TextField(label="Name", max_length=60, help_text="Like: ginger on hand, newest first.")
    is_shared = YesNoField(label="Offer it to everyone")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if not self.actor.has_perm(_MAY_MANAGE):
            del self.fields["is_shared"]
