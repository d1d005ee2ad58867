"""The sheet of the charts of batches side by side."""

from __future__ import annotations

from brewlog.domain import usual
from brewlog.forms import charts as forms
from brewlog.importing.sheet import Sheet

SHEETS = (
    Sheet(
        name="Usual runs",
        help="A run of batches that what is usual on a chart is taken from.",
        form=forms.UsualRunForm,
        verb=usual.fix_usual,
        key=("recipe", "figure", "first", "last"),
        when="when",
        closes=True,
    ),
)
