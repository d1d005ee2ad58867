"""Entries of the other logs and of complaints."""

from __future__ import annotations

from functools import partial

from brewlog.entries.base import RECORD, REVIEW, Entry
from brewlog.forms.base import EntryForm
from compliance.domain import logs
from compliance.forms import logs as forms
from compliance.models import LogEntry

_L = LogEntry.Log


def _log(log: str, title: str, form: type[EntryForm], about: str = "", caution: str = "") -> Entry:
    return Entry(
        slug=f"log-{log}",
        title=title,
        form=form,
        verb=partial(logs.write_log, log=log),
        permission=RECORD,
        about=about,
        caution=caution,
    )


ENTRIES = (
    _log(
        _L.CLEANING,
        "Write down a cleaning",
        forms.CleaningForm,
        "vessel",
        "Caustic and acid burn: wear gloves and goggles, and never mix them. Never mix chlorine "
        "with acid: the gas poisons.",
    ),
    _log(
        _L.SANITISER,
        "Write down a sanitiser's strength",
        forms.SanitiserForm,
        "vessel",
        "Too weak does not kill, too strong stays in the drink: go by its label.",
    ),
    _log(_L.TRAINING, "Write down a training", forms.TrainingForm),
    _log(_L.PEST, "Write down pest control", forms.PestForm, "location"),
    _log(_L.WATER, "Write down a water test", forms.WaterForm),
    _log(
        _L.MAINTENANCE,
        "Write down maintenance or a glass check",
        forms.MaintenanceForm,
        "vessel",
        "Before anyone works on a machine it is switched off and locked. Tanks that held drink "
        "can hold carbon dioxide: air them, and never go in alone.",
    ),
    _log(_L.OTHER, "Write in another log", forms.OtherLogForm, "location"),
    Entry(
        slug="complaint",
        title="Write down a complaint",
        form=forms.ComplaintForm,
        verb=logs.record_complaint,
        about="lot",
        caution="If someone is ill or hurt, their doctor comes first. Ask them to keep the bottle "
        "cold and closed; a bottle under pressure is not opened or carried about. Your authority "
        "may ask to be told.",
    ),
    Entry(
        slug="complaint-outcome",
        title="Write what came of a complaint",
        form=forms.OutcomeForm,
        verb=logs.note_outcome,
        permission=REVIEW,
        about="complaint",
    ),
)
