"""The start page's lines about limits, holds, reviews, releases and calibrations."""

from __future__ import annotations

import datetime as dt
from typing import Any
from weakref import WeakKeyDictionary

from django.db.models import Exists, OuterRef, Q, QuerySet, Sum
from django.utils import timezone

from brewlog.domain.holds import open_holds, reach_of
from brewlog.entries.base import REVIEW
from brewlog.ledger import ids_in, on_hand, with_on_hand
from brewlog.middleware import BreweryRequest
from brewlog.models import BottlingLot, Hold, Lot, Measurand, ShipmentLine
from brewlog.views.lists import Linked, Word
from brewlog.views.standing import kept_back
from brewlog.views.today.lines import (
    Consequence,
    Form,
    Kind,
    Line,
    days_left,
    days_since,
    entry_form,
    time_left,
)
from brewlog.when import on_day
from compliance.assessment import Awaited, Finding, Urgency
from compliance.decision import Verdict
from compliance.models import (
    CorrectiveAction,
    Deviation,
    DeviationLot,
    Disposition,
    Limit,
    LimitKind,
    MarketDecision,
    Release,
    policy,
)
from compliance.views.instruments import due_by, due_word
from compliance.views.standing import OpenFindings, checks_awaited, due_reviews, open_findings
from compliance.views.wording import finding_url, sentence, verdict_word

# Told so long before the day.
_NEAR = dt.timedelta(days=3)
# Findings looked through for the page; the list of findings has all of them.
_MOST = 300


class _ToFinding(Linked):
    """The lot of a finding, leading to the finding opened."""

    @property
    def url(self) -> str:
        return finding_url(self.record)


_of_request: WeakKeyDictionary[BreweryRequest, OpenFindings] = WeakKeyDictionary()


def _open(request: BreweryRequest) -> OpenFindings:
    """The open lots against their limits: one look serves all the lines of a page."""
    if request not in _of_request:
        _of_request[request] = open_findings()
    return _of_request[request]


def _found(request: BreweryRequest, urgency: Urgency) -> list[Finding]:
    """The most pressing few hundred findings of an urgency that nobody answered yet."""
    return _unanswered(_open(request).rows.among("urgency", {urgency})[0:_MOST])


# Limits --------------------------------------------------------------------------------------


_WITH_A_CLOCK = {LimitKind.BY_DEADLINE, LimitKind.PRESENCE}
_BY_A_LABORATORY = {LimitKind.SHELF_LIFE, LimitKind.LAB_AGE}
# A finding of these is not cleared by one more reading.
_NOT_READ = {
    LimitKind.STARTER_SHARE,
    LimitKind.GENERATION,
    LimitKind.CULTURE_AGE,
    LimitKind.LABEL,
    LimitKind.PLACE_TEMPERATURE,
}


def _check(lot: Lot, limit: Limit) -> Form | None:
    """The form of the check a limit asks for; None where no check clears it."""
    if limit.kind == LimitKind.CONDITION:
        return entry_form("condition", lot=lot.code)
    if limit.kind == LimitKind.STEP_TEMPERATURE:
        return entry_form("step", lot=lot.code, kind=limit.step)
    if limit.kind == LimitKind.BALANCE:
        return entry_form("count", lot=lot.code)
    if limit.kind in _BY_A_LABORATORY or limit.measurand == Measurand.ALCOHOL:
        return entry_form("lab-result", "Write the result", lot=lot.code, measurand=limit.measurand)
    if limit.kind in _NOT_READ:
        return None
    return entry_form("reading", lot=lot.code, measurand=limit.measurand, stage=limit.stage)


def _write_down(finding: Finding) -> Form:
    """What cannot be checked any more is written down as a deviation, and corrected."""
    return entry_form(
        "deviation",
        "Write down what happened",
        lots=finding.lot.code,
        title=finding.limit.title,
        what_happened=sentence(finding.text),
    )


def _never_read(finding: Finding) -> bool:
    """Whether a deadline passed and nothing was read since, so that reading it still helps."""
    late = [each for each in finding.evidence if each.at >= finding.since.at]
    return finding.limit.kind in _WITH_A_CLOCK and not late


def checks_due(request: BreweryRequest) -> list[Line]:
    """Checks that limits ask for: those missed and still not taken, then those to come."""
    overdue = [
        Line(
            time_left(each.since.at),
            _ToFinding(each.lot.code, each),
            f"{each.limit.title}: {each.text}.",
            _check(each.lot, each.limit),
        )
        for each in _found(request, Urgency.CLOSE)
        if _never_read(each)
    ]
    soon = [awaited_line(each) for each in checks_awaited(_open(request), timezone.now() + _NEAR)]
    return overdue + soon


def awaited_line(awaited: Awaited) -> Line:
    """A check a limit waits for, with the form for it."""
    return Line(
        time_left(awaited.due),
        Linked(awaited.lot.code, awaited.lot),
        f"{sentence(awaited.text)}{_asked(awaited.limit)}.",
        _check(awaited.lot, awaited.limit),
    )


