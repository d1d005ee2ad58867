"""Entries of review and release."""

from __future__ import annotations

from brewlog.entries.base import REVIEW, Entry
from compliance.domain import releases
from compliance.forms import reviews as forms

ENTRIES = (
    Entry(
        slug="review",
        title="Review a lot's records",
        form=forms.ReviewForm,
        verb=releases.review,
        permission=REVIEW,
        about="lot",
        button="Sign the review",
    ),
    Entry(
        slug="release",
        title="Release bottles for sale",
        form=forms.ReleaseForm,
        verb=releases.release,
        permission=REVIEW,
        about="lot",
        button="Sign the release",
    ),
    Entry(
        slug="take-back-release",
        title="Take a release back",
        form=forms.TakeBackForm,
        verb=releases.take_back_release,
        permission=REVIEW,
        about="lot",
        button="Sign, and take it back",
        caution="The release stays on record beside this. Bottles that left already need a hold "
        "and a decision of their own.",
    ),
)
