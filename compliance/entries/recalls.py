"""Entries of recall questions and drills."""

from __future__ import annotations

from brewlog.entries.base import REVIEW, Entry
from compliance.domain import recalls
from compliance.forms import recalls as forms

ENTRIES = (
    Entry(
        slug="start-recall",
        title="Ask who has it: a drill, or the real thing",
        form=forms.StartRecallForm,
        verb=recalls.start_recall,
        about="lot",
        button="Start the clock",
        caution="In earnest: first stop what is here. Hold the lot, then ask. What has to be "
        "told to whom, and by when, follows your authority's rules; call them early. In a drill "
        "nobody outside is told that it is real.",
    ),
    Entry(
        slug="recall-response",
        title="Write down what a customer said",
        form=forms.ResponseForm,
        verb=recalls.record_response,
        about="run",
        caution="Bottles may be under pressure and burst: they are kept cold and upright, "
        "unopened, until somebody fetches them. Whoever feels unwell sees a doctor.",
    ),
    Entry(
        slug="sign-recall",
        title="Sign who has it",
        form=forms.SignRecallForm,
        verb=recalls.sign_recall,
        permission=REVIEW,
        about="run",
        button="Sign, and stop the clock",
    ),
)
