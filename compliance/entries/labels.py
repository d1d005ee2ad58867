"""Entries of label stock, printing labels and counting them."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from brewlog.entries.base import Entry
from brewlog.models import Brewery, Lot, User
from brewlog.recording import Refused
from compliance.documents.barcodes import BarcodeError
from compliance.documents.files import usual_paper
from compliance.documents.label_run import packet_of_run
from compliance.documents.labels import label_run
from compliance.domain import labels
from compliance.forms import labels as forms
from compliance.label_stock import LabelError
from compliance.models import LabelRun


def print_labels(*, actor: User, lot: Lot, **fields: Any) -> LabelRun:
    """Record the printing of labels that can be drawn: what does not fit is refused first."""
    stock = usual_paper(Brewery.objects.first())
    run = labels.print_labels(actor=actor, lot=lot, stock=stock, **fields)
    packet = packet_of_run(run, printed_by=actor, printed_at=timezone.now())
    try:
        label_run([packet], sheet=run.geometry, symbol=run.symbol)
    except (LabelError, BarcodeError) as error:
        raise Refused(str(error)) from None
    return run


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
        slug="count-labels",
        title="Count labels",
        form=forms.CountLabelsForm,
        verb=labels.count_labels,
        about="lot",
    ),
)
