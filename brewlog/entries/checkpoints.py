"""Entries of readings, laboratory results, estimates and condition checks."""

from __future__ import annotations

from brewlog.domain import checkpoints
from brewlog.entries.base import Entry
from brewlog.forms import checkpoints as forms

ENTRIES = (
    Entry(
        slug="reading",
        title="Take a reading",
        form=forms.ReadingForm,
        verb=checkpoints.record_reading,
        about="lot",
        caution="Take a sample out and let its gas off first; never pour a sample back.",
    ),
    Entry(
        slug="condition",
        title="Look at a culture or batch",
        form=forms.ConditionForm,
        verb=checkpoints.check_condition,
        about="lot",
        caution="Where you see mould, do not taste it or smell it from close by: close the "
        "vessel and keep it apart. Mould holds the lot at once. What was taken out to look at or "
        "to taste never goes back into the vessel.",
    ),
    Entry(
        slug="lab-result",
        title="Record a laboratory result",
        form=forms.LabResultForm,
        verb=checkpoints.record_lab_result,
        about="lot",
    ),
    Entry(
        slug="alcohol-estimate",
        title="Record an alcohol estimate",
        form=forms.AlcoholEstimateForm,
        verb=checkpoints.record_alcohol_estimate,
        about="lot",
        caution="An estimate is never evidence. Whether a drink keeps below an alcohol line is "
        "shown by a laboratory result or a distillation only.",
    ),
)
