"""Lists of what waits: for a decision, or for its day."""

from __future__ import annotations

from django.db.models import QuerySet
from django.utils import timezone

from brewlog.models import (
    Hold,
    RetainedBottles,
    ReviewFlag,
)
from brewlog.views import events
from brewlog.views.lists import Column, Filter, Linked, Listing, Word, choice, get
from brewlog.views.nouns.parts import (
    VOIDED,
    WORK,
    choice_filter,
)
from brewlog.views.today.bottles import opening
from brewlog.views.today.lines import days_left

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


class _ToOpening(Linked):
    """The way to the form that says what was found in them."""

    @property
    def url(self) -> str:
        return opening(self.record).url


def _standing(kept: RetainedBottles) -> Word:
    if kept.is_void:
        return Word("voided")
    return Word("opened", "good") if kept.pulled_at else days_left(kept.pull_on)


def _now(kept: RetainedBottles) -> Linked | None:
    return None if kept.pulled_at or kept.is_void else _ToOpening("Open them", kept)


def _of_standing(rows: QuerySet, value: str) -> QuerySet:
    if value == "due":
        return _not_opened(rows).filter(pull_on__lte=timezone.localdate())
    return rows.filter(pulled_at__isnull=False) if value == "opened" else rows


def _not_opened(rows: QuerySet) -> QuerySet:
    return rows.filter(pulled_at__isnull=True)


KEPT_BOTTLES = Listing(
    noun="kept-bottles",
    path="kept-bottles",
    title="Bottles kept back",
    group=WORK,
    queryset=lambda: RetainedBottles.objects.select_related("lot__flavour", "lot__format"),
    columns=(
        Column("pull_on", "Open on", get("pull_on"), "pull_on"),
        events.LOT,
        Column("what", "What", lambda kept: kept.lot.describe()),
        Column("count", "Bottles", get("count"), "count", number=True),
        Column("kept", "Kept", choice("kept"), "kept"),
        Column("standing", "Standing", _standing),
        Column("now", "To do", _now),
        Column("opened", "Opened", get("pulled_at"), "pulled_at"),
        Column("finding", "Found", get("finding")),
    ),
    search=("lot__code", "lot__flavour__name", "finding", "note"),
    filters=(
        Filter(
            "open",
            "Standing",
            lambda: [("due", "to open now"), ("opened", "opened"), ("all", "all")],
            _of_standing,
            unchosen="not opened",
            otherwise=_not_opened,
        ),
        choice_filter("kept", "Kept", RetainedBottles.Kept.choices),
        VOIDED,
    ),
    order="pull_on",
    start="keep-bottles",
    empty="Bottles of a lot kept back, cold or warm, to be opened on a day and looked at.",
)
