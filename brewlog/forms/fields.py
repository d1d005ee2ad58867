"""Form fields that read what people and spreadsheets write.

Each takes plain text, so that the same form serves the browser and the importer.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from difflib import get_close_matches
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from brewlog.models import Lot, LotKind, Role, User
from brewlog.units import (
    Dimension,
    Quantity,
    UnitError,
    ask_degrees,
    parse_number,
    parse_quantity,
    parse_temperature,
)
from brewlog.when import When, WhenError, parse_when

# Marks nobody sees that come along with what is pasted: they make two names of one, a name of
# nothing, or turn the letters after them about. Joiners stay: Persian words and emoji need them.
_JOINERS = "\u200c\u200d"
_UNSEEN = dict.fromkeys(
    [0xAD, 0x200B, 0x200E, 0x200F, 0x2060, 0xFEFF, *range(0x202A, 0x202F), *range(0x2066, 0x206A)]
)


def _text(value: Any) -> str:
    """One line, tidied. NUL is a blank too: PostgreSQL takes none, not even to look for."""
    if value is None:
        return ""
    seen = str(value).replace("\x00", " ").translate(_UNSEEN)
    return " ".join(seen.split()) if seen.strip(f"{_JOINERS} ") else ""


class TextField(forms.CharField):
    """A line of text, tidied of stray spaces and of marks nobody sees."""

    default_error_messages = {
        "max_length": "At most %(limit_value)d characters are kept; these are %(show_value)d. "
        "Shorten it."
    }

    def clean(self, value: Any) -> str:
        return super().clean(_text(value))


class NoteField(forms.CharField):
    """Text of any length, lines kept."""

    widget = forms.Textarea(attrs={"rows": 2})


class CodeField(TextField):
    """A lot code. A sheet turns 1024 into 1024.0: the tail is taken off."""

    widget = forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off"})

    def clean(self, value: Any) -> str:
        return super().clean(plain_code(_text(value)))


def plain_code(text: str) -> str:
    """`1024.0` as `1024`; anything else as it is."""
    head, point, tail = text.partition(".")
    return head if point and head.isdigit() and not tail.strip("0") else text


class PasswordField(forms.CharField):
    """A password, taken as it is, spaces and all. It is never shown back, kept or digested."""

    widget = forms.PasswordInput(attrs={"autocomplete": "new-password"})

    def __init__(self, **options: Any) -> None:
        super().__init__(strip=False, max_length=200, **options)


class OwnPasswordField(PasswordField):
    """The password of whoever is logged in, entered again. Guesses are counted as at log-in."""

    widget = forms.PasswordInput(attrs={"autocomplete": "current-password"})


class WhenField(forms.Field):
    """A time, known to the minute or to the day, as a `When`."""

    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
    day_first = True

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, When):
            return timezone.localtime(value.at).strftime("%Y-%m-%dT%H:%M")
        return value

    def to_python(self, value: Any) -> When | None:
        text = _text(value)
        if not text:
            return None
        try:
            return parse_when(text, self.day_first)
        except WhenError as error:
            raise ValidationError(str(error)) from None


class DayField(forms.Field):
    """A calendar day, as a date."""

    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    day_first = True

    def to_python(self, value: Any) -> dt.date | None:
        text = _text(value)
        if not text:
            return None
        if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
            return value
        try:
            return timezone.localtime(parse_when(text, self.day_first).at).date()
        except WhenError as error:
            raise ValidationError(str(error)) from None


class QuantityField(forms.Field):
    """An amount with its unit, as a `Quantity`. `default_unit` is what a bare number means."""

    def __init__(self, *dimensions: Dimension, default_unit: str = "", **options: Any) -> None:
        self.dimensions = dimensions or tuple(Dimension)
        self.default_unit = default_unit
        options.setdefault("widget", forms.TextInput(attrs={"autocomplete": "off"}))
        super().__init__(**options)

    def prepare_value(self, value: Any) -> Any:
        return value.text if isinstance(value, Quantity) else value

    def to_python(self, value: Any) -> Quantity | None:
        text = _text(value)
        if not text:
            return None
        try:
            return parse_quantity(text, *self.dimensions, default_unit=self.default_unit)
        except UnitError as error:
            raise ValidationError(str(error)) from None


class NumberField(forms.Field):
    """A plain number, with a decimal point or comma, as a `Decimal`."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    def __init__(
        self,
        *,
        least: Decimal | int | None = None,
        most: Decimal | int | None = None,
        places: int = 4,
        **options: Any,
    ) -> None:
        self.least, self.most, self.places = least, most, places
        super().__init__(**options)

    def to_python(self, value: Any) -> Decimal | None:
        text = _text(value)
        if not text:
            return None
        try:
            number = parse_number(text)
        except UnitError as error:
            raise ValidationError(str(error)) from None
        if self.least is not None and number < self.least:
            raise ValidationError(f"{text} is less than {self.least}. Check the number.")
        if self.most is not None and number > self.most:
            raise ValidationError(f"{text} is more than {self.most}. Check the number.")
        if round(number, self.places) != number:
            raise ValidationError(f"{text} has more than {self.places} decimals.")
        return number


class WholeField(NumberField):
    """A whole number of pieces or days, as an int."""

    widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})

    def to_python(self, value: Any) -> int | None:  # type: ignore[override]
        number = super().to_python(value)
        if number is None:
            return None
        if number != int(number):
            raise ValidationError(f"{_text(value)} is not a whole number.")
        return int(number)


