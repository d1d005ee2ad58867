"""The form of a temperature logger's file: where it stood, and what the file does not say."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from brewlog.forms.base import EntryForm
from brewlog.forms.fields import (
    ChoiceField,
    NamedField,
    TemperatureField,
    TextField,
    WholeField,
)
from brewlog.forms.uploads import EMPTY
from brewlog.importing.loggers import Clock, Told
from brewlog.models import Instrument, Location

MOST_BYTES = 20 * 1024 * 1024
_ENDINGS = (".csv", ".tsv", ".txt", ".log")


class LoggerFileField(forms.FileField):
    """A text file as a logger's own program writes it."""

    widget = forms.FileInput(attrs={"accept": ",".join(_ENDINGS)})
    default_error_messages = {"empty": EMPTY}

    def clean(self, data: Any, initial: Any = None) -> Any:
        upload = super().clean(data, initial)
        if not upload.name.lower().endswith(_ENDINGS):
            raise ValidationError(
                f"{upload.name} is no text file. Let the logger's program save it as .csv."
            )
        if upload.size > MOST_BYTES:
            raise ValidationError("The file is larger than 20 MB. Send a shorter time.")
        return upload


class LoggerForm(EntryForm):
    file = LoggerFileField(label="File", help_text="As the logger's program saves it: .csv.")
    location = NamedField(Location, label="Where it stood")
    instrument = NamedField(Instrument, label="Logger, as an instrument", required=False)
    every_minutes = WholeField(
        label="Keep one reading every, minutes",
        least=1,
        most=1440,
        initial=30,
        help_text="The warmest of each excursion is kept besides, with its beginning and end.",
    )
    limit = TemperatureField(
        label="Look for times above",
        required=False,
        help_text="Left empty, the limit that binds for cold places.",
    )
    unit = ChoiceField(
        label="Unit, where the file does not say",
        choices=[("", "the file says"), ("C", "°C"), ("F", "°F")],
        required=False,
    )
    clock = ChoiceField(
        label="The logger's clock",
        choices=[
            (Clock.LOCAL, "our time, changed in spring and autumn"),
            (Clock.STANDARD, "winter time all year"),
            (Clock.UTC, "UTC"),
        ],
        initial=Clock.LOCAL.value,
    )
    date_order = ChoiceField(
        label="Dates in figures are",
        choices=[("", "as we write them"), ("day", "day first"), ("month", "month first")],
        required=False,
    )
    time_column = TextField(
        label="Column of the time",
        required=False,
        max_length=60,
        help_text="Its heading or number, where it is not found.",
    )
    temperature_column = TextField(
        label="Column of the temperature",
        required=False,
        max_length=60,
        help_text="Its heading or number, where there are several.",
    )

    def told(self, day_first: bool) -> Told:
        """What the person tells of the file. Call it on a valid form."""
        said = self.cleaned_data
        order = said["date_order"]
        return Told(
            time_column=said["time_column"],
            temperature_column=said["temperature_column"],
            unit=said["unit"],
            day_first=order == "day" if order else day_first,
            clock=Clock(said["clock"]),
        )
