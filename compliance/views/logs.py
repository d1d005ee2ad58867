"""Lists of the other logs and of complaints, and the page of a complaint."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from brewlog.middleware import BreweryRequest
from brewlog.models import Lot, Vessel
from brewlog.views import events
from brewlog.views.access import READ, needs
from brewlog.views.facts import facts_of
from brewlog.views.links import kind_and_key
from brewlog.views.lists import Column, Filter, Listing, Word, choice, get, link
from brewlog.views.nouns.parts import SINCE, VOIDED, choice_filter, link_filter
from brewlog.views.panels import Panel
from compliance.models import Complaint, Deviation, LogEntry
from compliance.views.plans import GROUP

_HARM = {Complaint.Kind.ILLNESS, Complaint.Kind.INJURY}


def _good_word(entry: Any) -> Word:
    return Word("as it should be", "good") if entry.is_good else Word("not as it should be", "look")


def kind_word(complaint: Any) -> Word:
    tone = "stop" if complaint.kind in _HARM else "plain"
    return Word(complaint.get_kind_display(), tone)


def outcome_word(complaint: Any) -> Word:
    return Word("answered", "plain") if complaint.outcome else Word("open", "look")


LOGS = Listing(
    noun="log",
    path="logs",
    title="Logs",
    group=GROUP,
    queryset=lambda: LogEntry.objects.select_related("vessel", "location", "done_by"),
    columns=(
        events.WHEN,
        Column("log", "Log", choice("log"), "log"),
        Column("subject", "What or who", get("subject"), "subject"),
        Column("what", "Done or found", get("what")),
        Column("agent", "Chemical or method", get("agent"), "agent"),
        Column("value", "Value", get("value_text")),
        Column("good", "Standing", _good_word, "is_good"),
        Column("checked", "Checked by", get("checked_by")),
        events.BY,
        events.NOTE,
    ),
    search=("subject", "what", "agent", "value_text", "checked_by", "note"),
    filters=(
        choice_filter("log", "Log", LogEntry.Log.choices),
        link_filter("vessel", "Vessel", Vessel),
        Filter(
            "good",
            "Standing",
            lambda: [("yes", "as it should be"), ("no", "not as it should be")],
            lambda rows, value: rows.filter(is_good=value == "yes"),
        ),
        SINCE,
        VOIDED,
    ),
    start="log-cleaning",
    empty="Cleaning, sanitiser strength, training, pests, water, maintenance and glass: what an "
    "inspector asks for besides the drink.",
)
COMPLAINTS = Listing(
    noun="complaint",
    path="complaints",
    title="Complaints",
    group=GROUP,
    queryset=lambda: Complaint.objects.select_related("lot", "customer", "done_by"),
    columns=(
        events.WHEN,
        Column("kind", "Kind", kind_word, "kind"),
        Column("lot", "Lot", link("lot"), "lot__code"),
        Column("customer", "Customer", link("customer"), "customer__name"),
        Column("what", "What was said", get("what")),
        Column("state", "Standing", outcome_word),
        Column("outcome", "What came of it", get("outcome")),
        events.BY,
    ),
    search=("lot__code", "customer__name", "said_by", "what", "outcome", "note"),
    sought=("what", "said_by"),
    filters=(
        choice_filter("kind", "Kind", Complaint.Kind.choices),
        Filter(
            "open",
            "Standing",
            lambda: [("yes", "open"), ("no", "answered")],
            lambda rows, value: (
                rows.filter(outcome="") if value == "yes" else rows.exclude(outcome="")
            ),
        ),
        SINCE,
        VOIDED,
    ),
    start="complaint",
    empty="What customers said, about which lot, and what came of it.",
)


@require_safe
@needs(READ)
def complaint(request: BreweryRequest, pk: int) -> HttpResponse:
    """What was said, and the ways on from it: the lot, who else has it, where it came from."""
    rows = Complaint.objects.select_related("lot", "customer", "done_by", "recorded_by")
    found = get_object_or_404(rows, pk=pk)
    deviations = Deviation.objects.live().filter(
        kind=Deviation.Kind.COMPLAINT, lots__lot=found.lot_id, happened_at=found.happened_at
    )
    context = {
        "here": "limits",
        "tab": "complaints",
        "complaint": found,
        "record_key": kind_and_key(found),
        "word": kind_word(found),
        "standing": outcome_word(found),
        "facts": facts_of(found),
        "deviations": list(deviations) if found.lot_id else [],
    }
    return render(request, "compliance/complaint.html", context)


def complaint_url(complaint: Complaint) -> str:
    return reverse("complaint-detail", args=[complaint.pk])


def log_url(entry: LogEntry) -> str:
    return reverse("record-detail", args=kind_and_key(entry))


def lot_complaints(request: BreweryRequest, lot: Lot) -> Panel | None:
    """What customers said of a lot, on its page."""
    found = list(lot.complaints.live().select_related("customer"))  # type: ignore[attr-defined]
    if not found:
        return None
    number = len(found)
    harm = any(each.kind in _HARM for each in found)
    word = Word(f"{number} complaint{'' if number == 1 else 's'}", "stop" if harm else "look")
    return Panel(
        "compliance/_lot_complaints.html", [(each, kind_word(each)) for each in found], (word,)
    )
