"""The form every verb has: fields named as the verb's arguments.

A field's label is also the column's name in the verb's sheet.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils import timezone

from brewlog.forms.fields import (
    DoneByField,
    NamedField,
    NoteField,
    PersonField,
    QuantityField,
    TemperatureField,
    TextField,
    WhenField,
    YesNoField,
)
from brewlog.models import Brewery, User, day_first_for
from brewlog.models.base import LATE_AFTER
from brewlog.units import Dimension
from brewlog.when import now

_DEFAULT_UNITS = {
    User.UnitSystem.METRIC: {Dimension.MASS: "kg", Dimension.VOLUME: "L"},
    User.UnitSystem.US: {Dimension.MASS: "lb", Dimension.VOLUME: "gal"},
}


NEEDED = "This is required: fill it in."


class EntryForm(forms.Form):
    """Fields of one verb, ready for the person and the brewery at hand.

    `from_sheet` is a row of a spreadsheet: bare amounts are not guessed at, and the
    reason for a late entry is the import itself.
    """

    # Fields shown before the optional rest is folded away on the page.
    shown_at_first = 10
    # Filled in with wet hands: the button stands right below those, everything else is folded.
    quick = False

    def __init__(
        self,
        *args: Any,
        actor: User,
        brewery: Brewery | None = None,
        from_sheet: bool = False,
        **options: Any,
    ) -> None:
        self.actor = actor
        self.brewery = brewery
        self.from_sheet = from_sheet
        # One error list on top is linked to the fields; ids must not clash between forms.
        options.setdefault("label_suffix", "")
        super().__init__(*args, **options)
        self.use_required_attribute = False
        for field in self.fields.values():
            field.error_messages["required"] = NEEDED
            self._prepare(field, brewery)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name, field in self.fields.items():
            if isinstance(field, TemperatureField) and field.keep_text_as:
                typed = " ".join(str(self.data.get(self.add_prefix(name)) or "").split())
                bare = typed and typed[-1].isdigit()
                cleaned[field.keep_text_as] = f"{typed} °{field.default_unit}" if bare else typed
        return cleaned

    def _prepare(self, field: forms.Field, brewery: Brewery | None) -> None:
        if hasattr(field, "day_first"):
            # A sheet is written in the brewery's order, whoever sends it.
            reader = None if self.from_sheet else self.actor
            field.day_first = day_first_for(reader, brewery)
        if isinstance(field, NamedField | PersonField) and not self.from_sheet:
            field.open_choices()
        if isinstance(field, TemperatureField):
            field.default_unit = "F" if self.actor.units == User.UnitSystem.US else "C"
            field.is_cool = field.is_cool and not self.from_sheet
        if (
            isinstance(field, QuantityField)
            and not self.from_sheet
            and not field.default_unit
            and len(field.dimensions) == 1
        ):
            units = _DEFAULT_UNITS[User.UnitSystem(self.actor.units)]
            field.default_unit = units.get(field.dimensions[0], "")


class SeenForm(EntryForm):
    """A form about something as it was shown: it keeps which version that was."""

    seen = forms.IntegerField(
        label="Version shown",
        required=False,
        widget=forms.HiddenInput,
        min_value=1,
        max_value=2**62,
    )

    def go_on_from(self, version: int, changed: Collection[str]) -> None:
        """Put what was changed here over what stands by now; whoever sends it again knows.

        `changed` are the fields somebody wrote in; the others show what others wrote meanwhile.
        """
        typed = QueryDict(mutable=True)
        typed.update(self.data)
        now = type(self)(actor=self.actor, brewery=self.brewery)
        for name in set(self.fields).difference(changed, {"reason"}):
            typed[self.add_prefix(name)] = now[name].value() or ""
        typed[self.add_prefix("seen")] = str(version)
        self.data = typed


class EventForm(EntryForm):
    """A verb about something that happened: when, by whom, a note, why so late."""

    when = WhenField(label="When", initial=now)
    done_by = DoneByField(label="By", required=False)
    note = NoteField(label="Note", required=False)
    reason = TextField(
        label="Why written only now",
        required=False,
        help_text="Needed where it happened before this shift.",
    )

    field_order = ["when"]

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if self.from_sheet:
            del self.fields["reason"]
        else:
            self.fields["done_by"].initial = self.actor.username
        # What a person fills in last stands last.
        for name in ("done_by", "note", "reason"):
            if name in self.fields:
                self.fields[name] = self.fields.pop(name)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        when = cleaned.get("when")
        if self.from_sheet or when is None or cleaned.get("reason"):
            return cleaned
        since = timezone.now() - when.ends
        if since > LATE_AFTER:
            self.add_error(
                "reason",
                f"This happened {_ago(since)} ago. Say why it is written only now.",
            )
        return cleaned


def _ago(since: dt.timedelta) -> str:
    if since.days >= 1:
        return f"{since.days} day{'s' if since.days > 1 else ''}"
    return f"{since.seconds // 3600} hours"


class AlreadyDoneMixin(forms.Form):
    """The tick that turns a refusal of intent into a record of fact."""

    already_done = YesNoField(
        label="This has already happened",
        help_text="For what was refused and was done all the same: it is recorded as it was, and a "
        "reviewer looks at it. Not needed for writing late.",
    )
