"""Entries of label stock, printing labels and counting them."""

from __future__ import annotations

from typing import Any

from brewlog.entries.base import Entry
from brewlog.models import Brewery, Lot, User
from compliance.documents.files import usual_paper
from compliance.domain import labels
from compliance.forms import labels as forms
from compliance.models import LabelRun


def print_labels(*, actor: User, lot: Lot, **fields: Any) -> LabelRun:
    """On the brewery's own stock, or else on what its country uses."""
    stock = usual_paper(Brewery.objects.first())
    return labels.print_labels(actor=actor, lot=lot, stock=stock, **fields)


ENTRIES = (
    Entry(
        slug="label-sheet",
        title="Add label stock",
        form=forms.LabelSheetForm,
        verb=labels.add_sheet,
    ),
    Entry(
        slug="print-labels",
        title="Print labels",
        form=forms.PrintLabelsForm,
        verb=print_labels,
        about="lot",
        button="Print them",
        caution="Clear the last flavour's labels from the line first, and keep the first and the "
        "last of these. The PDF is on the next page: print it at its own size, not fitted.",
    ),
    Entry(
        slug="labels-elsewhere",
        title="Write down labels printed elsewhere",
        form=forms.PrintedElsewhereForm,
        verb=labels.printed_elsewhere,
        about="lot",
        caution="Only labels that bear this lot's code: put the printing house and its order in "
        "the note. What they say is not kept here, so keep one of them with the papers.",
    ),
    Entry(
        slug="count-labels",
        title="Count labels",
        form=forms.CountLabelsForm,
        verb=labels.count_labels,
        about="lot",
    ),
)
