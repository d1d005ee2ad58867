"""Entries of instruments and their calibrations."""

from __future__ import annotations

from functools import partial

from brewlog.domain import buffers, instruments, registers
from brewlog.entries.base import Entry, Lines
from brewlog.forms import instruments as forms
from brewlog.models import Instrument

ENTRIES = (
    Entry(
        slug="instrument",
        title="Add an instrument",
        form=forms.InstrumentForm,
        verb=partial(registers.add, model=Instrument),
    ),
    Entry(
        slug="buffer-bottle",
        title="Add a bottle of pH buffer",
        form=forms.BufferBottleForm,
        verb=buffers.add_bottle,
    ),
    Entry(
        slug="calibrate",
        title="Calibrate an instrument",
        form=forms.CalibrateForm,
        verb=instruments.calibrate,
        lines=(
            Lines(
                name="points",
                title="Points: reference, as found, as left, in which bottle",
                form=forms.PointForm,
                build=instruments.Point,
            ),
        ),
        about="instrument",
    ),
    Entry(
        slug="calibration-point",
        title="Add a calibration point",
        form=forms.CalibrationPointForm,
        verb=instruments.add_calibration_point,
        about="instrument",
    ),
)
