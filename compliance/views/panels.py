"""What stands on the pages of the records: on a lot's, and above entry forms."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode

from brewlog.domain.blocks import blocks
from brewlog.domain.holds import open_holds
from brewlog.forms.base import EntryForm
from brewlog.ledger import on_hand
from brewlog.middleware import BreweryRequest
from brewlog.models import Hold, Lot, LotKind
from brewlog.trace import recall
from brewlog.views.details import Link
from brewlog.views.panels import Panel
from brewlog.views.reader import OnHand
from brewlog.when import WhenError, parse_when
from compliance.assessment import Assessment, assess
from compliance.domain.deviations import shipped_under
from compliance.domain.holidays import holidays, working_days_after
from compliance.domain.recall_closing import effect_of
from compliance.domain.recalls import figures_of
from compliance.domain.releases import (
    changed_after_release,
    standing_release,
)
from compliance.domain.rulesets import in_force
from compliance.forms.decisions import DispositionForm
from compliance.models import (
    Deviation,
    Disposition,
    Limit,
    RecallRun,
    Release,
    Review,
    RuleSet,
    policy,
)
from compliance.views.holds import hold_url
from compliance.views.recalls import percent, recall_url
from compliance.views.releases import checklist, release_word
from compliance.views.reviews import exceptions_of
from compliance.views.rules import listed, preview
from compliance.views.wording import ruleset_url, verdict_word

MOST_FINDINGS = 6
_REVIEWED = (LotKind.BATCH, LotKind.BOTTLING, LotKind.CULTURE, LotKind.BREW)


# The page of a lot -------------------------------------------------------------------------


def lot_panel(request: BreweryRequest, lot: Lot) -> Panel | None:
    """What was found, how it stands for review and release, and what went wrong with it."""
    limits = [
        each
        for each in in_force(timezone.localtime(lot.happened_at).date())
        if each.lot_kind in ("", lot.kind)
    ]
    found = assess([lot]) if limits else Assessment(timezone.now(), (), ())
    deviations = [
        (each, each.is_open)
        for each in Deviation.objects.live().filter(lots__lot=lot.pk, lots__voided_at__isnull=True)
    ]
    keeping = _holds_keeping(lot)
    review = _review_state(lot) if lot.kind in _REVIEWED else None
    words = [release_word(lot)] if lot.kind == LotKind.BOTTLING else []
    worst = found.findings[0] if found.findings else None
    if worst is not None:
        words.append(verdict_word(worst))
    if not (limits or found.findings or deviations or keeping or review or words):
        return None
    return Panel(
        "compliance/_lot_panel.html",
        {
            "lot": lot,
            "findings": listed(found.findings),
            "awaited": found.awaited,
            "limits": len(limits),
            "holds": [(hold, hold_url(hold)) for hold in keeping],
            "deviations": deviations,
            "review": review,
            "release": _release_state(lot) if lot.kind == LotKind.BOTTLING else None,
            "links": _links(request, lot),
        },
        tuple(words),
    )


def _holds_keeping(lot: Lot) -> list[Hold]:
    """The open holds that keep the lot back, its own first."""
    sources = {block.because.pk for block in blocks(lot)}
    flowing = Q(lot=lot.pk) | Q(cause__in=Hold.FLOWING)
    held = open_holds().filter(flowing, lot__in=sources) if sources else []
    return sorted(held, key=lambda hold: (hold.lot_id != lot.pk, hold.pk))


def _review_state(lot: Lot) -> dict[str, Any] | None:
    """Until when its records were reviewed, by whom, and since when some wait."""
    last = (
        Review.objects.live()
        .filter(lot=lot.pk)
        .select_related("signature")
        .order_by("-up_to", "-id")
        .first()
    )
    readings = lot.readings.live().order_by("recorded_at")  # type: ignore[attr-defined]
    waiting = readings.filter(recorded_at__gt=last.up_to) if last else readings
    written = list(waiting.values_list("recorded_at", flat=True))
    if not written and last is None:
        return None
    due = _due(written[0]) if written else None
    late = due is not None and timezone.localdate() > due
    return {"last": last, "waiting": len(written), "due": due, "is_late": late}


def _due(oldest: dt.datetime) -> dt.date:
    day = timezone.localtime(oldest).date()
    return working_days_after(day, policy().review_within_days, holidays())


def _release_state(lot: Lot) -> dict[str, Any]:
    standing = standing_release(lot)
    undone = Release.objects.live().filter(lot=lot.pk, undone_by__isnull=False)
    return {
        "word": release_word(lot),
        "standing": standing,
        "changes": len(changed_after_release(lot)),
        "undone": undone.select_related("undone_by").order_by("-id").first(),
    }


def _links(request: BreweryRequest, lot: Lot) -> list[Link]:
    links = []
    if lot.kind == LotKind.BOTTLING:
        links.append(Link("Release check-list", reverse("lot-release", args=[lot.code])))
    if request.user.has_perm("brewlog.review_lots") and lot.kind in _REVIEWED:
        links.append(_entry_link("Review its records", "review", lot=lot.code))
    if request.user.has_perm("brewlog.record_production"):
        links.append(_entry_link("Something went wrong", "deviation", lot=lot.code))
    return links


def _entry_link(title: str, slug: str, **given: Any) -> Link:
    return Link(title, f"{reverse('entry', args=[slug])}?{urlencode(given)}")


# Above entry forms -------------------------------------------------------------------------


def _named_lot(form: EntryForm) -> Lot | None:
    """The lot that is in the form's field by now, if it names one."""
    value = form["lot"].value()
    return Lot.objects.coded(str(value)) if value else None


