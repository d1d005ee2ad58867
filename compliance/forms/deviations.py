"""Forms of deviations: opened, corrected, looked back on."""

from __future__ import annotations

from brewlog.forms.base import EntryForm, EventForm
from brewlog.forms.fields import ChoiceField, NoteField, TextField, YesNoField
from brewlog.models import Calibration, Hold
from compliance.forms.fields import LotsField, PickField, SignedForm
from compliance.models import Deviation, Signature


class DeviationForm(EventForm):
    kind = ChoiceField(label="Kind", choices=Deviation.Kind.choices)
    title = TextField(label="In a few words", max_length=200)
    what_happened = NoteField(label="What happened")
    lots = LotsField(
        label="Lots it touches",
        required=False,
        help_text="Their codes, between commas. Several lots are one deviation.",
    )
    hold = PickField(
        Hold.objects.live().filter(lifted_at__isnull=True).select_related("lot"),
        label="Hold it belongs to",
        required=False,
        gone="That hold is not open. Pick one from the list, or none.",
    )


class DeviationLotsForm(EntryForm):
    deviation = PickField(
        Deviation.objects.live(), label="Deviation", gone="There is no such deviation."
    )
    lots = LotsField(label="Lots it touches too", help_text="Their codes, between commas.")
    reason = NoteField(label="How that was found out")


class CorrectionForm(EventForm, SignedForm):
    meaning = Signature.Meaning.CORRECTION.label
    deviation = PickField(
        Deviation.objects.live(), label="Deviation", gone="There is no such deviation."
    )
    problem_corrected = NoteField(label="How the problem was found and corrected")
    made_less_likely = NoteField(label="How it is made less likely to happen again")
    product_evaluated = NoteField(label="How all affected product was evaluated")
    kept_out = NoteField(label="How unsafe product is kept from being sold")
    plan_reanalysed = YesNoField(label="The hazard plan was looked at again")


def _found_out(calibration: Calibration) -> str:
    return f"{calibration.instrument}, {calibration.when}"


class LookBackForm(EntryForm):
    calibration = PickField(
        Calibration.objects.live()
        .filter(outcome__in=(Calibration.Outcome.OUT, Calibration.Outcome.FAILED))
        .select_related("instrument")
        .order_by("-happened_at"),
        words=_found_out,
        label="Calibration that found it out",
        gone="That calibration did not find the instrument out.",
    )
