"""Forms of the other logs, each with the words of its trade, and of complaints."""

from __future__ import annotations

from typing import Any

from brewlog.forms.base import EntryForm, EventForm
from brewlog.forms.fields import (
    ChoiceField,
    LotField,
    NamedField,
    NoteField,
    TextField,
    YesNoField,
)
from brewlog.forms.uploads import PaperField
from brewlog.models import Customer, Location, Vessel
from compliance.forms.fields import PickField
from compliance.models import Complaint


class _LogForm(EventForm):
    """What every log asks besides: whether all was well. What was done about it is the note."""

    is_good = YesNoField(label="As it should be", initial=True)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["note"].help_text = "What was done about it, where it was not."
        self.fields["is_good"] = self.fields.pop("is_good")
        for name in ("done_by", "note", "reason"):
            if name in self.fields:
                self.fields[name] = self.fields.pop(name)


class CleaningForm(_LogForm):
    vessel = NamedField(Vessel, label="Vessel", required=False)
    subject = TextField(
        label="Or what else",
        required=False,
        max_length=120,
        help_text="A line, a floor, a tool: where it is no vessel.",
    )
    agent = TextField(
        label="Chemical and strength", max_length=120, help_text="Like caustic 2 %, 60 °C."
    )
    what = NoteField(
        label="How", help_text="By hand or pumped, how long, before or after use; rinsed how often."
    )
    value_text = TextField(
        label="Rinse check", required=False, max_length=40, help_text="Like pH 7.2, clear."
    )
    checked_by = TextField(label="Checked by", required=False, max_length=120)


class SanitiserForm(_LogForm):
    vessel = NamedField(Vessel, label="Vessel", required=False)
    subject = TextField(
        label="Or what else", required=False, max_length=120, help_text="A bucket, a line, bottles."
    )
    agent = TextField(label="Sanitiser", max_length=120, help_text="With its lot, as on the can.")
    value_text = TextField(
        label="Strength read",
        max_length=40,
        help_text="As the test strip showed it, like 100 ppm. What is enough stands on its label.",
    )
    what = NoteField(label="Used for, and how long")
    checked_by = TextField(label="Checked by", required=False, max_length=120)


class TrainingForm(_LogForm):
    subject = TextField(label="Who was trained", max_length=120)
    what = NoteField(label="In what")
    checked_by = TextField(label="Trained by", max_length=120)
    document = PaperField(label="Certificate or sheet")


class PestForm(_LogForm):
    location = NamedField(Location, label="Place", required=False)
    subject = TextField(
        label="Trap, or what else", required=False, max_length=120, help_text="Like bait box 3."
    )
    what = NoteField(label="What was found, and done")
    agent = TextField(label="Bait or means", required=False, max_length=120)
    checked_by = TextField(label="Firm or person", required=False, max_length=120)
    document = PaperField(label="Service report")


class WaterForm(_LogForm):
    subject = TextField(label="Source or tap", max_length=120, help_text="Town water, well, tap 2.")
    what = NoteField(label="What was tested", help_text="Like coliforms, nitrate, chlorine.")
    value_text = TextField(label="Result", max_length=40, help_text="With its unit.")
    agent = TextField(label="Laboratory or method", required=False, max_length=120)
    document = PaperField(label="Report")


class MaintenanceForm(_LogForm):
    vessel = NamedField(Vessel, label="Vessel", required=False)
    location = NamedField(Location, label="Place", required=False)
    subject = TextField(label="Machine, lamp or what else", required=False, max_length=120)
    what = NoteField(
        label="What was done or found",
        help_text="Repairs, parts left lying, glass and brittle plastic looked at.",
    )
    checked_by = TextField(label="Checked before use by", required=False, max_length=120)
    document = PaperField(label="Paper")


class OtherLogForm(_LogForm):
    subject = TextField(label="What or who", max_length=120)
    location = NamedField(Location, label="Place", required=False)
    what = NoteField(label="What was done or found")
    value_text = TextField(label="Value", required=False, max_length=40, help_text="With its unit.")
    checked_by = TextField(label="Checked by", required=False, max_length=120)
    document = PaperField(label="Paper")


class ComplaintForm(EventForm):
    kind = ChoiceField(label="Kind", choices=[("", "—"), *Complaint.Kind.choices])
    lot = LotField(
        label="Lot", required=False, help_text="As on the bottle. Left empty while not known."
    )
    customer = NamedField(Customer, label="Bought from or through", required=False)
    said_by = TextField(label="Who said it, and how to reach them", max_length=160)
    what = NoteField(label="What was said")


class OutcomeForm(EntryForm):
    complaint = PickField(
        Complaint.objects.live().select_related("lot"),
        label="Complaint",
        gone="There is no such complaint.",
    )
    outcome = NoteField(label="What came of it")
