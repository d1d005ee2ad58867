"""Entries of deviations, of held lots, and of bottles that left."""

from __future__ import annotations

from brewlog.domain import holds
from brewlog.entries.base import REVIEW, Entry
from compliance.domain import deviations
from compliance.forms import decisions as forms
from compliance.forms import deviations as deviation_forms

ENTRIES = (
    Entry(
        slug="deviation",
        title="Write down that something went wrong",
        form=deviation_forms.DeviationForm,
        verb=deviations.open_deviation,
        about="lots",
        button="Open the deviation",
    ),
    Entry(
        slug="deviation-lots",
        title="Add lots to a deviation",
        form=deviation_forms.DeviationLotsForm,
        verb=deviations.add_lots,
        about="deviation",
        button="Add them",
    ),
    Entry(
        slug="look-back",
        title="Look back over an instrument's readings",
        form=deviation_forms.LookBackForm,
        verb=deviations.open_look_back,
        button="Open the look-back",
        caution="Every reading since the last good calibration, and every lot that leaned on "
        "it, go into one deviation. The readings stay as they were written.",
    ),
    Entry(
        slug="correct-deviation",
        title="Write the corrective action",
        form=deviation_forms.CorrectionForm,
        verb=deviations.correct_deviation,
        permission=REVIEW,
        about="deviation",
        button="Sign and close the deviation",
    ),
    Entry(
        slug="dispose",
        title="Decide what we do with a held lot",
        form=forms.DispositionForm,
        verb=deviations.dispose,
        permission=REVIEW,
        about="lot",
        button="Sign and carry it out",
    ),
    Entry(
        slug="end-hold",
        title="End a hold at one lot",
        form=forms.EndHoldForm,
        verb=holds.end_hold_at,
        permission=REVIEW,
        about="lot",
        button="End it there",
        caution="The lot, and what is made from it, go on. The hold stays on all others.",
    ),
    Entry(
        slug="decide-market",
        title="Decide about bottles that left",
        form=forms.MarketDecisionForm,
        verb=deviations.decide_market,
        permission=REVIEW,
        about="hold",
        button="Sign the decision",
        caution="Whom to tell, and by when, follows your authority's rules: they come first, "
        "and some ask within a day.",
    ),
)
