"""Lists of what waits for a decision."""

from __future__ import annotations

from brewlog.models import (
    Hold,
    ReviewFlag,
)
from brewlog.views import events
from brewlog.views.lists import Filter, Listing
from brewlog.views.nouns.parts import (
    VOIDED,
    WORK,
    choice_filter,
)

HOLDS = Listing(
    noun="hold",
    path="holds",
    title="Holds",
    group=WORK,
    queryset=lambda: Hold.objects.select_related("lot", "done_by"),
    columns=(events.HOLD_COLUMNS[0], events.LOT, *events.HOLD_COLUMNS[1:]),
    search=("lot__code", "reason", "lift_reason"),
    filters=(
        Filter(
            "open",
            "Standing",
            lambda: [("yes", "held"), ("no", "lifted")],
            lambda rows, value: rows.filter(lifted_at__isnull=value == "yes"),
        ),
        choice_filter("cause", "Cause", Hold.Cause.choices),
        VOIDED,
    ),
    start="hold",
    empty="Nothing is on hold.",
)
FLAGS = Listing(
    noun="flag",
    path="needs-a-look",
    title="Needs a look",
    group=WORK,
    queryset=lambda: ReviewFlag.objects.select_related("lot"),
    columns=(events.FLAG_COLUMNS[0], events.LOT, *events.FLAG_COLUMNS[1:]),
    search=("lot__code", "text", "settled_note"),
    filters=(
        Filter(
            "open",
            "Standing",
            lambda: [("yes", "needs a look"), ("no", "settled")],
            lambda rows, value: rows.filter(settled_at__isnull=value == "yes"),
        ),
        choice_filter("kind", "Kind", ReviewFlag.Kind.choices),
        VOIDED,
    ),
    empty="Nothing waits for a reviewer.",
)
