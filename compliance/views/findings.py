"""What needs a look, by urgency; and one finding opened to its rule, figures and readings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from brewlog.domain.holds import held_for
from brewlog.entries import BY_SLUG
from brewlog.middleware import BreweryRequest
from brewlog.models import CultureLine, CultureLot, Lot, LotKind
from brewlog.trace import descendant_ids
from brewlog.views.access import READ, needs
from brewlog.views.details import Link
from brewlog.views.links import lot_url
from brewlog.views.lists import Column, Linked, Row
from brewlog.views.reader import Words, reader_of
from compliance.assessment import Finding, Urgency, assess_lot
from compliance.domain.keeping import MOST_AT_ONCE
from compliance.domain.watch import decided
from compliance.models import Binding, Limit, RuleSet
from compliance.views.asked import asked_for
from compliance.views.computed import (
    RowFilter,
    download,
    download_query,
    headings,
    narrowed,
    paged,
    shown,
)
from compliance.views.standing import FindingRows, open_findings
from compliance.views.wording import (
    URGENCY,
    applies_to,
    as_found,
    asks,
    deadline,
    evidence_url,
    figures,
    finding_url,
    reading_word,
    ruleset_url,
    verdict_word,
)


class _ToFinding(Linked):
    """A value that leads to the finding opened."""

    @property
    def url(self) -> str:
        return finding_url(self.record)


COLUMNS = (
    Column("what", "What", lambda each: _ToFinding(each.limit.title, each)),
    Column("lot", "Lot", lambda each: Linked(each.lot.code, each.lot)),
    Column("verdict", "Standing", verdict_word),
    Column("text", "What was found", lambda each: as_found(each)),
    Column("limit", "Limit", lambda each: Words(asks(each.limit))),
    Column("since", "Since", lambda each: each.since),
    Column("rules", "Rule set", lambda each: each.limit.ruleset.title),
)

# Under the heading of its limit a row does not repeat what the limit is.
UNDER_A_LIMIT = (
    Column("lot", "Lot", lambda each: Linked(each.lot.code, each.lot)),
    Column("verdict", "Standing", verdict_word),
    Column("text", "What was found", lambda each: as_found(each, _without_limit(each))),
    Column("since", "Since", lambda each: each.since),
    Column("why", "How judged", lambda each: _ToFinding("Why", each)),
)


def _without_limit(found: Finding) -> str:
    return found.text.removesuffix(f"; the limit is {found.limit.comparison}")


@dataclass(frozen=True)
class _Group:
    """What was found against one limit."""

    limit: Limit
    rows: list[Row]

    @property
    def title(self) -> str:
        return self.limit.title

    @property
    def under(self) -> str:
        return f"{asks(self.limit)} · {self.limit.ruleset.title}"


def _of_line(rows: FindingRows, value: str) -> FindingRows:
    cultures = set(CultureLot.objects.filter(line=int(value)).values_list("pk", flat=True))
    return rows.among("lot__pk", descendant_ids(cultures) if cultures else set())


def _lines() -> list[tuple[str, str]]:
    rows = CultureLine.objects.live().order_by("name").values_list("pk", "name")
    return [(str(pk), name) for pk, name in rows]


def _rulesets() -> list[tuple[str, str]]:
    bound = Binding.objects.live().values("ruleset")
    return [(str(each.pk), each.in_full) for each in RuleSet.objects.filter(pk__in=bound)]


FILTERS = (
    RowFilter(
        "urgency",
        "Urgency",
        lambda: [(str(int(urgency)), words) for urgency, words in URGENCY.items()],
        lambda rows, value: rows.among("urgency", {int(value)}),
    ),
    RowFilter("line", "Culture line", _lines, _of_line),
    RowFilter(
        "rules",
        "Rule set",
        _rulesets,
        lambda rows, value: rows.among("limit__ruleset_id", {int(value)}),
    ),
    RowFilter(
        "kind",
        "Kind of lot",
        lambda: list(LotKind.choices),
        lambda rows, value: rows.among("lot__kind", {value}),
    ),
)


@require_safe
@needs(READ)
def findings(request: BreweryRequest) -> HttpResponse:
    """What was found about lots there is still something of, the most urgent first."""
    found = open_findings()
    rows, chosen = narrowed(request, found.rows, FILTERS)
    pages = paged(request, rows)
    context = {
        "here": "limits",
        "tab": "findings",
        "choices": chosen,
        "is_narrowed": any(each.chosen for each in chosen),
        "columns": headings(UNDER_A_LIMIT),
        "groups": _by_urgency(request, pages["page"]),
        "total": len(rows),
        "found": found,
        "most": MOST_AT_ONCE,
        "binds_nothing": not Binding.objects.live().exists(),
        "download_query": download_query(request),
        **pages,
    }
    return render(request, "compliance/findings.html", context)


def _by_urgency(request: BreweryRequest, page: Any) -> list[tuple[str, list[_Group]]]:
    """The page's rows under the words of their urgency, and there under their limit."""
    found: dict[Urgency, dict[Limit, list[Finding]]] = {}
    for each in page:
        found.setdefault(each.urgency, {}).setdefault(each.limit, []).append(each)
    return [
        (
            URGENCY[urgency].capitalize(),
            [_Group(limit, shown(request, UNDER_A_LIMIT, rows)) for limit, rows in limits.items()],
        )
        for urgency, limits in found.items()
    ]


@require_safe
@needs(READ)
def findings_download(request: BreweryRequest, ending: str) -> HttpResponse:
    """The list as it is narrowed, as a file."""
    rows, _ = narrowed(request, open_findings().rows, FILTERS)
    return download(request, "Findings", COLUMNS, rows, ending)


def _check(lot: Lot, limit: Limit) -> Link | None:
    """The entry that would clear it, filled in, leading back to the finding."""
    asked = asked_for(lot, limit)
    if asked is None:
        return None
    back = {"then": reverse("finding-detail", args=[lot.pk, limit.pk])}
    query = urlencode({name: value for name, value in asked.given.items() if value} | back)
    title = asked.title or BY_SLUG[asked.slug].title
    return Link(title, f"{reverse('entry', args=[asked.slug])}?{query}")


@require_safe
@needs(READ)
def finding(request: BreweryRequest, lot: int, limit: int) -> HttpResponse:
    """One lot against one limit, worked out at this moment."""
    about = get_object_or_404(Lot.objects.live(), pk=lot)
    rule = get_object_or_404(Limit.objects.select_related("ruleset"), pk=limit)
    found = next((each for each in assess_lot(about).findings if each.limit.pk == limit), None)
    context = {
        "here": "limits",
        "tab": "findings",
        "lot": about,
        "lot_url": lot_url(about.code),
        "limit": rule,
        "asks": asks(rule),
        "applies_to": applies_to(rule),
        "deadline": deadline(rule),
        "read": reading_word(rule),
        "ruleset_url": ruleset_url(rule.ruleset),
        "finding": found,
        "check": _check(about, rule),
    }
    if found is not None:
        context |= {
            "word": verdict_word(found),
            "said": as_found(found),
            "keeps_back": found.is_critical
            and (not decided(found) or held_for(about, rule.cause) is not None),
            "figures": figures(found, reader_of(request).system),
            "evidence": [(each, evidence_url(each)) for each in found.evidence],
        }
    return render(request, "compliance/finding.html", context)