def _asked(limit: Limit) -> str:
    return f", {limit.comparison}" if limit.comparison else ""


def outside(request: BreweryRequest) -> list[Line]:
    """Outside a critical limit, and no hold says so yet."""
    return [
        Line(
            verdict_word(each),
            _ToFinding(each.lot.code, each),
            f"{each.limit.title}: {each.text}. Keep it apart; nobody uses or sends it.",
            entry_form("hold", lot=each.lot.code, cause=each.limit.cause, why=sentence(each.text)),
        )
        for each in _found(request, Urgency.STOP)
    ]


def not_shown(request: BreweryRequest) -> list[Line]:
    """Critical limits that are not shown to be met: too close, or read too late."""
    found = _found(request, Urgency.CLOSE)
    return [_finding_line(each) for each in found if not _never_read(each)]


def to_act_on(request: BreweryRequest) -> list[Line]:
    """Action limits. Pressure has lines of its own, where bottles stand warm."""
    found = _found(request, Urgency.ACT)
    return [_finding_line(each) for each in found if each.limit.kind != LimitKind.PRESSURE]


def _finding_line(finding: Finding) -> Line:
    """What is only too close, or not known, is checked again; the rest is written down."""
    is_over = finding.verdict is Verdict.FAILS or finding.limit.kind in _WITH_A_CLOCK
    check = None if is_over else _check(finding.lot, finding.limit)
    text = f"{finding.limit.title}: {finding.text}."
    about = _ToFinding(finding.lot.code, finding)
    return Line(verdict_word(finding), about, text, check or _write_down(finding))


def _unanswered(asked: list[Finding]) -> list[Finding]:
    """The findings since which nobody held the lot or opened a deviation."""
    lots = ids_in({each.lot.pk for each in asked})
    holds = Hold.objects.live().filter(lot__in=lots)
    answered: dict[tuple[int, str], dt.datetime] = {}
    for lot, cause, written in holds.values_list("lot", "cause", "recorded_at").order_by("id"):
        answered[lot, cause] = written
    opened = DeviationLot.objects.live().filter(lot__in=lots, deviation__voided_at__isnull=True)
    for lot, written in opened.values_list("lot", "recorded_at").order_by("id"):
        answered[lot, ""] = written
    return [
        each
        for each in asked
        if not any(
            answered.get((each.lot.pk, by), each.since.at) > each.since.at
            for by in (each.limit.cause, "")
        )
    ]


# Holds ---------------------------------------------------------------------------------------


def left(request: BreweryRequest) -> list[Line]:
    """Holds of which something was shipped and nobody has decided, the newest first."""
    decided = MarketDecision.objects.live().filter(hold=OuterRef("pk"))
    holds = list(open_holds().filter(~Exists(decided)).prefetch_related("ends"))
    reach = reach_of(holds)
    lines = ShipmentLine.objects.live().filter(lot__in=ids_in(set().union(*reach.values())))
    shipped = dict(lines.order_by().values_list("lot").annotate(Sum("quantity")))
    found = [(hold, sum(shipped.get(pk, 0) for pk in reach[hold.pk])) for hold in holds]
    return [
        Line(
            Word(f"{count} shipped", "stop"),
            Linked(hold.lot.code, hold),
            _why(hold),
            entry_form("decide-market", "Decide what is done", hold=hold.pk),
        )
        for hold, count in found
        if count
    ]


def held(request: BreweryRequest) -> list[Line]:
    """Open holds with a lot that nobody has decided about, the oldest first."""
    holds = list(open_holds().prefetch_related("ends").order_by("id"))
    reach = reach_of(holds)
    there = on_hand(set().union(*reach.values()))
    decided = set(Disposition.objects.live().values_list("hold", "lot"))
    waiting = {hold.pk: _waiting(hold, reach[hold.pk], there, decided) for hold in holds}
    codes = dict(
        Lot.objects.filter(pk__in=ids_in(pks[0] for pks in waiting.values() if pks))
        .order_by()
        .values_list("pk", "code")
    )
    return [
        Line(
            Word(days_since(hold.happened_at), "stop"),
            Linked(hold.lot.code, hold),
            f"{_why(hold)}{_how_many(waiting[hold.pk])}",
            entry_form("dispose", "Decide", hold=hold.pk, lot=codes[waiting[hold.pk][0]]),
        )
        for hold in holds
        if waiting[hold.pk]
    ]


def _waiting(
    hold: Hold, reach: set[int], there: dict[int, int], decided: set[tuple[int, int]]
) -> list[int]:
    """The lots under a hold that wait for a decision: its own first, then what there is of
    the others."""
    own = hold.lot_id in reach and (
        there.get(hold.lot_id, 0) > 0 or (hold.pk, hold.lot_id) not in decided
    )
    others = sorted(pk for pk in reach if pk != hold.lot_id and there.get(pk, 0) > 0)
    return [hold.lot_id, *others] if own else others


