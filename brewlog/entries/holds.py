"""Entries of holding, lifting and settling."""

from __future__ import annotations

from brewlog.domain import holds
from brewlog.entries.base import REVIEW, Entry
from brewlog.forms import holds as forms

ENTRIES = (
    Entry(
        slug="hold",
        title="Put a lot on hold",
        form=forms.HoldForm,
        verb=holds.hold,
        permission=REVIEW,
        about="lot",
        button="Hold",
        caution="Mould, failed acidification, foreign matter and allergens hold everything made "
        "from the lot as well.",
    ),
    Entry(
        slug="lift",
        title="Lift a hold",
        form=forms.LiftForm,
        verb=holds.lift,
        permission=REVIEW,
        about="lot",
        button="Lift the hold",
        caution="Mould and failed acidification are not mended by blending, heating or waiting.",
    ),
    Entry(
        slug="settle",
        title="Settle what needs a look",
        form=forms.SettleForm,
        verb=holds.settle_flag,
        permission=REVIEW,
        about="flag",
        button="Settle",
    ),
)
