"""Forms of people, their roles and the brewery."""

from __future__ import annotations

import zoneinfo
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from brewlog import setup_code
from brewlog.domain.versions import newest_version
from brewlog.forms.base import NEEDED, EntryForm, SeenForm
from brewlog.forms.fields import (
    ChoiceField,
    NoteField,
    OwnPasswordField,
    PasswordField,
    PersonField,
    TextField,
    WholeField,
    YesNoField,
)
from brewlog.forms.uploads import PictureField
from brewlog.models import Brewery, DateOrder, Role, User

PASSWORD_RULES = (
    "At least 8 characters, not like the user name or the name, and not one everybody uses "
    "(password1). A few words together are good."
)


class NewPasswordField(PasswordField):
    """A password that is chosen here, with the rules it has to keep (settings.py has them)."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("help_text", PASSWORD_RULES)
        super().__init__(**options)


def _date_order_field() -> ChoiceField:
    return ChoiceField(
        label="Dates",
        required=False,
        choices=[("", "as the brewery writes them"), *DateOrder.choices],
        help_text="How you read a date, and how 3/4 is read when you type it.",
    )


class PersonForm(EntryForm):
    username = TextField(label="User name", max_length=150)
    name = TextField(label="Name", max_length=200, help_text="As it stands on papers.")
    role = ChoiceField(label="Role", choices=Role.choices, initial=Role.OPERATOR)
    password = NewPasswordField(
        label="First password",
        help_text=f"{PASSWORD_RULES} They change it when they first log in.",
    )
    email = forms.EmailField(label="E-mail", required=False)
    units = ChoiceField(
        label="Units", choices=User.UnitSystem.choices, initial=User.UnitSystem.METRIC
    )
    date_order = _date_order_field()


class GivePasswordForm(EntryForm):
    person = PersonField(label="Person")
    password = NewPasswordField(
        label="New password",
        help_text=f"{PASSWORD_RULES} Tell it to them in person; they change it when they log in.",
    )


def _with_both_alike(form: forms.Form) -> dict[str, Any]:
    """What was typed, without the second password; an error where it is not as the first."""
    cleaned = form.cleaned_data
    again = cleaned.pop("again", None)
    if again is not None and "password" in cleaned and again != cleaned["password"]:
        form.add_error("again", "The two are not the same. Type the new password twice.")
    return cleaned


class OwnPasswordForm(EntryForm):
    """One's own password: the one in use, and the new one twice."""

    current = OwnPasswordField(label="The password you log in with now")
    password = NewPasswordField(label="New password")
    again = NewPasswordField(label="The new password again", help_text="")

    def clean(self) -> dict[str, Any]:
        super().clean()
        return _with_both_alike(self)


class FirstManagerForm(forms.Form):
    """Who sets a new brewery up, with the code that the server printed as it was started."""

    code = TextField(
        label="Set-up code",
        help_text="In the window the server was started in, like K7MQ-2RTX-9BDA.",
    )
    name = TextField(label="Your name", max_length=200, help_text="As it stands on papers.")
    username = TextField(label="User name", max_length=150, help_text="To log in with.")
    password = NewPasswordField(label="Password")
    again = NewPasswordField(label="The password again", help_text="")

    def __init__(self, *args: Any, **options: Any) -> None:
        options.setdefault("label_suffix", "")
        super().__init__(*args, **options)
        self.use_required_attribute = False
        for field in self.fields.values():
            field.error_messages["required"] = NEEDED

    def clean_code(self) -> str:
        if not setup_code.is_right(self.cleaned_data["code"]):
            raise ValidationError("That is not the code this server printed.")
        return ""

    def clean(self) -> dict[str, Any]:
        cleaned = _with_both_alike(self)
        cleaned.pop("code", None)
        return cleaned


class PinField(PasswordField):
    """Figures, typed on the number keys and not shown."""

    widget = forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"})


class PinForm(EntryForm):
    """One's own PIN: the password in use, and the PIN twice."""

    current = OwnPasswordField(label="The password you log in with")
    pin = PinField(label="PIN", help_text="At least four figures; not 1234, not 0000.")
    again = PinField(label="The PIN again")


class ShareDeviceForm(EntryForm):
    name = TextField(label="Name", max_length=120, help_text="Tablet in the brew room.")
    idle_minutes = WholeField(
        label="Minutes until it asks who is at work", initial=10, least=1, most=720
    )
    note = NoteField(label="Note", required=False)


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
    date_order = _date_order_field()

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for name, field in self.fields.items():
            field.initial = getattr(self.actor, name)


class LogoForm(EntryForm):
    """The logo of papers and labels."""

    logo = PictureField(
        label="Logo",
        help_text="A PNG, its ground transparent or white, or a JPEG. It is made as small as "
        "papers need it.",
    )
    take_off = YesNoField(label="Papers go without a logo")
    reason = TextField(label="Reason", max_length=200)

    def clean_logo(self) -> Any:
        return self.cleaned_data["logo"] or None


class ZoneField(TextField):
    """A time zone by its name or by its city alone; the likely ones are offered."""

    def clean(self, value: Any) -> str:
        text = super().clean(value)
        sought = text.lower().replace(" ", "_")
        zones = sorted(zoneinfo.available_timezones())
        named = [zone for zone in zones if zone.lower() == sought]
        found = named or [zone for zone in zones if zone.lower().endswith(f"/{sought}")]
        if len(found) > 1:
            raise ValidationError(f"'{text}' may be {' or '.join(found)}. Write the one you mean.")
        if not found and text:
            raise ValidationError(
                f"No time zone is called '{text}'. Write a big city near you, like Lisbon, "
                "or pick one of the list."
            )
        return found[0] if found else text


class BreweryForm(SeenForm):
    """The brewery as it stands, or a new one."""

    name = TextField(label="Name", max_length=120)
    address = NoteField(label="Address", required=False)
    country = TextField(label="Country", required=False, max_length=60)
    phone = TextField(label="Phone", required=False, max_length=40)
    email = forms.EmailField(label="E-mail", required=False)
    registration_number = TextField(
        label="Registration or licence number", required=False, max_length=60
    )
    time_zone = ZoneField(
        label="Time zone",
        max_length=60,
        help_text="By a big city near you: Europe/Lisbon, America/Chicago, Pacific/Auckland.",
    )
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
            if name not in {"reason", "seen"}:
                field.initial = getattr(brewery or Brewery(), name)
        if brewery is not None:
            self.fields["seen"].initial = newest_version(brewery)
        else:
            # Nothing is changed yet that needs a reason, and the clock is nobody's to guess.
            del self.fields["reason"]
            self.fields["time_zone"].initial = ""
