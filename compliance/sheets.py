"""Sheets of what compliance keeps as plain records: label stock, printed and counted labels,
holidays.

What is decided and signed (reviews, releases, the closing of a recall and its opening again) is not
read from a sheet: a signature is a person's, with a password.
"""

from __future__ import annotations

import datetime as dt

from brewlog.forms.base import EntryForm
from brewlog.forms.fields import DayField, TextField
from brewlog.forms.sheets import register_row
from brewlog.importing.references import Naming
from brewlog.importing.sheet import Sheet
from brewlog.models import User
from compliance.domain import labels
from compliance.domain.holidays import DayOff, keep_holidays
from compliance.forms.labels import CountLabelsForm, LabelSheetForm, PrintedElsewhereForm
from compliance.models import Holiday


class HolidayRowForm(EntryForm):
    day = DayField(label="Day")
    name = TextField(label="Name", max_length=120)


def keep_holiday(*, actor: User, day: dt.date, name: str) -> Holiday:
    """One day on which nobody works."""
    [found] = keep_holidays(actor=actor, days=[DayOff(day, name)])
    return found


SHEETS = (
    Sheet(
        name="Holidays",
        help="Days on which nobody works, besides Saturdays and Sundays.",
        form=HolidayRowForm,
        verb=keep_holiday,
        key=("day",),
    ),
    Sheet(
        name="Label stock",
        help="The brewery's own sheets and rolls of labels, by their measures.",
        form=register_row(LabelSheetForm),
        verb=labels.add_sheet,
        key=("name",),
        gives=(Naming("labelsheet", "{name}"),),
    ),
    Sheet(
        name="Labels printed",
        help="Labels of a lot that were printed before this record was kept, or elsewhere. What "
        "they said is not kept.",
        form=PrintedElsewhereForm,
        verb=labels.printed_elsewhere,
        key=("lot", "what", "when"),
        when="when",
        numbered=True,
    ),
    Sheet(
        name="Label counts",
        help="What became of a lot's labels: put on, spoiled, or left over and destroyed.",
        form=CountLabelsForm,
        verb=labels.count_labels,
        key=("lot", "what", "when"),
        when="when",
        numbered=True,
    ),
)
