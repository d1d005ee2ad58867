"""How listed lots stand against the limits, in a word for each: from what is kept of them.

Never evidence: a lot's own page works it out anew. A lot written about since is worked out here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from brewlog.ledger import ids_in
from brewlog.models import Lot
from brewlog.views.lists import Word
from compliance.assessment import assess
from compliance.assessment.touched import newest
from compliance.decision import Verdict
from compliance.domain import keeping
from compliance.models import Binding, KeptFinding, Limit

CLEAR = Word("clear", "good")
LOOK = Word("needs a look", "look")
OUTSIDE = Word("outside", "look")
STOP = Word("outside", "stop")
_MILDEST_FIRST = (CLEAR, LOOK, OUTSIDE, STOP)


def lot_verdicts(lots: Sequence[Lot]) -> dict[int, Word]:
    """The gravest of what was found of each lot, by its key; nothing where no rules bind."""
    if not lots or not Binding.objects.live().exists():
        return {}
    shown = {lot.pk for lot in lots if not lot.is_void}
    fresh = _to_work_out(shown)
    kept = KeptFinding.objects.filter(lot__in=ids_in(shown - fresh))
    found = [
        *kept.values_list("lot", "contents__verdict", "limit__consequence"),
        *_worked_out(fresh),
    ]
    words = dict.fromkeys(shown, CLEAR)
    for lot, verdict, consequence in found:
        word = _word(Verdict(verdict), consequence)
        words[lot] = max(words[lot], word, key=_MILDEST_FIRST.index)
    return words


def standing_as(rows: QuerySet[Any], word: str) -> QuerySet[Any]:
    """Of rows of lots those that stand so: by what is kept of them, and the few that were
    written about since by what is found of them now. As many questions however many lots."""
    if not Binding.objects.live().exists():
        return rows.none()
    kept, at_once = keeping.kept_up_to(), keeping.MOST_AT_ONCE
    since = keeping.waiting(kept, newest()) if kept else None
    fresh: set[int] = set()
    if since is None or (since.everything and keeping.are_few()):
        fresh = set(Lot.objects.live().order_by("-pk").values_list("pk", flat=True)[:at_once])
    elif len(since.lots) <= at_once:
        fresh = since.lots
    worst: dict[int, Word] = {}
    for lot, verdict, consequence in _worked_out(fresh):
        found = _word(Verdict(verdict), consequence)
        worst[lot] = max(worst.get(lot, CLEAR), found, key=_MILDEST_FIRST.index)
    now = {lot for lot in fresh if worst.get(lot, CLEAR).text == word}
    standing = Q(pk__in=ids_in(now))
    if kept is not None:
        standing |= ~Q(pk__in=ids_in(fresh)) & _kept_as(word)
    return rows.filter(standing, voided_at__isnull=True)


def _kept_as(word: str) -> Q:
    found = KeptFinding.objects.filter(lot=OuterRef("pk"))
    fails = Exists(found.filter(contents__verdict=Verdict.FAILS.value))
    if word == OUTSIDE.text:
        return Q(fails)
    return Q(Exists(found)) & ~Q(fails) if word == LOOK.text else ~Q(Exists(found))


def _to_work_out(shown: set[int]) -> set[int]:
    """Those that may be found otherwise by now than is kept; as many as one go allows."""
    kept = keeping.kept_up_to()
    since = keeping.waiting(kept, newest()) if kept else None
    stale = shown if since is None or since.everything else shown & since.lots
    return set(sorted(stale, reverse=True)[: keeping.MOST_AT_ONCE])


def _worked_out(lots: set[int]) -> Iterable[tuple[int, str, str]]:
    found = assess(list(Lot.objects.filter(pk__in=ids_in(lots)))) if lots else None
    for each in found.findings if found else ():
        yield each.lot.pk, each.verdict.value, each.limit.consequence


def _word(verdict: Verdict, consequence: str) -> Word:
    if verdict is not Verdict.FAILS:
        return LOOK
    return STOP if consequence == Limit.Consequence.CRITICAL else OUTSIDE
