"""Forms of the charts of batches side by side."""

from __future__ import annotations

from brewlog.forms.base import EventForm
from brewlog.forms.fields import ChoiceField, LotField, NamedField, NoteField, TextField
from brewlog.models import BatchFigure, LotKind, Recipe, Vessel


class UsualRunForm(EventForm):
    recipe = NamedField(Recipe, label="Recipe")
    figure = ChoiceField(label="Value", choices=BatchFigure.choices)
    first = LotField(
        LotKind.BATCH,
        label="From batch",
        help_text="Choose a run in which nothing changed: the same culture, warmth, meter, hands.",
    )
    last = LotField(
        LotKind.BATCH,
        label="To batch",
        help_text="At least 20 that have the value: with fewer, limits say little.",
    )
    vessel = NamedField(
        Vessel,
        label="Only in vessel",
        required=False,
        help_text="For the chart of that vessel alone.",
    )
    left_out = TextField(
        label="Batches left out",
        required=False,
        max_length=2000,
        help_text="By their codes: those with a known cause, such as a wrong meter. Say it in the "
        "note.",
    )
    looked_into = NoteField(
        label="What was found of those outside",
        required=False,
        help_text="A batch outside the run's own limits, and no cause found: say who looked for "
        "what.",
    )
