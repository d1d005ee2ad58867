"""Turning what is found into holds: by the next verb, or by `manage.py watch`, never by a page.

A critical finding keeps its lot back from the moment it can be computed. The hold that is
written then makes it last, with the finding as its reason and the system as its actor.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence

from django.db.models import QuerySet
from django.utils import timezone

from brewlog.domain.asking import Intent
from brewlog.domain.blocks import Block
from brewlog.domain.holds import place_hold
from brewlog.domain.lots import save_new
from brewlog.ledger import ids_in
from brewlog.models import Hold, Lot, User
from brewlog.recording import reading, recording
from brewlog.trace import ancestor_ids
from brewlog.when import When
from compliance.assessment import Assessment, Finding, assess
from compliance.assessment.touched import newest
from compliance.domain.keeping import (
    WHOLE_AFTER,
    catch_up,
    keep_all,
    kept_up_to,
    look_at_all,
    waiting,
)
from compliance.domain.releases import unreleased_block
from compliance.models import Deviation, DeviationLot, LimitKind

SYSTEM_NAME = "system"
_REASON = "a critical limit was not met"
# How long a lot that was kept on paper may take to be written down.
PATIENCE = dt.timedelta(days=1)
# As many lots as are assessed in one go where all of them are.
_PIECE = 5000


def system_user() -> User:
    """The account that writes what follows from the records alone. Nobody logs in as it."""
    found, made = User.objects.get_or_create(
        username=SYSTEM_NAME, defaults={"first_name": "System"}
    )
    if made:
        found.set_unusable_password()
        found.save()
    return found


def decided(finding: Finding) -> bool:
    """Whether a hold for the finding's cause was placed on its lot since it arose.

    Lifted or not: a person has seen it then. A finding that arose anew counts anew.
    """
    return (
        Hold.objects.live()
        .filter(lot=finding.lot.pk, cause=finding.limit.cause, recorded_at__gte=finding.since.at)
        .exists()
    )


def undecided(lots: Sequence[Lot], at: dt.datetime | None = None) -> list[Finding]:
    """The critical findings of some lots that no hold answers yet."""
    return _unanswered(assess(lots, at))


def _unanswered(found: Assessment) -> list[Finding]:
    return [each for each in found.findings if each.is_critical and not decided(each)]


def critical_blocks(intents: Sequence[Intent]) -> list[Block]:
    """What was found at this moment that keeps lots back: asked by the verbs.

    On the lot itself, and on what it was made from where the cause travels with the drink.
    A lot that was never released is not sent out, where the policy asks for release.
    """
    lots = {each.lot.pk: each.lot for each in intents}
    ancestors = Lot.objects.filter(pk__in=ids_in(ancestor_ids(lots)))
    found = undecided(list(ancestors))
    blocks = [block for lot in lots.values() for block in _blocks_by(found, lot)]
    unreleased = [block for each in intents for block in unreleased_block(each.lot, each.doing)]
    return blocks + unreleased


def _blocks_by(found: Sequence[Finding], lot: Lot) -> list[Block]:
    behind = ancestor_ids([lot.pk]) if found else set()
    return [
        Block(lot, each.lot, f"{each.lot}: {each.limit.title}: {each.text}")
        for each in found
        if each.lot.pk == lot.pk or (each.lot.pk in behind and each.limit.cause in Hold.FLOWING)
    ]


def watch(
    lots: Iterable[Lot] | None = None, *, at: dt.datetime | None = None, actor: User | None = None
) -> list[Hold]:
    """Write a hold, and open a deviation, for each critical finding nobody has answered.

    Without `lots`, over all of them: a deadline passes without anyone writing anything.
    """
    by = actor or system_user()
    looked_at = list(lots) if lots is not None else list(Lot.objects.live())
    with recording(by, _REASON):
        return [_hold_for(finding, by) for finding in undecided(looked_at, at)]


def watch_patiently(
    lots: Iterable[Lot], *, actor: User | None = None
) -> tuple[list[Hold], list[Finding]]:
    """The same of some lots, but for what is still being written down: the holds, and that."""
    by = actor or system_user()
    with recording(by, _REASON):
        found = undecided(list(lots))
        waiting = being_written(found)
        return [_hold_for(each, by) for each in found if each not in waiting], waiting


def being_written(found: Iterable[Finding]) -> list[Finding]:
    """Of some findings, those of a missed deadline whose lot was written down only after it.

    What was kept on paper comes in one reading after the other, the early ones first, and each
    would be the last before the deadline until the next is there. For a day no hold is made of
    that; the lot is kept back all the same, as by every critical finding.
    """
    now = timezone.now()
    return [
        each
        for each in found
        if each.limit.kind == LimitKind.BY_DEADLINE
        and each.since.at < each.lot.recorded_at
        and now < each.lot.recorded_at + PATIENCE
    ]


def look_through(everything: bool = False) -> list[Hold]:
    """Answer the critical findings nobody has answered, and keep what was found for the lists.

    Only lots that were written about, or whose time has come, are looked at; all of them once
    a day, where it is not known which, or with `everything`. Reading them keeps no one waiting.
    """
    kept = kept_up_to()
    by = system_user()
    if kept is not None and not everything:
        since = waiting(kept, newest())
        if not since.everything and timezone.now() < kept.whole_at + WHOLE_AFTER:
            with recording(by):
                touched = Lot.objects.live().filter(pk__in=ids_in(since.lots))
                holds, _ = watch_patiently(touched, actor=by)
                catch_up()
                return holds
    with reading():
        until, pieces, suspects = newest(), [], []
        for lots in _in_pieces(Lot.objects.live().order_by("id")):
            found = assess(lots)
            pieces.append(found)
            suspects += [each.lot for each in _unanswered(found)]
        look = look_at_all(pieces, until)
    with recording(by):
        holds, _ = watch_patiently(suspects, actor=by)
        keep_all(look)
        catch_up()
        return holds


def _in_pieces(lots: QuerySet[Lot]) -> Iterator[list[Lot]]:
    last = 0
    while piece := list(lots.filter(pk__gt=last)[:_PIECE]):
        last = piece[-1].pk
        yield piece


def _hold_for(finding: Finding, by: User) -> Hold:
    limit = finding.limit
    why = f"{limit.title}: {finding.text}"
    moment = When(timezone.now().replace(second=0, microsecond=0))
    hold = place_hold(finding.lot, limit.cause, why, moment, done_by=by)
    deviation = Deviation(
        kind=Deviation.Kind.LIMIT,
        title=why[:200],
        what_happened="; ".join([why, *(f"{each.text}, {each.when}" for each in finding.evidence)]),
        limit=limit,
        hold=hold,
        done_by=by,
    )
    deviation.when = moment
    save_new(deviation)
    save_new(DeviationLot(deviation=deviation, lot_id=finding.lot.pk))
    return hold
