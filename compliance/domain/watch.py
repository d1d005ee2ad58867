"""Turning what is found into holds: by the next verb, or by `manage.py watch`, never by a page.

A critical finding keeps its lot back from the moment it can be computed. The hold that is
written then makes it last, with the finding as its reason and the system as its actor.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from django.utils import timezone

from brewlog.domain.holds import place_hold
from brewlog.domain.lots import Block, save_new
from brewlog.models import Hold, Lot, User
from brewlog.recording import recording
from brewlog.trace import ancestor_ids
from brewlog.when import When
from compliance.assessment import Finding, assess
from compliance.domain.releases import unreleased_block
from compliance.models import Deviation, DeviationLot

SYSTEM_NAME = "system"


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
    return [each for each in assess(lots, at).findings if each.is_critical and not decided(each)]


def critical_blocks(lot: Lot, doing: str) -> list[Block]:
    """What was found at this moment that keeps the lot back: asked by the verbs.

    On the lot itself, and on what it was made from where the cause travels with the drink.
    A lot that was never released is not sent out, where the policy asks for release.
    """
    ancestors = Lot.objects.filter(pk__in=ancestor_ids([lot.pk]))
    found = [
        Block(lot, each.lot, f"{each.lot}: {each.limit.title}: {each.text}")
        for each in undecided(list(ancestors))
        if each.lot.pk == lot.pk or each.limit.cause in Hold.FLOWING
    ]
    return found + unreleased_block(lot, doing)


def watch(
    lots: Iterable[Lot] | None = None, *, at: dt.datetime | None = None, actor: User | None = None
) -> list[Hold]:
    """Write a hold, and open a deviation, for each critical finding nobody has answered.

    Without `lots`, over all of them: a deadline passes without anyone writing anything.
    """
    by = actor or system_user()
    looked_at = list(lots) if lots is not None else list(Lot.objects.live())
    with recording(by, "a critical limit was not met"):
        return [_hold_for(finding, by) for finding in undecided(looked_at, at)]


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
