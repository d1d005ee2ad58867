"""Where the limits, review and release join the records: called once, when the apps are ready."""

from __future__ import annotations

from django.urls import reverse

from brewlog import entries
from brewlog.domain import asking, course_limits, looking
from brewlog.importing import sheets
from brewlog.management import measuring
from brewlog.models import Hold, Lot, User
from brewlog.views import (
    corrections,
    judged,
    links,
    lot_history,
    nouns,
    panels,
    plant,
    setting_up,
    today,
    work,
)
from brewlog.views.bottling_day import day
from compliance import models
from compliance.assessment import Finding
from compliance.domain.keeping import catch_up
from compliance.domain.mistyped import clear_mistyped
from compliance.domain.watch import critical_blocks, watch, watch_patiently
from compliance.entries import ENTRIES
from compliance.joining_papers import join_papers
from compliance.joining_plans import join_plans
from compliance.management.measuring import questions
from compliance.sheets import SHEETS
from compliance.views.bottling_day import label_steps, next_checks
from compliance.views.deviations import DEVIATIONS, deviation_url
from compliance.views.held_to import held_to
from compliance.views.holds import hold_url
from compliance.views.holidays import HOLIDAYS
from compliance.views.limit_lines import limit_lines
from compliance.views.lot_history import OF_LOTS
from compliance.views.panels import ENTRY_PANELS, lot_panel
from compliance.views.readings import judge, limits_of
from compliance.views.recall_papers import PACKET_LINKS
from compliance.views.recalls import RECALLS, recall_url, start_link
from compliance.views.rules import CHOOSE_RULES
from compliance.views.today import KINDS as TODAY
from compliance.views.today import checks_coming
from compliance.views.verdicts import lot_verdicts, standing_as
from compliance.views.wording import ruleset_url

# What is opened from the page of what it is about, and means nothing without it.
_FROM_ITS_PAGE = {
    "correct-deviation",
    "deviation-lots",
    "dispose",
    "end-hold",
    "decide-market",
    "take-back-release",
    "bind-rules",
    "read-rules",
    "end-rules",
    "waive",
    "replace-house-limit",
    "end-house-limit",
    "recall-response",
    "sign-recall",
    "close-recall",
    "reopen-recall",
}
_WORK = work.WorkGroup(
    "Limits, review and release",
    (
        "deviation",
        "look-back",
        "review",
        "release",
        "start-recall",
        "house-limit",
        "policy",
        "holidays",
    ),
)
# Signed, or what lots were judged by: undone by a new act, never struck out.
_NOT_VOIDED = {
    models.Binding,
    models.CorrectiveAction,
    models.Disposition,
    models.Limit,
    models.MarketDecision,
    models.Policy,
    models.RecallClosing,
    models.Release,
    models.Review,
    models.RuleSet,
    models.Signature,
    models.Waiver,
}


def look(actor: User, touched: list[Lot] | None) -> list[str]:
    """Keep back at once what a critical limit says, let go what a slip had kept back, and tell
    the person so."""
    if not models.Binding.objects.live().exists():
        return []
    cleared = [
        f"{hold.lot} is not kept back for that any more: what it was held for is voided. "
        "Measure a second sample now."
        for hold in clear_mistyped(touched or (), actor)
    ]
    waiting: list[Finding] = []
    if touched is None:
        # Sheets hold all there is to write; a person writes one thing after the other.
        holds = watch(actor=actor)
    else:
        holds, waiting = watch_patiently(touched, actor=actor)
    held = [f"{hold.lot} is kept back. {hold.reason}. A reviewer decides." for hold in holds]
    held += [
        f"{each.lot}, by what is written so far: {each.limit.title}: {each.text}. Write down its "
        "further readings: it is kept back until they show otherwise, and held from tomorrow."
        for each in waiting
    ]
    catch_up()
    return cleared + held


def join() -> None:
    """Add everything to the lists that the records ask."""
    asking.FURTHER_BLOCKS.append(critical_blocks)
    looking.LOOKS.append(look)
    course_limits.LIMITS_OF.append(limit_lines)
    measuring.FURTHER_QUESTIONS.append(questions)
    entries.add_entries(ENTRIES)
    sheets.add_sheets(SHEETS)
    setting_up.STEPS.insert(1, CHOOSE_RULES)
    work.FURTHER_WORK.append(_WORK)
    work.NOT_LISTED.update(_FROM_ITS_PAGE)
    panels.NAV_LINKS.append(panels.NavLink("Limits", "findings", "limits"))
    handed = panels.NavLink("Records to hand over", "hand-over-index", "records")
    panels.RECORDS_LINKS.append(handed)
    today.FURTHER_KINDS.extend(TODAY)
    day.FURTHER_CHECKS.append(next_checks)
    plant.CHECKS_COMING.append(checks_coming)
    day.FURTHER_STEPS.append(label_steps)
    panels.LOT_PANELS.append(lot_panel)
    judged.JUDGES.append(judge)
    judged.LIMITS.append(limits_of)
    judged.HELD_TO.append(held_to)
    judged.STANDINGS.append(lot_verdicts)
    judged.NARROWINGS.append(standing_as)
    lot_history.OF_LOTS.extend(OF_LOTS)
    nouns.FURTHER_LISTINGS.extend([DEVIATIONS, RECALLS, HOLIDAYS])
    panels.RECALL_LINKS.extend([start_link, *PACKET_LINKS])
    panels.ENTRY_PANELS.update(ENTRY_PANELS)
    corrections.NOT_VOIDED.update(_NOT_VOIDED)
    corrections.CORRECTABLE.update(
        {
            models.RecallRun: ("question", "note"),
            models.RecallResponse: ("when", "spoke_with", "told_on", "note"),
        }
    )
    corrections.CORRECTABLE[models.Holiday] = ("day", "name")
    corrections.BY_MANAGERS.add(models.Holiday)
    corrections.BY_REVIEWERS.update({models.Deviation, models.DeviationLot})
    links.FURTHER_PAGES.update(
        {
            Hold: hold_url,
            models.Deviation: deviation_url,
            models.DeviationLot: lambda each: deviation_url(each.deviation),
            models.CorrectiveAction: lambda each: deviation_url(each.deviation),
            models.Disposition: lambda each: hold_url(each.hold),
            models.MarketDecision: lambda each: hold_url(each.hold),
            models.Binding: lambda each: ruleset_url(each.ruleset),
            models.Limit: lambda each: ruleset_url(each.ruleset),
            models.Waiver: lambda each: ruleset_url(each.limit.ruleset),
            models.RuleSet: ruleset_url,
            models.Holiday: lambda each: reverse("holiday-list"),
            models.Policy: lambda each: reverse("rules"),
            models.RecallRun: recall_url,
            models.RecallClosing: lambda each: recall_url(each.run),
            models.RecallResponse: lambda each: recall_url(each.run),
            models.Release: lambda each: reverse("lot-release", args=[each.lot.code]),
            models.Signature: lambda each: reverse("signature", args=[each.pk]),
        }
    )
    join_plans()
    join_papers()
