"""Forms of instruments and their calibrations."""

from __future__ import annotations

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
from brewlog.models import Calibration, Instrument


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
        help_text="Which, with lot and expiry.",
    )
    due_on = DayField(
        label="Next due", required=False, help_text="Left empty, after the usual interval."
    )


class PointForm(EntryForm):
    reference = NumberField(label="Reference value")
    found = NumberField(label="As found")
    left = NumberField(label="As left", required=False)


class CalibrationPointForm(PointForm):
    """A row of the points sheet: it names its calibration by instrument and time."""

    instrument = NamedField(Instrument, label="Instrument")
    when = WhenField(label="When")

    field_order = ["instrument", "when", "reference", "found", "left"]
