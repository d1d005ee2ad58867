"""Rule sets: which bind, what each asks, how two differ, and what switching one on would do."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from brewlog.entries.base import MANAGE
from brewlog.middleware import BreweryRequest
from brewlog.models import Lot
from brewlog.views.access import READ, needs
from brewlog.views.setting_up import Step
from compliance.assessment import Finding, open_lots, what_would_change
from compliance.domain.house_limits import HOUSE_KEY
from compliance.domain.rulesets import compare
from compliance.models import Binding, Limit, RuleSet, Waiver, policy
from compliance.views.wording import (
    applies_to,
    as_found,
    asks,
    consequence_word,
    deadline,
    finding_url,
    reading_word,
    ruleset_url,
    verdict_word,
)

# In setting a new brewery up.
CHOOSE_RULES = Step(
    "bind-rules",
    "Choose the rules that bind you",
    "What your authority and your buyers hold you to: pH, alcohol, temperatures.",
    lambda: Binding.objects.live().count(),
    lambda: reverse("rules"),
    MANAGE,
)


@dataclass(frozen=True)
class Shelf:
    """The rule sets of one jurisdiction."""

    title: str
    rulesets: list[RuleSet]


def _bindings() -> list[Binding]:
    return list(Binding.objects.live().select_related("ruleset").order_by("since", "id"))


@require_safe
@needs(READ)
def rules(request: BreweryRequest) -> HttpResponse:
    """What binds the brewery, and what there is to choose from."""
    bindings = _bindings()
    waivers = Waiver.objects.live().select_related("limit__ruleset").order_by("id")
    context = {
        "here": "limits",
        "tab": "rules",
        "binding_now": [(each, ruleset_url(each.ruleset)) for each in bindings if _current(each)],
        "ended": [(each, ruleset_url(each.ruleset)) for each in bindings if not _current(each)],
        "shelves": _shelves({each.ruleset_id for each in bindings if _current(each)}),
        "waivers": list(waivers),
        "policy": policy(),
        "rulesets": list(RuleSet.objects.live()),
    }
    return render(request, "compliance/rules.html", context)


def _current(binding: Binding) -> bool:
    """In force today, or to come."""
    return binding.until is None or binding.until > timezone.localdate()


def _shelves(bound: set[int]) -> list[Shelf]:
    shelves: dict[str, list[RuleSet]] = {}
    for ruleset in RuleSet.objects.live().prefetch_related("limits"):
        ruleset.binds = ruleset.pk in bound  # type: ignore[attr-defined]
        ruleset.address = ruleset_url(ruleset)  # type: ignore[attr-defined]
        ruleset.unsure = _unsure(ruleset.limits.all())  # type: ignore[attr-defined]
        shelves.setdefault(ruleset.jurisdiction or "Anywhere", []).append(ruleset)
    return [Shelf(title, rulesets) for title, rulesets in shelves.items()]


_SURE = {Limit.Reading.CONFIRMED, Limit.Reading.HOUSE, Limit.Reading.PRACTICE}


def _unsure(limits: Iterable[Limit]) -> int:
    """How many of its values were not read in the source itself."""
    return sum(limit.reading not in _SURE for limit in limits if not limit.is_void)


def _ruleset(key: str, edition: str) -> RuleSet:
    return get_object_or_404(RuleSet.objects.live(), key=key, edition=edition)


@require_safe
@needs(READ)
def ruleset(request: BreweryRequest, key: str, edition: str) -> HttpResponse:
    """One rule set: each limit with its source, reason and what clears it."""
    found = _ruleset(key, edition)
    today = timezone.localdate()
    waived: dict[int, Waiver] = {
        each.limit_id: each
        for each in Waiver.objects.live().filter(limit__ruleset=found).order_by("id")
        if each.holds_on(today)
    }
    bindings = list(found.bindings.live().order_by("id"))  # type: ignore[attr-defined]
    context = {
        "here": "limits",
        "tab": "rules",
        "ruleset": found,
        "limits": [
            {
                "limit": each,
                "asks": asks(each),
                "applies_to": applies_to(each),
                "deadline": deadline(each),
                "read": reading_word(each),
                "consequence": consequence_word(each),
                "waiver": waived.get(each.pk),
                "has_ended": each.effective_until is not None and each.effective_until <= today,
            }
            for each in found.limits.live()
        ],
        "is_house": found.key == HOUSE_KEY,
        "bindings": bindings,
        "open_binding": next((each for each in bindings if each.until is None), None),
        "editions": [
            (each, ruleset_url(each))
            for each in RuleSet.objects.live().filter(key=found.key).exclude(pk=found.pk)
        ],
    }
    return render(request, "compliance/ruleset.html", context)


@require_safe
@needs(READ)
def rules_compare(request: BreweryRequest) -> HttpResponse:
    """What differs between two rule sets, question by question."""
    one, other = _picked(request, "one"), _picked(request, "other")
    context = {
        "here": "limits",
        "tab": "rules",
        "rulesets": list(RuleSet.objects.live()),
        "one": one,
        "other": other,
        "differences": [
            {"title": each.title, "one": _told(each.one), "other": _told(each.other)}
            for each in (compare(one, other) if one and other else ())
        ],
    }
    return render(request, "compliance/rules_compare.html", context)


def _picked(request: BreweryRequest, name: str) -> RuleSet | None:
    key = request.GET.get(name, "")
    if not key:
        return None
    if not key.isdecimal():
        raise Http404("There is no such rule set.")
    return get_object_or_404(RuleSet.objects.live(), pk=key)


def _told(limit: Limit | None) -> list[str]:
    """What a rule set says to the question; nothing where it does not ask it."""
    if limit is None:
        return []
    told = [asks(limit), deadline(limit), limit.get_consequence_display()]
    return [each for each in told if each] + [limit.citation]


@dataclass(frozen=True)
class Preview:
    """What switching a rule set on from a day would do to the lots in the house."""

    ruleset: RuleSet
    since: dt.date
    lots: int
    kept_back: list[Finding]
    other: list[Finding]
    lost: list[Finding]


def preview(found: RuleSet, since: dt.date) -> Preview:
    """Only lots begun on or after the day are held against it."""
    lots: list[Lot] = [
        lot for lot in open_lots() if timezone.localtime(lot.happened_at).date() >= since
    ]
    change = what_would_change(found, lots)
    return Preview(
        found,
        since,
        len(lots),
        [each for each in change.gained if each.is_critical],
        [each for each in change.gained if not each.is_critical],
        list(change.lost),
    )


def listed(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Findings for a short list: what was said, its word, and the page that opens it."""
    return [
        {
            "finding": each,
            "word": verdict_word(each),
            "said": as_found(each),
            "url": finding_url(each),
        }
        for each in findings
    ]
