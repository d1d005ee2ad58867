"""The start page's lines about limits, holds, reviews, releases and calibrations."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from operator import attrgetter
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet, Sum
from django.utils import timezone

from brewlog.domain.holds import open_holds, reach_of
from brewlog.entries.base import REVIEW
from brewlog.ledger import ids_in, on_hand
from brewlog.middleware import BreweryRequest
from brewlog.models import BottlingLot, Hold, Lot, ShipmentLine
from brewlog.views.lists import Linked, Word
from brewlog.views.standing import kept_back
from brewlog.views.today.lines import (
    Consequence,
    Form,
    Kind,
    Line,
    Lines,
    days_left,
    days_since,
    entry_form,
    once,
    time_left,
    written,
)
from brewlog.when import on_day
from compliance.assessment import Awaited, Finding, Urgency
from compliance.decision import Verdict
from compliance.domain.recall_closing import not_ended
from compliance.domain.releases import reviews_due, unreviewed
from compliance.models import (
    CorrectiveAction,
    Deviation,
    Disposition,
    Limit,
    LimitKind,
    MarketDecision,
    RecallRun,
    Release,
    policy,
)
from compliance.views.asked import asked_for
from compliance.views.instruments import due_by, due_word
from compliance.views.standing import FindingRows, checks_awaited, open_findings
from compliance.views.wording import finding_url, sentence, verdict_word

# Told so long before the day.
_NEAR = dt.timedelta(days=3)
# Of those close to a critical limit so many are looked through; the list of findings has all.
_MOST = 300


class _ToFinding(Linked):
    """The lot of a finding, leading to the finding opened."""

    @property
    def url(self) -> str:
        return finding_url(self.record)


class _Looked:
    """The open lots against their limits: one look serves all the lines of a page."""

    def __init__(self) -> None:
        self.open = open_findings()
        self._close: list[Finding] | None = None

    def among(self, urgency: Urgency) -> FindingRows:
        """Those of an urgency that nobody answered yet."""
        return self.open.rows.among("urgency", {urgency}).unanswered()

    def close(self) -> list[Finding]:
        """The most pressing few hundred that are too close to a critical limit, or that nothing
        shows to be within it."""
        if self._close is None:
            self._close = self.among(Urgency.CLOSE)[0:_MOST]
        return self._close


# Limits --------------------------------------------------------------------------------------


_WITH_A_CLOCK = {LimitKind.BY_DEADLINE, LimitKind.PRESENCE}


def _check(lot: Lot, limit: Limit) -> Form | None:
    """The form of the check a limit asks for; None where no check clears it."""
    asked = asked_for(lot, limit)
    return entry_form(asked.slug, asked.title, **asked.given) if asked else None


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


def checks_due(request: BreweryRequest) -> Lines:
    """Checks that limits ask for: those missed and still not taken, then those to come."""
    looked = once(request, _Looked)
    overdue = [each for each in looked.close() if _never_read(each)]
    soon = checks_awaited(looked.open, timezone.now() + _NEAR)
    return Lines(
        [*overdue, *soon],
        lambda each: _overdue_line(each) if isinstance(each, Finding) else awaited_line(each),
    )


def checks_coming() -> list[Line]:
    """The checks that limits wait for within a week, the first due first."""
    until = timezone.now() + dt.timedelta(days=7)
    return [awaited_line(each) for each in checks_awaited(open_findings(), until)]


def _overdue_line(finding: Finding) -> Line:
    return Line(
        time_left(finding.since.at),
        _ToFinding(finding.lot.code, finding),
        f"{finding.limit.title}: {finding.text}.",
        _check(finding.lot, finding.limit),
    )


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


def outside(request: BreweryRequest) -> Lines:
    """Outside a critical limit, and no hold says so yet."""
    return Lines(
        once(request, _Looked).among(Urgency.STOP),
        lambda each: Line(
            verdict_word(each),
            _ToFinding(each.lot.code, each),
            f"{each.limit.title}: {each.text}. Keep it apart; nobody uses or sends it.",
            entry_form("hold", lot=each.lot.code, cause=each.limit.cause, why=sentence(each.text)),
        ),
    )


def not_shown(request: BreweryRequest) -> Lines:
    """Critical limits that are not shown to be met: too close, or read too late."""
    found = once(request, _Looked).close()
    return Lines([each for each in found if not _never_read(each)], _finding_line)


def to_act_on(request: BreweryRequest) -> Lines:
    """Action limits. Pressure has lines of its own, where bottles stand warm."""
    found = once(request, _Looked).among(Urgency.ACT)
    return Lines(found.among("limit__kind", _ALL_BUT_PRESSURE), _finding_line)


_ALL_BUT_PRESSURE = set(LimitKind.values) - {LimitKind.PRESSURE.value}


def _finding_line(finding: Finding) -> Line:
    """What is only too close, or not known, is checked again; the rest is written down."""
    is_over = finding.verdict is Verdict.FAILS or finding.limit.kind in _WITH_A_CLOCK
    check = None if is_over else _check(finding.lot, finding.limit)
    text = f"{finding.limit.title}: {finding.text}."
    about = _ToFinding(finding.lot.code, finding)
    return Line(verdict_word(finding), about, text, check or _write_down(finding))


# Holds ---------------------------------------------------------------------------------------


class _Held:
    """The holds nobody has lifted, the newest first, and the lots each of them keeps back."""

    def __init__(self) -> None:
        decided = MarketDecision.objects.live().filter(hold=OuterRef("pk"))
        asked = open_holds().annotate(market_decided=Exists(decided))
        self.holds: list[Any] = list(asked.prefetch_related("ends"))
        self.reach = reach_of(self.holds) if self.holds else {}
        self.lots = set().union(*self.reach.values())


def left(request: BreweryRequest) -> Lines:
    """Holds of which something was shipped and nobody has decided, the newest first."""
    held = once(request, _Held)
    undecided = [hold for hold in held.holds if not hold.market_decided]
    shipped = _shipped(held.lots) if undecided else {}
    found = [(hold, sum(shipped.get(pk, 0) for pk in held.reach[hold.pk])) for hold in undecided]

    def line(each: tuple[Hold, int]) -> Line:
        hold, count = each
        return Line(
            Word(f"{count} shipped", "stop"),
            Linked(hold.lot.code, hold),
            _why(hold),
            entry_form("decide-market", "Decide what is done", hold=hold.pk),
        )

    return Lines([each for each in found if each[1]], line)


def _shipped(lots: set[int]) -> dict[int, int]:
    lines = ShipmentLine.objects.live().filter(lot__in=ids_in(lots))
    return dict(lines.order_by().values_list("lot").annotate(Sum("quantity")))


def held(request: BreweryRequest) -> Lines:
    """Open holds with a lot that nobody has decided about, the oldest first."""
    found = once(request, _Held)
    if not found.holds:
        return written(())
    there = on_hand(found.lots)
    decided = set(Disposition.objects.live().order_by().values_list("hold", "lot"))
    oldest_first = sorted(found.holds, key=attrgetter("pk"))
    rows = [(hold, _waiting(hold, found.reach[hold.pk], there, decided)) for hold in oldest_first]
    return Lines([each for each in rows if each[1]], _held_line, _with_code)


def _with_code(rows: Sequence[tuple[Hold, list[int]]]) -> list[tuple[Hold, list[int], str]]:
    """Each with the code of the first lot that waits."""
    lots = Lot.objects.filter(pk__in=[waiting[0] for _, waiting in rows]).order_by()
    codes = dict(lots.values_list("pk", "code"))
    return [(hold, waiting, codes[waiting[0]]) for hold, waiting in rows]


def _held_line(each: tuple[Hold, list[int], str]) -> Line:
    hold, waiting, code = each
    return Line(
        Word(days_since(hold.happened_at), "stop"),
        Linked(hold.lot.code, hold),
        f"{_why(hold)}{_how_many(waiting)}",
        entry_form("dispose", "Decide", hold=hold.pk, lot=code),
    )


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


def reviews_waiting(request: BreweryRequest) -> Lines:
    """Lots with readings nobody has reviewed, the most pressing first."""
    return Lines(
        unreviewed(),
        lambda each: Line(
            days_left(each.due),
            Linked(each.lot.code, each.lot),
            f"{each.records} reading{'' if each.records == 1 else 's'} nobody has reviewed.",
            entry_form("review", "Review it", lot=each.lot.code),
        ),
        reviews_due,
    )


def deviations_open(request: BreweryRequest) -> Lines:
    """Deviations without a signed correction, but for those whose hold is to be decided first."""
    signed = CorrectiveAction.objects.live().filter(
        deviation=OuterRef("pk"), signature__isnull=False
    )
    kept = Q(hold__isnull=False, hold__lifted_at__isnull=True, hold__voided_at__isnull=True)
    rows = Deviation.objects.live().filter(~kept, ~Exists(signed))
    return Lines(
        rows.order_by("happened_at", "id"),
        lambda each: Line(
            Word(days_since(each.happened_at), "look"),
            Linked(each.title, each),
            "Open: what was corrected is not written down.",
            entry_form("correct-deviation", "Correct it", deviation=each.pk),
        ),
    )


def recalls_open(request: BreweryRequest) -> Lines:
    """Questions nobody has answered yet, and recalls in earnest that are not closed."""
    return Lines(not_ended(RecallRun.objects.live()).order_by("happened_at", "id"), _recall_line)


def _recall_line(run: RecallRun) -> Line:
    said = "the clock runs: who has it is not signed yet"
    form = entry_form("sign-recall", "Sign who has it", run=run.pk)
    if run.signature_id is not None:
        said = "not closed: a status report every two to four weeks (21 CFR 7.53, guidance)"
        form = entry_form("close-recall", "Close it", run=run.pk)
    tone = "look" if run.is_drill else "stop"
    return Line(
        Word(days_since(run.happened_at), tone),
        Linked(run.lot.code, run),
        f"{'Drill' if run.is_drill else run.get_kind_display().capitalize()}: {said}.",
        form,
    )


def _there(rows: QuerySet[BottlingLot]) -> list[tuple[int, int]]:
    """Of which of them there is something, and how much, the oldest first: two queries."""
    keys = list(rows.order_by("happened_at", "pk").values_list("pk", flat=True))
    amounts = on_hand(keys) if keys else {}
    return [(pk, amounts[pk]) for pk in keys if amounts[pk] > 0]


def _with_bottles(rows: Sequence[tuple[int, int]]) -> list[tuple[BottlingLot, int]]:
    lots = BottlingLot.objects.select_related("flavour", "format").in_bulk([pk for pk, _ in rows])
    return [(lots[pk], amount) for pk, amount in rows]


def _released() -> QuerySet[Release]:
    return Release.objects.live().filter(undone_by__isnull=True)


def unreleased(request: BreweryRequest) -> Lines:
    """Bottles that the policy asks to be released before they are sent out."""
    since = policy().release_needed_since
    if since is None:
        return written(())
    rows = BottlingLot.objects.live().filter(
        ~Exists(_released().filter(lot=OuterRef("pk"))), happened_at__gte=on_day(since).at
    )

    def line(each: tuple[BottlingLot, int]) -> Line:
        lot, amount = each
        return Line(
            Word(days_since(lot.happened_at)),
            Linked(lot.code, lot),
            f"{amount} of {lot.describe()}, not released yet.",
            entry_form("release", "Release it", lot=lot.code),
        )

    return Lines(_there(rows), line, _with_bottles)


def to_send(request: BreweryRequest) -> Lines:
    """Released bottles of which nothing was sent yet. The records know no orders."""
    sent = ShipmentLine.objects.live().filter(lot=OuterRef("pk"))
    released = BottlingLot.objects.live().filter(~Exists(sent), pk__in=_released().values("lot"))
    found = _there(released)
    standing = once(request, kept_back) if found else ()

    def line(each: tuple[BottlingLot, int]) -> Line:
        lot, amount = each
        return Line(
            Word("released", "good"),
            Linked(lot.code, lot),
            f"{amount} of {lot.describe()}, nothing sent yet.",
            entry_form("ship", lot=lot.code),
        )

    return Lines([each for each in found if each[0] not in standing], line, _with_bottles)


# Calibrations --------------------------------------------------------------------------------


def calibrations(request: BreweryRequest) -> Lines:
    """Instruments out of tolerance, never calibrated, overdue or due within days."""
    return Lines(
        due_by(timezone.localdate() + _NEAR),
        lambda each: Line(
            due_word(each),
            Linked(each.name, each),
            f"{each.get_kind_display()}: what it reads cannot be leaned on for long.",
            entry_form("calibrate", "Calibrate it", instrument=each),
        ),
    )


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
    Kind(
        "recalls",
        "Recalls that go on",
        Consequence.LEFT,
        recalls_open,
        concerns=REVIEW,
        full="recall-list",
        narrowed="open=on",
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
