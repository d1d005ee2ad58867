"""Forms of label stock, printing labels and counting what became of them."""

from __future__ import annotations

from typing import Any

from brewlog.forms.base import EntryForm, EventForm
from brewlog.forms.fields import (
    ChoiceField,
    LotField,
    NamedField,
    NoteField,
    NumberField,
    TextField,
    WholeField,
)
from brewlog.models import LotKind
from compliance.documents.labels import SYMBOLS
from compliance.models import Labelled, LabelSheet

_MANY = 100_000


def _length(label: str, least: int = 0, **options: Any) -> NumberField:
    return NumberField(label=f"{label}, mm", least=least, most=500, **options)


class LabelSheetForm(EntryForm):
    name = TextField(label="Name", max_length=120, help_text="As on the box of labels.")
    paper = ChoiceField(
        label="Paper", choices=LabelSheet.Paper.choices, initial=LabelSheet.Paper.A4
    )
    label_width = _length("Label width", 5)
    label_height = _length("Label height", 5)
    columns = WholeField(label="Labels across", required=False, least=1, most=50, initial=1)
    rows = WholeField(label="Labels down", required=False, least=1, most=50, initial=1)
    left = _length("Left margin", required=False, help_text="From the paper's edge to a label's.")
    top = _length("Top margin", required=False)
    pitch_across = _length(
        "From one label to the next across",
        required=False,
        help_text="From left edge to left edge. Left empty, they touch.",
    )
    pitch_down = _length("From one label to the next down", required=False)
    note = NoteField(label="Note", required=False)


class PrintLabelsForm(EventForm):
    lot = LotField(LotKind.BOTTLING, label="Bottling lot")
    count = WholeField(label="How many", least=1, most=2000)
    what = ChoiceField(label="For", choices=Labelled.choices, initial=Labelled.BOTTLE)
    sheet = NamedField(
        LabelSheet,
        label="Label stock",
        required=False,
        help_text="Left empty, the usual sheet: 2 by 4 on A4, 2 by 3 on Letter.",
    )
    start = WholeField(
        label="First free place on the sheet",
        required=False,
        least=1,
        most=2500,
        help_text="Counted across, then down. Left empty, after the labels printed last on it; "
        "1 for a fresh sheet.",
    )
    symbol = ChoiceField(label="Barcode", choices=SYMBOLS.items(), initial="data_matrix")
    per_case = WholeField(label="Bottles in a case", required=False, least=1, most=_MANY)
    case_gtin = TextField(label="GTIN of the case", required=False, max_length=14)


class PrintedElsewhereForm(EventForm):
    lot = LotField(LotKind.BOTTLING, label="Bottling lot")
    count = WholeField(label="How many", least=1, most=_MANY)
    what = ChoiceField(label="For", choices=Labelled.choices, initial=Labelled.BOTTLE)
    per_case = WholeField(label="Bottles in a case", required=False, least=1, most=_MANY)


class CountLabelsForm(EventForm):
    lot = LotField(LotKind.BOTTLING, label="Bottling lot")
    what = ChoiceField(label="For", choices=Labelled.choices, initial=Labelled.BOTTLE)
    put_on = WholeField(label="Put on", least=0, most=_MANY)
    spoiled = WholeField(label="Spoiled", required=False, least=0, most=_MANY)
    destroyed = WholeField(label="Left over and destroyed", required=False, least=0, most=_MANY)
