"""Entries of the charts of batches side by side."""

from __future__ import annotations

from brewlog.domain import usual
from brewlog.entries.base import MANAGE, Entry
from brewlog.forms import charts as forms

ENTRIES = (
    Entry(
        slug="fix-usual",
        title="Fix what is usual on a chart",
        form=forms.UsualRunForm,
        verb=usual.fix_usual,
        permission=MANAGE,
        about="recipe",
        button="Fix it",
        caution="What is usual is not what is allowed or safe: limits that bind are kept with "
        "their sources, and nothing is kept back by this.",
    ),
)
