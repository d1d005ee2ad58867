"""The hazard plan: its list, a plan with its versions, and a version on one page."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from brewlog.entries import BY_SLUG
from brewlog.entries.base import MANAGE, Entry
from brewlog.middleware import BreweryRequest
from brewlog.views import entries
from brewlog.views.access import READ, needs, require
from brewlog.views.details import Section
from brewlog.views.entry_page import EntryPage, prefilled_page
from brewlog.views.events import RecordLink
from brewlog.views.lists import Column, Linked, Listing, Word, get
from brewlog.views.nouns.parts import IN_USE, NOTE, VOIDED
from brewlog.views.offers import offers_for
from brewlog.views.reader import Words, reader_of
from brewlog.views.submissions import new_token
from brewlog.when import on_day
from compliance.documents.files import file_stem
from compliance.documents.plan_packet import collect_plan
from compliance.documents.plan_paper import plan_paper
from compliance.domain.monitoring import control_points_for, monitored
from compliance.domain.plan_contents import CODEX_STEPS, FOOD_CODE_CONTENTS, Heading, missing
from compliance.domain.plans import contents_of, steps_of
from compliance.domain.reanalysis import Standing, standings
from compliance.domain.rulesets import in_force
from compliance.domain.signing import changes_since, is_intact
from compliance.models import HazardPlan, Limit, LimitKind, PlanStep, PlanVersion
from compliance.views.documents import pdf, usual_of

GROUP = "Hazard plan and logs"
PERIODS = (30, 90, 365)
# The form that fills the record of each kind of limit; readings where nothing else is named.
_FORM_FOR = {
    LimitKind.STEP_TEMPERATURE: "step",
    LimitKind.CONDITION: "condition",
    LimitKind.STARTER_SHARE: "pitch",
    LimitKind.PEAK: "lab-result",
    LimitKind.SHELF_LIFE: "lab-result",
    LimitKind.LAB_AGE: "lab-result",
    LimitKind.CALIBRATION: "calibrate",
}
# Forms every plan needs, whatever its limits are.
_ALWAYS = ("receive", "calibrate", "log-cleaning", "log-sanitiser", "log-training", "deviation",
           "correct-deviation", "complaint", "review")  # fmt: skip


# The list --------------------------------------------------------------------------------


def _mark_standing(plans: Sequence[Any]) -> None:
    found = standings(plans)
    for plan in plans:
        plan.standing = found[plan.pk]


def standing_word(standing: Standing) -> Word:
    if standing.version is None:
        return Word("nothing signed", "look")
    return Word("look at it again", "look") if standing.due else Word("in force", "good")


PLANS = Listing(
    noun="plan",
    path="plans",
    title="Hazard plans",
    group=GROUP,
    queryset=lambda: HazardPlan.objects.all(),
    columns=(
        Column("name", "Plan", lambda plan: Linked(plan.name, plan), "name"),
        Column("standing", "Standing", lambda plan: standing_word(plan.standing)),
        Column("version", "In force", lambda plan: _version_link(plan.standing.version)),
        Column("looked", "Last looked at", lambda plan: plan.standing.looked_at),
        Column("by", "Again by", lambda plan: plan.standing.latest),
        NOTE,
    ),
    search=("name", "note"),
    filters=(IN_USE, VOIDED),
    order="name",
    start="plan",
    empty="What can go wrong at each step, and how it is kept from going wrong: one plan for each "
    "kind of product. Begin with the example and adapt it, or write your own.",
    prepare=_mark_standing,
)


def _version_link(version: PlanVersion | None) -> Linked | None:
    return None if version is None else Linked(f"v{version.number}", version)


# A plan ----------------------------------------------------------------------------------


def _versions(plan: HazardPlan) -> list[PlanVersion]:
    rows = plan.versions.select_related("plan", "signature", "recorded_by")  # type: ignore[attr-defined]
    return list(rows.order_by("-number"))


def version_word(version: PlanVersion, in_force_now: PlanVersion | None) -> Word:
    if in_force_now is not None and version.pk == in_force_now.pk:
        return Word("in force", "good")
    if version.is_example:
        return Word("example", "look")
    return Word("replaced") if version.signature_id else Word("draft", "look")


@require_safe
@needs(READ)
def plan(request: BreweryRequest, pk: int) -> HttpResponse:
    """A plan: whether it has to be looked at again, its versions, and who looked."""
    found = get_object_or_404(HazardPlan, pk=pk)
    standing = standings([found])[found.pk]
    versions = _versions(found)
    looks = [
        look
        for version in found.versions.prefetch_related("reanalyses__signature")  # type: ignore[attr-defined]
        for look in version.reanalyses.all()
    ]
    context = {
        "here": "limits",
        "tab": "plans",
        "plan": found,
        "standing": standing,
        "word": standing_word(standing),
        "versions": [(each, version_word(each, standing.version)) for each in versions],
        "newest": versions[0] if versions else None,
        "looks": sorted(looks, key=lambda look: (look.happened_at, look.pk), reverse=True),
        "manages": request.user.has_perm(MANAGE),
    }
    return render(request, "compliance/plan.html", context)


def plan_url(plan: HazardPlan) -> str:
    return reverse("plan-detail", args=[plan.pk])


def version_url(version: PlanVersion) -> str:
    return reverse("plan-version", args=[version.pk])


# A version -------------------------------------------------------------------------------


@dataclass(frozen=True)
class Row:
    """A step on the page: how it is controlled in a word, and its limit with its standing."""

    step: PlanStep
    word: Word
    limit: Limit | None
    limit_word: Word | None


@dataclass(frozen=True)
class Checked:
    """A heading a plan must have, and what is missing of it."""

    heading: Heading
    lacks: str


@require_safe
@needs(READ)
def version(request: BreweryRequest, pk: int) -> HttpResponse:
    """A version whole: product, flow, hazards, controls, forms, and what was recorded."""
    rows = PlanVersion.objects.select_related("plan", "signature")
    found = get_object_or_404(rows, pk=pk)
    steps = steps_of(found)
    standing = standings([found.plan])[found.plan_id]
    binding = {limit.pk for limit in in_force(timezone.localdate())}
    table = [_row(step, binding) for step in steps]
    days = _days(request)
    today = timezone.localdate()
    limited = [step for step in steps if step.limit is not None]
    context = {
        "here": "limits",
        "tab": "plans",
        "version": found,
        "word": version_word(found, standing.version),
        "standing": standing,
        "flow": list(dict.fromkeys(step.step for step in steps)),
        "table": table,
        "limits": _limits(table),
        "codex": [Checked(each, each.lacks(found, steps)) for each in CODEX_STEPS],
        "food_code": [Checked(each, each.lacks(found, steps)) for each in FOOD_CODE_CONTENTS],
        "missing": missing(found, steps),
        "forms": _forms(limited),
        "days": days,
        "periods": PERIODS,
        "monitored": monitored(limited, on_day(today - dt.timedelta(days=days - 1)), on_day(today)),
        "intact": found.signature is None or is_intact(found.signature),
        "changes": changes_since(found.signature, contents_of(found, steps))
        if found.signature
        else [],
        "changeable": found.signature_id is None
        and not found.is_example
        and not found.is_void
        and request.user.has_perm(MANAGE),
        "manages": request.user.has_perm(MANAGE),
    }
    return render(request, "compliance/plan_version.html", context)


def _row(step: PlanStep, binding: set[int]) -> Row:
    tones = {PlanStep.Control.CRITICAL: "stop", PlanStep.Control.OPERATIONAL: "look"}
    word = Word(step.get_control_display(), tones.get(PlanStep.Control(step.control), "plain"))
    if step.limit is None:
        return Row(step, word, None, None)
    binds = step.limit.pk in binding
    limit_word = Word("binds us", "good") if binds else Word("does not bind here", "look")
    return Row(step, word, step.limit, limit_word)


def _limits(table: Iterable[Row]) -> list[Row]:
    """Each limit once, in the order of the flow."""
    first: dict[int, Row] = {}
    for row in table:
        if row.limit is not None:
            first.setdefault(row.limit.pk, row)
    return list(first.values())


def _forms(steps: Iterable[PlanStep]) -> list[Entry]:
    slugs = [_FORM_FOR.get(LimitKind(step.limit.kind), "reading") for step in steps if step.limit]
    return [BY_SLUG[slug] for slug in dict.fromkeys((*slugs, *_ALWAYS)) if slug in BY_SLUG]


def _days(request: BreweryRequest) -> int:
    asked = request.GET.get("days", "")
    return next((days for days in PERIODS if str(days) == asked), PERIODS[0])


@require_safe
@needs(READ)
def plan_pdf(request: BreweryRequest, pk: int) -> HttpResponse:
    """A version of a hazard plan, with its flow diagram and forms to fill in."""
    found = get_object_or_404(PlanVersion.objects.select_related("plan"), pk=pk)
    packet = collect_plan(found, printed_by=request.user, printed_at=timezone.now())
    return pdf(plan_paper(packet, usual_of(request)), f"plan-{file_stem(str(found))}")


# Changing a draft ------------------------------------------------------------------------


@never_cache
def step_change(request: BreweryRequest, pk: int) -> HttpResponse:
    """The form of a step, filled in as it stands. Sent, it is the entry's own page."""
    require(request, MANAGE)
    step = get_object_or_404(PlanStep.objects.live(), pk=pk)
    return _prefilled(request, "plan-step-change", step, {"plan_step": step.pk})


