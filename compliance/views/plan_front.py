"""The way into the hazard plan and the logs: what is due, what there is to read and to write."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from brewlog.entries import BY_SLUG
from brewlog.middleware import BreweryRequest
from brewlog.views.access import READ, needs
from brewlog.views.lists import Listing, Word
from compliance.domain.reanalysis import standings
from compliance.models import Complaint, HazardPlan, LogEntry
from compliance.views import instruments, loggers, logs, plans

LISTINGS: Sequence[Listing] = (
    plans.PLANS,
    logs.LOGS,
    logs.COMPLAINTS,
    loggers.ROOMS,
    instruments.CALIBRATIONS_DUE,
)
_WRITTEN = (
    *(f"log-{log.value}" for log in LogEntry.Log),
    "complaint",
    "plan",
)


@dataclass(frozen=True)
class Due:
    """Something that waits: what, where, and how pressing in a word."""

    title: str
    url: str
    word: Word


@require_safe
@needs(READ)
def plan_front(request: BreweryRequest) -> HttpResponse:
    """What is due of the plan, the calibrations and the complaints; and the ways on."""
    allowed = [
        BY_SLUG[slug] for slug in _WRITTEN if request.user.has_perm(BY_SLUG[slug].permission)
    ]
    context = {
        "here": "limits",
        "tab": "front",
        "due": [*_plans_due(), *_calibrations_due(), *_complaints_open()],
        "listings": LISTINGS,
        "entries": allowed,
        "logs": LogEntry.Log.choices,
    }
    return render(request, "compliance/plan_front.html", context)


def _plans_due() -> list[Due]:
    rows = list(HazardPlan.objects.live().filter(in_use=True).order_by("name"))
    found = standings(rows)
    return [
        Due(plan.name, plans.plan_url(plan), plans.standing_word(found[plan.pk]))
        for plan in rows
        if found[plan.pk].due or found[plan.pk].version is None
    ]


def _calibrations_due() -> list[Due]:
    rows = instruments.CALIBRATIONS_DUE.queryset()
    overdue = Q(last_due__isnull=True) | Q(last_due__lte=timezone.localdate())
    pressing = rows.filter(overdue | Q(last_outcome="failed")).order_by("last_due", "name")
    return [
        Due(each.name, reverse("instrument-detail", args=[each.pk]), instruments.due_word(each))
        for each in pressing
    ]


def _complaints_open() -> list[Due]:
    rows = Complaint.objects.live().filter(outcome="").select_related("lot").order_by("id")
    return [
        Due(
            f"Complaint: {each.lot or 'lot not known'}",
            logs.complaint_url(each),
            logs.kind_word(each),
        )
        for each in rows
    ]
