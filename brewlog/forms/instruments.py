"""Forms of instruments and their calibrations."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from brewlog.domain.buffers import NewBottle
from brewlog.forms.base import EntryForm, EventForm
from brewlog.forms.fields import (
    ChoiceField,
    DayField,
    NamedField,
    NoteField,
    NumberField,
    TextField,
    WhenField,
    WholeField,
)
from brewlog.models import BufferBottle, Calibration, Instrument, Supplier
from brewlog.units import parse_number
from brewlog.when import WhenError, parse_when

_NEW_BOTTLE = re.compile(
    r"(?:pH )?(?P<ph>\d{1,2}[.,]\d{1,2}),? lot (?P<lot>[^ ,;]+)[,;]? until (?P<day>.+)",
    re.IGNORECASE,
)


class InstrumentForm(EntryForm):
    name = TextField(label="Name", max_length=120)
    kind = ChoiceField(label="Kind", choices=Instrument.Kind.choices)
    serial = TextField(label="Serial number", required=False, max_length=60)
    resolution = NumberField(label="Smallest step shown", required=False, least=0, places=5)
    accuracy = NumberField(
        label="Stated accuracy, ±",
        required=False,
        least=0,
        places=5,
        help_text="From its papers, in the unit below.",
    )
    unit = TextField(label="Unit", required=False, max_length=12, help_text="pH, °C, g")
    calibrate_every_days = WholeField(
        label="Calibrate every, days", required=False, least=1, most=3660
    )
    note = NoteField(label="Note", required=False)


class CalibrateForm(EventForm):
    instrument = NamedField(Instrument, label="Instrument")
    outcome = ChoiceField(label="Outcome", choices=Calibration.Outcome.choices)
    slope_percent = NumberField(label="Slope, %", required=False, least=0, most=150, places=1)
    offset_mv = NumberField(label="Offset, mV", required=False, least=-500, most=500, places=1)
    buffers = TextField(
        label="Buffers or references",
        required=False,
        max_length=160,
        help_text="Ice water, a weight: what is no bottle of buffer. Those stand below.",
    )
    due_on = DayField(
        label="Next due", required=False, help_text="Left empty, after the usual interval."
    )


class BufferBottleForm(EntryForm):
    name = TextField(label="Name", max_length=120, help_text="As you call it: pH 4.01 lot BF-3321")
    nominal_ph = NumberField(label="Nominal pH (25 °C)", least=0, most=14, places=2)
    expires_on = DayField(
        label="Good until", help_text="Its date, or sooner where it says how long once opened."
    )
    maker_lot = TextField(label="Its maker's lot", required=False, max_length=60)
    supplier = NamedField(Supplier, label="Supplier", required=False)
    opened_on = DayField(label="Opened", required=False)
    note = NoteField(label="Note", required=False)


class BottleField(NamedField):
    """A bottle on the shelf by its name; or a new one, by its pH, lot and date."""

    widget = forms.TextInput(attrs={"autocomplete": "off"})
    day_first = True

    def __init__(self, **options: Any) -> None:
        super().__init__(BufferBottle, **options)

    def to_python(self, value: Any) -> Any:
        text = " ".join(str(value or "").split())
        new = _NEW_BOTTLE.fullmatch(text)
        if new is None:
            return self._on_the_shelf(text)
        on_the_shelf = self.model._default_manager.filter(
            voided_at__isnull=True, nominal_ph=parse_number(new["ph"]), maker_lot__iexact=new["lot"]
        ).first()
        return on_the_shelf or NewBottle(parse_number(new["ph"]), new["lot"], self._day(new))

    def _on_the_shelf(self, text: str) -> Any:
        try:
            return super().to_python(text)
        except ValidationError as error:
            hint = "A new one is written like: 4.01 lot BF-3321 until 2026-12-31."
            raise ValidationError(f"{' '.join(error.messages)} {hint}") from None

    def _day(self, new: re.Match[str]) -> dt.date:
        try:
            return timezone.localtime(parse_when(new["day"], self.day_first).at).date()
        except WhenError as error:
            raise ValidationError(str(error)) from None


class PointForm(EntryForm):
    reference = NumberField(label="Reference value")
    found = NumberField(label="As found")
    left = NumberField(label="As left", required=False)
    bottle = BottleField(
        label="Buffer bottle",
        required=False,
        help_text="From the shelf, or a new one: 4.01 lot BF-3321 until 2026-12-31",
    )


class CalibrationPointForm(PointForm):
    """A row of the points sheet: it names its calibration by instrument and time."""

    instrument = NamedField(Instrument, label="Instrument")
    when = WhenField(label="When")

    field_order = ["instrument", "when", "reference", "found", "left", "bottle"]