@never_cache
def texts_change(request: BreweryRequest, pk: int) -> HttpResponse:
    """The form of a version's texts, filled in as they stand."""
    require(request, MANAGE)
    found = get_object_or_404(PlanVersion.objects.live(), pk=pk)
    return _prefilled(request, "plan-texts", found, {"version": found.pk})


def _prefilled(
    request: BreweryRequest, slug: str, record: Any, named: dict[str, Any]
) -> HttpResponse:
    entry = BY_SLUG[slug]
    if request.method == "POST":
        return entries.entry(request, slug)
    names = set(entry.form.base_fields) - set(named)
    initial = {name: getattr(record, name) for name in names} | named
    page: EntryPage = prefilled_page(request, entry, initial, {})
    context = {
        "here": "record",
        "page": page,
        "entry": entry,
        "token": new_token(),
        "offers": offers_for(page.all_forms, reader_of(request)),
    }
    return render(request, "brewlog/entry.html", context)


# On the page of a reading ----------------------------------------------------------------

CONTROL_POINTS = Section(
    "Control points it serves",
    (
        Column("step", "Step", lambda step: RecordLink(f"{step.order}. {step.step}", step)),
        Column("hazard", "What can go wrong", get("hazard")),
        Column("control", "Controlled as", lambda step: step.get_control_display()),
        Column("limit", "Limit", lambda step: Words(f"{step.limit.title} {step.limit.comparison}")),
        Column("plan", "Plan", lambda step: str(step.version)),
    ),
    control_points_for,
)
