"""Forms of people, their roles and the brewery."""

from __future__ import annotations

from typing import Any

from django import forms

from brewlog.forms.base import EntryForm
from brewlog.forms.fields import ChoiceField, NoteField, PersonField, TextField
from brewlog.models import Brewery, Role, User


class PasswordField(forms.CharField):
    """A password, taken as it is, spaces and all."""

    widget = forms.PasswordInput(attrs={"autocomplete": "new-password"})

    def __init__(self, **options: Any) -> None:
        super().__init__(strip=False, max_length=200, **options)


class PersonForm(EntryForm):
    username = TextField(label="User name", max_length=150)
    name = TextField(label="Name", max_length=200, help_text="As it stands on papers.")
    role = ChoiceField(label="Role", choices=Role.choices)
    password = PasswordField(label="First password")
    email = forms.EmailField(label="E-mail", required=False)
    units = ChoiceField(
        label="Units", choices=User.UnitSystem.choices, initial=User.UnitSystem.METRIC
    )


class RoleForm(EntryForm):
    person = PersonField(label="Person")
    role = ChoiceField(label="Role", choices=Role.choices)
    reason = TextField(label="Reason", max_length=200)


class LeaveForm(EntryForm):
    person = PersonField(label="Person")
    reason = TextField(label="Reason", max_length=200)


class InactivePersonField(PersonField):
    """Someone who left."""

    def open_choices(self) -> None:
        self.queryset = User.objects.filter(is_active=False).order_by("first_name", "username")


class ReturnForm(EntryForm):
    person = InactivePersonField(label="Person")
    role = ChoiceField(label="Role", choices=Role.choices)
    reason = TextField(label="Reason", max_length=200)


class UnitsForm(EntryForm):
    units = ChoiceField(label="Units", choices=User.UnitSystem.choices)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["units"].initial = self.actor.units


class BreweryForm(EntryForm):
    """The brewery as it stands, or a new one."""

    name = TextField(label="Name", max_length=120)
    address = NoteField(label="Address", required=False)
    country = TextField(label="Country", required=False, max_length=60)
    phone = TextField(label="Phone", required=False, max_length=40)
    email = forms.EmailField(label="E-mail", required=False)
    registration_number = TextField(
        label="Registration or licence number", required=False, max_length=60
    )
    time_zone = TextField(label="Time zone", max_length=60, help_text="Europe/Lisbon")
    date_order = ChoiceField(label="Dates are written", choices=Brewery.DateOrder.choices)
    lot_code_pattern = TextField(
        label="Lot codes",
        max_length=60,
        help_text="{kind} letter, {yy} year, {day} day of the year, {run} A, B, C of the day",
    )
    reason = TextField(label="Reason", max_length=200)

    def __init__(self, *args: Any, brewery: Brewery | None = None, **options: Any) -> None:
        super().__init__(*args, brewery=brewery, **options)
        for name, field in self.fields.items():
            if name != "reason":
                field.initial = getattr(brewery or Brewery(), name)