class TemperatureField(forms.Field):
    """A temperature in °C or °F, in degrees Celsius. The text as typed is kept beside it."""

    widget = forms.TextInput(attrs={"autocomplete": "off"})
    default_unit = "C"

    def __init__(self, *, keep_text_as: str = "", is_cool: bool = False, **options: Any) -> None:
        """`keep_text_as` names the verb's argument for the text as typed.

        `is_cool`: it is of something that is never hot, so a bare number too warm for it is
        asked about.
        """
        self.keep_text_as = keep_text_as
        self.is_cool = is_cool
        super().__init__(**options)

    def to_python(self, value: Any) -> Decimal | None:
        text = _text(value)
        if not text:
            return None
        try:
            if self.is_cool:
                ask_degrees(text, self.default_unit)
            return parse_temperature(text, self.default_unit)
        except UnitError as error:
            raise ValidationError(str(error)) from None


class ChoiceField(forms.ChoiceField):
    """One of a list: its value from the browser, its words from a sheet.

    Nothing is chosen before somebody does, unless `initial` names what it mostly is: a browser
    sends the first of a list nobody looked at, and a row left blank would count as written.
    """

    def __init__(self, *, choices: Iterable[tuple[Any, Any]], **options: Any) -> None:
        listed = list(choices)
        is_open = options.get("initial") is None or not options.get("required", True)
        if is_open and "" not in {value for value, _ in listed}:
            listed = [("", "—"), *listed]
        self.listed = listed
        super().__init__(choices=listed, **options)

    def clean(self, value: Any) -> str:
        text = _text(value)
        for known, label in self.listed:
            if text.lower() in {str(known).lower(), str(label).lower()}:
                return super().clean(str(known))
        listed = ", ".join(str(label) for known, label in self.listed if known)
        if not text:
            return super().clean("")
        raise ValidationError(f"'{text}' is not one of: {listed}.")


class _YesNoInput(forms.CheckboxInput):
    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        return data.get(name, "")


class YesNoField(forms.Field):
    """A tick in the browser; yes or no in a sheet."""

    widget = _YesNoInput

    def __init__(self, **options: Any) -> None:
        options.setdefault("required", False)
        super().__init__(**options)

    def to_python(self, value: Any) -> bool:
        text = _text(value).lower()
        if text in {"", "no", "n", "false", "0", "off", "-"}:
            return False
        if text in {"yes", "y", "true", "1", "on", "x", "✓"}:
            return True
        raise ValidationError(f"'{text}' is neither yes nor no.")


class NamedField(forms.ModelChoiceField):
    """Something from a register, by name: a list in the browser, its name in a sheet."""

    def __init__(self, model: type[models.Model], **options: Any) -> None:
        self.model = model
        options.setdefault("empty_label", "—")
        super().__init__(queryset=model._default_manager.none(), to_field_name="name", **options)

    def open_choices(self) -> None:
        """Offer what is in use now. Called for each form, as registers change."""
        self.queryset = self.model._default_manager.filter(voided_at__isnull=True, in_use=True)

    def to_python(self, value: Any) -> Any:
        text = _text(value)
        if not text:
            return None
        known = self.model._default_manager.filter(voided_at__isnull=True)
        found = known.filter(name__iexact=text).first()
        if found is None and text.endswith(".0"):
            found = known.filter(name__iexact=plain_code(text)).first()
        if found is None:
            near = get_close_matches(text, known.values_list("name", flat=True), n=3, cutoff=0.5)
            hint = f" Did you mean {' or '.join(near)}?" if near else ""
            noun = self.model._meta.verbose_name
            raise ValidationError(f"No {noun} is called '{text}'.{hint}")
        return found


class PersonField(forms.ModelChoiceField):
    """A person, by user name or by full name."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("empty_label", "—")
        super().__init__(queryset=User.objects.none(), to_field_name="username", **options)

    def open_choices(self) -> None:
        self.queryset = User.objects.filter(is_active=True, groups__isnull=False).order_by(
            "first_name", "username"
        )

    def to_python(self, value: Any) -> User | None:
        text = _text(value).lower()
        if not text:
            return None
        for person in User.objects.order_by("id"):
            if text in {person.username.lower(), person.get_full_name().lower()}:
                return person
        raise ValidationError(f"Nobody here is called '{_text(value)}'. Write a user name.")


class DoneByField(PersonField):
    """Who did what is written down: someone who works here, so no inspector is offered."""

    def open_choices(self) -> None:
        workers = User.objects.filter(is_active=True, groups__isnull=False)
        inspectors = User.objects.filter(groups__name=Role.INSPECTOR)
        self.queryset = workers.exclude(pk__in=inspectors).order_by("first_name", "username")


class LotField(forms.Field):
    """A lot by its code: typed, scanned, or picked from a list of likely ones."""

    widget = forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off"})

    def __init__(self, *kinds: LotKind, **options: Any) -> None:
        self.kinds = kinds or tuple(LotKind)
        super().__init__(**options)

    def prepare_value(self, value: Any) -> Any:
        return value.code if isinstance(value, Lot) else value

    def to_python(self, value: Any) -> Lot | None:
        text = plain_code(_text(value))
        if not text:
            return None
        found = Lot.objects.coded(text)
        if found is None:
            raise ValidationError(f"No lot has the code '{text}'.{self._near(text)}")
        if found.kind not in self.kinds:
            wanted = " or ".join(LotKind(kind).label for kind in self.kinds)
            raise ValidationError(
                f"{found} is a {found.get_kind_display()}; here a {wanted} is needed."
            )
        return found

    def _near(self, text: str) -> str:
        codes = Lot.objects.live().filter(kind__in=self.kinds).order_by("-id")
        near = get_close_matches(
            text.upper(), codes.values_list("code", flat=True)[:2000], n=3, cutoff=0.6
        )
        return f" Did you mean {' or '.join(near)}?" if near else ""