def _named(form: EntryForm, name: str) -> Any:
    """The record picked in a field by now."""
    key = str(form[name].value() or "")
    rows: Any = form.fields[name]
    return rows.queryset.filter(pk=key).first() if key.isdecimal() else None


def release_panel(request: BreweryRequest, form: EntryForm) -> Panel | None:
    """The check-list of the lot that is about to be released."""
    lot = _named_lot(form)
    if lot is None or lot.kind != LotKind.BOTTLING:
        return None
    return Panel("compliance/_checklist.html", checklist(lot))


def review_panel(request: BreweryRequest, form: EntryForm) -> Panel | None:
    """What is signed for: the lot's readings, and what is out of the ordinary about them."""
    lot = _named_lot(form)
    if lot is None:
        return None
    readings = lot.readings.select_related("instrument", "done_by").order_by("happened_at")  # type: ignore[attr-defined]
    return Panel(
        "compliance/_review_panel.html",
        {
            "lot": lot,
            "readings": list(readings),
            "exceptions": exceptions_of(request.user, lot),
        },
    )


def disposition_panel(request: BreweryRequest, form: EntryForm) -> Panel | None:
    """What the hold is about, what its cause allows, and how much of the lot there is."""
    if not isinstance(form, DispositionForm):
        return None
    hold = form.hold_named()
    if hold is None:
        return None
    lot = _named_lot(form)
    allowed = Disposition.ALLOWED[Hold.Cause(hold.cause)]
    return Panel(
        "compliance/_disposition_panel.html",
        {
            "hold": hold,
            "address": hold_url(hold),
            "allowed": [kind.label for kind in allowed],
            "is_alcohol": hold.cause == Hold.Cause.ALCOHOL,
            "lot": lot,
            "on_hand": OnHand(on_hand([lot.pk])[lot.pk], lot.dimension) if lot else None,
        },
    )


def market_panel(request: BreweryRequest, form: EntryForm) -> Panel | None:
    """How much left, and what the three answers mean."""
    hold = _named(form, "hold")
    if hold is None:
        return None
    return Panel(
        "compliance/_market_panel.html",
        {"hold": hold, "address": hold_url(hold), "shipped": shipped_under(hold)},
    )


def recall_answer_panel(request: BreweryRequest, form: EntryForm) -> Panel | None:
    """Who has what, as it is signed with the answer; with the count typed so far."""
    run: RecallRun | None = _named(form, "run")
    if run is None:
        return None
    typed = str(form["counted"].value() or "")
    counted = int(typed) if typed.isascii() and typed.isdigit() else None
    figures = figures_of(recall(run.lot, since=run.since), counted)
    context = {"run": run, "address": recall_url(run), "figures": figures}
    return Panel(
        "compliance/_recall_answer_panel.html", context | {"accounted": percent(figures.share)}
    )


def closing_panel(request: BreweryRequest, form: EntryForm) -> Panel | None:
    """How well the recall works, as it is signed with the closing."""
    run = _named(form, "run")
    if run is None:
        return None
    context = {"run": run, "address": recall_url(run), "effect": effect_of(run)}
    return Panel("compliance/_closing_panel.html", context)


def correction_panel(request: BreweryRequest, form: EntryForm) -> Panel | None:
    """What happened that is corrected."""
    found = _named(form, "deviation")
    return Panel("compliance/_deviation_panel.html", {"deviation": found}) if found else None


def bind_panel(request: BreweryRequest, form: EntryForm) -> Panel | None:
    """What switching the rule set on from that day would do to the lots in the house."""
    found: RuleSet | None = _named(form, "ruleset")
    if found is None:
        return None
    shown = preview(found, _day(form))
    return Panel(
        "compliance/_bind_panel.html",
        {
            "preview": shown,
            "address": ruleset_url(found),
            "kept_back": listed(shown.kept_back),
            "other": listed(shown.other[:MOST_FINDINGS]),
            "more": max(0, len(shown.other) - MOST_FINDINGS),
        },
    )


def _day(form: EntryForm) -> dt.date:
    """The day in the form, today where it is not one."""
    value = form["since"].value()
    if isinstance(value, dt.date):
        return value
    try:
        return timezone.localtime(parse_when(str(value), True).at).date()
    except WhenError:
        return timezone.localdate()


def limit_panel(request: BreweryRequest, form: EntryForm) -> Panel | None:
    """The limit that is declared not applicable, replaced or ended, with its source."""
    found: Limit | None = _named(form, "limit")
    if found is None:
        return None
    address = ruleset_url(found.ruleset)
    return Panel("compliance/_limit_panel.html", {"limit": found, "address": address})


ENTRY_PANELS = {
    "release": release_panel,
    "review": review_panel,
    "dispose": disposition_panel,
    "decide-market": market_panel,
    "correct-deviation": correction_panel,
    "sign-recall": recall_answer_panel,
    "close-recall": closing_panel,
    "bind-rules": bind_panel,
    "waive": limit_panel,
    "replace-house-limit": limit_panel,
    "end-house-limit": limit_panel,
}
