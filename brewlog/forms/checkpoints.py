"""Forms of readings, laboratory results, estimates and condition checks."""

from __future__ import annotations

from typing import Any

from django import forms

from brewlog.forms.base import EventForm
from brewlog.forms.fields import (
    ChoiceField,
    DayField,
    LotField,
    NamedField,
    NoteField,
    NumberField,
    TemperatureField,
    TextField,
    WholeField,
    YesNoField,
)
from brewlog.forms.uploads import PaperField, PictureField
from brewlog.models import ConditionCheck, Instrument, Location, LotKind, Measurand, Stage
from brewlog.units import UnitError, ask_degrees


class ReadingForm(EventForm):
    lot = LotField(label="Lot", required=False)
    location = NamedField(
        Location, label="Place", required=False, help_text="Instead of a lot: a cooler, a room."
    )
    measurand = ChoiceField(label="Measured", choices=Measurand.choices, initial=Measurand.PH)
    value = TextField(
        label="Reading",
        max_length=30,
        widget=forms.TextInput(attrs={"autocomplete": "off", "inputmode": "decimal"}),
    )
    sample_temperature = TemperatureField(label="Sample temperature", is_cool=True, required=False)
    instrument = NamedField(Instrument, label="Instrument", required=False)
    replicate = WholeField(
        label="Replicate", required=False, least=1, most=99, help_text="Left empty, the next one."
    )
    stage = ChoiceField(
        label="Stage",
        choices=Stage.choices,
        required=False,
        help_text="Left empty, where the lot stands at that time.",
    )

    # What is read beside the jar comes first.
    field_order = ["lot", "value", "measurand", "instrument", "sample_temperature", "when"]
    shown_at_first = 4
    quick = True

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if self.initial.get("lot"):
            # Opened from what is read: the number is the next thing typed.
            self.fields["value"].widget.attrs["autofocus"] = True

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        lot = cleaned.get("lot")
        is_hot = lot is not None and lot.kind in {LotKind.BREW, LotKind.PREPARATION}
        if cleaned.get("measurand") == Measurand.TEMPERATURE and not (is_hot or self.from_sheet):
            degrees = self.fields["sample_temperature"].default_unit  # type: ignore[attr-defined]
            try:
                ask_degrees(cleaned.get("value", ""), degrees)
            except UnitError as error:
                self.add_error("value", str(error))
        return cleaned


class LabResultForm(EventForm):
    lot = LotField(label="Lot")
    measurand = ChoiceField(label="Measured", choices=Measurand.choices, initial=Measurand.ALCOHOL)
    value = TextField(label="Result", max_length=28, help_text="0.42 or < 0.05")
    standard_uncertainty = NumberField(
        label="Standard uncertainty",
        required=False,
        help_text="In the same unit; half of a ± that is given with k = 2.",
    )
    laboratory = TextField(label="Laboratory", max_length=120)
    method = TextField(label="Method", required=False, max_length=120)
    reported_on = DayField(label="Reported on", required=False)
    report_number = TextField(label="Report number", required=False, max_length=60)
    report = PaperField(label="Report")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["when"].label = "Sample taken"


class AlcoholEstimateForm(EventForm):
    lot = LotField(label="Lot")
    value = NumberField(label="Alcohol, % vol", least=0, most=100, places=3)
    standard_uncertainty = NumberField(
        label="Standard uncertainty, % vol", places=3, help_text="More than nothing."
    )
    method = TextField(label="Method", max_length=60)
    inputs = NoteField(label="What went into it", help_text="The readings used, with units.")
    calculation_version = TextField(
        label="Version of the calculation",
        required=False,
        max_length=20,
        help_text="Filled in where it was worked out here.",
    )

    def clean_calculation_version(self) -> str:
        return self.cleaned_data["calculation_version"] or "by hand"


class ConditionForm(EventForm):
    lot = LotField(label="Lot")
    mould = ChoiceField(
        label="Mould",
        choices=ConditionCheck.Mould.choices,
        widget=forms.RadioSelect,
    )
    kahm_yeast = YesNoField(label="Kahm yeast", help_text="A flat white film, not fuzzy.")
    vinegar_eels = YesNoField(label="Vinegar eels")
    flies = YesNoField(label="Flies or larvae")
    smell = TextField(label="Smell", required=False, max_length=120)
    look = TextField(label="Colour and film", required=False, max_length=120)
    taste = TextField(label="Taste", required=False, max_length=120)
    verdict = ChoiceField(
        label="Verdict",
        choices=ConditionCheck.Verdict.choices,
        required=False,
        widget=forms.RadioSelect,
    )
    photo = PictureField(label="Photo")

    # What is told of every jar is tapped; what is seen now and then is folded away.
    field_order = ["lot", "mould", "verdict", "photo", "smell", "look", "taste"]
    shown_at_first = 4
    quick = True

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        # Nothing tapped says nothing: there is no answer for that to be tapped.
        self.fields["mould"].widget.choices = ConditionCheck.Mould.choices
        self.fields["verdict"].widget.choices = ConditionCheck.Verdict.choices