def _why(hold: Hold) -> str:
    return f"{hold.get_cause_display().capitalize()}: {hold.reason.rstrip('.')}."


def _how_many(waiting: list[int]) -> str:
    return f" {len(waiting)} lots stand kept back by it." if len(waiting) > 1 else ""


# Review and release --------------------------------------------------------------------------


def reviews_waiting(request: BreweryRequest) -> list[Line]:
    """Lots with readings nobody has reviewed, the most pressing first."""
    return [
        Line(
            days_left(each.due),
            Linked(each.lot.code, each.lot),
            f"{each.records} reading{'' if each.records == 1 else 's'} nobody has reviewed.",
            entry_form("review", "Review it", lot=each.lot.code),
        )
        for each in due_reviews()
    ]


def deviations_open(request: BreweryRequest) -> list[Line]:
    """Deviations without a signed correction, but for those whose hold is to be decided first."""
    signed = CorrectiveAction.objects.live().filter(
        deviation=OuterRef("pk"), signature__isnull=False
    )
    kept = Q(hold__isnull=False, hold__lifted_at__isnull=True, hold__voided_at__isnull=True)
    rows = Deviation.objects.live().filter(~kept, ~Exists(signed))
    return [
        Line(
            Word(days_since(each.happened_at), "look"),
            Linked(each.title, each),
            "Open: what was corrected is not written down.",
            entry_form("correct-deviation", "Correct it", deviation=each.pk),
        )
        for each in rows.order_by("happened_at", "id")
    ]


def _bottles_there(releases: QuerySet[Release]) -> QuerySet[Any]:
    standing = releases.filter(lot=OuterRef("pk"), undone_by__isnull=True)
    rows = BottlingLot.objects.live().select_related("flavour", "format")
    return with_on_hand(rows.annotate(is_released=Exists(standing))).filter(on_hand__gt=0)


def unreleased(request: BreweryRequest) -> list[Line]:
    """Bottles that the policy asks to be released before they are sent out."""
    since = policy().release_needed_since
    if since is None:
        return []
    rows = _bottles_there(Release.objects.live()).filter(
        is_released=False, happened_at__gte=on_day(since).at
    )
    return [
        Line(
            Word(days_since(lot.happened_at)),
            Linked(lot.code, lot),
            f"{lot.on_hand} of {lot.describe()}, not released yet.",
            entry_form("release", "Release it", lot=lot.code),
        )
        for lot in rows.order_by("happened_at", "pk")
    ]


def to_send(request: BreweryRequest) -> list[Line]:
    """Released bottles of which nothing was sent yet. The records know no orders."""
    sent = ShipmentLine.objects.live().filter(lot=OuterRef("pk"))
    rows = _bottles_there(Release.objects.live()).filter(~Exists(sent), is_released=True)
    standing = kept_back()
    return [
        Line(
            Word("released", "good"),
            Linked(lot.code, lot),
            f"{lot.on_hand} of {lot.describe()}, nothing sent yet.",
            entry_form("ship", lot=lot.code),
        )
        for lot in rows.order_by("happened_at", "pk")
        if standing.word(lot) is None
    ]


# Calibrations --------------------------------------------------------------------------------


def calibrations(request: BreweryRequest) -> list[Line]:
    """Instruments out of tolerance, never calibrated, overdue or due within days."""
    return [
        Line(
            due_word(each),
            Linked(each.name, each),
            f"{each.get_kind_display()}: what it reads cannot be leaned on for long.",
            entry_form("calibrate", "Calibrate it", instrument=each),
        )
        for each in due_by(timezone.localdate() + _NEAR)
    ]


KINDS = (
    Kind("left", "Shipped, and held since", Consequence.LEFT, left),
    Kind("outside", "Outside a critical limit", Consequence.HARM, outside),
    Kind("checks", "Checks due", Consequence.CLOCK, checks_due),
    Kind(
        "held",
        "Held, waiting for a decision",
        Consequence.DECISION,
        held,
        full="hold-list",
        narrowed="open=yes",
    ),
    Kind("not-shown", "Not shown to be within a critical limit", Consequence.DECISION, not_shown),
    Kind(
        "deviations",
        "Deviations to correct",
        Consequence.DECISION,
        deviations_open,
        concerns=REVIEW,
        full="deviation-list",
        narrowed="open=yes",
    ),
    Kind(
        "reviews",
        "Records to review",
        Consequence.DECISION,
        reviews_waiting,
        concerns=REVIEW,
        full="reviews",
    ),
    Kind("release", "Bottles to release", Consequence.DECISION, unreleased, concerns=REVIEW),
    Kind(
        "limits",
        "Action limits",
        Consequence.DECISION,
        to_act_on,
        full="findings",
        narrowed=f"urgency={int(Urgency.ACT)}",
    ),
    Kind("send", "Released, to send out", Consequence.WORK, to_send),
    Kind(
        "calibrations",
        "Calibrations due",
        Consequence.UPKEEP,
        calibrations,
        full="calibration-due-list",
    ),
)
