"""Entries of recall questions and drills."""

from __future__ import annotations

from brewlog.entries.base import REVIEW, Entry
from compliance.domain import recall_closing, recalls
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
    Entry(
        slug="close-recall",
        title="Close a recall",
        form=forms.CloseRecallForm,
        verb=recall_closing.close_recall,
        permission=REVIEW,
        about="run",
        button="Sign, and close it",
        caution="Where an authority takes part, it says when a recall has ended: ask it before "
        "you close this one, and send it the last status report. Bottles still out may burst or "
        "harm: say what is done about them.",
    ),
    Entry(
        slug="reopen-recall",
        title="Open a recall again",
        form=forms.ReopenRecallForm,
        verb=recall_closing.reopen_recall,
        permission=REVIEW,
        about="run",
        button="Sign, and open it again",
        caution="Stop what is here first: hold the lot and keep its bottles apart. Tell your "
        "authority.",
    ),
)
