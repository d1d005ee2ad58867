"""Keeping lots back, letting them go again, and settling what a reviewer had to look at."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import QuerySet
from django.utils import timezone

from brewlog.domain.blocks import blocks, hold_reach
from brewlog.domain.lots import refuse_future, save_changed, save_new
from brewlog.domain.refusals import refuse_void
from brewlog.ledger import ids_in
from brewlog.models import Hold, HoldEnd, Lot, ReviewFlag, User
from brewlog.recording import Refused, recording
from brewlog.trace import steps_below
from brewlog.when import When, now

_MAY_REVIEW = "brewlog.review_lots"


def hold(
    *,
    actor: User,
    lot: Lot,
    cause: str,
    why: str,
    when: When | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> Hold:
    """Keep a lot back until someone decides. Causes that flow hold what was made from it.

    Raises `Refused` for a lot held for that cause already, a voided one, or no reason.
    """
    with recording(actor, reason):
        found = held_for(lot, cause)
        if found is not None:
            raise Refused({"lot": f"{found} already: {found.reason}. Add to that hold by a note."})
        return place_hold(lot, cause, why, when or now(), done_by=done_by or actor, note=note)


def place_hold(
    lot: Lot, cause: str, why: str, when: When, *, done_by: User, note: str = ""
) -> Hold:
    """Write the hold. For verbs that find a cause themselves; inside `recording()`."""
    refuse_future(when)
    refuse_void(lot)
    if not why.strip():
        raise Refused({"why": "Say what is wrong with it."})
    placed = Hold(lot=lot, cause=cause, reason=why.strip(), done_by=done_by, note=note)
    placed.when = when
    save_new(placed)
    return placed


def held_for(lot: Lot, cause: str) -> Hold | None:
    """The lot's own open hold of that cause, if there is one."""
    return open_holds().filter(lot=lot.pk, cause=cause).first()


def open_holds() -> QuerySet[Hold]:
    """Every hold nobody has lifted, newest first, each with its lot."""
    return Hold.objects.live().filter(lifted_at__isnull=True).select_related("lot")


def reach_of(holds: Iterable[Hold]) -> dict[int, set[int]]:
    """`hold_reach` of each of several holds, whose `ends` were fetched: one query."""
    listed = list(holds)
    below = steps_below([hold.lot_id for hold in listed if hold.flows])
    return {hold.pk: _walked(hold, below) for hold in listed}


def _walked(hold: Hold, below: dict[int, set[int]]) -> set[int]:
    ended = {end.lot_id for end in hold.ends.all() if not end.is_void}  # type: ignore[attr-defined]
    reached: set[int] = set()
    ahead = {hold.lot_id}
    while ahead:
        lot_id = ahead.pop()
        if lot_id in ended or lot_id in reached:
            continue
        reached.add(lot_id)
        if hold.flows:
            ahead |= below.get(lot_id, set())
    return reached


def held_with(hold: Hold) -> QuerySet[Lot]:
    """The lots a hold keeps back, in the order they were written: its own, and, where the
    cause flows, everything made from it."""
    return Lot.objects.live().filter(pk__in=ids_in(hold_reach(hold))).order_by("id")


def end_hold_at(
    *,
    actor: User,
    hold: Hold,
    lot: Lot,
    reason: str,
    when: When | None = None,
    done_by: User | None = None,
) -> HoldEnd:
    """End one hold at one lot it reaches: the lot, and what is made from it, go on.

    Raises `Refused` for someone who does not review, no reason, a hold that was lifted, or
    a lot it does not reach.
    """
    refuse_who_does_not_review(actor, "can end a hold")
    if not reason.strip():
        raise Refused({"reason": "Say what was found and why the lot may go on."})
    with recording(actor, reason):
        hold.reread()
        if not hold.is_open:
            raise Refused({"hold": f"{hold} was lifted already: {hold.lift_reason}"})
        if lot.pk not in hold_reach(hold):
            raise Refused({"lot": f"{lot} is not held by that: {hold}."})
        end = HoldEnd(hold=hold, lot_id=lot.pk, done_by=done_by or actor, note=reason.strip())
        end.when = when or now()
        save_new(end)
        return end


def lift(
    *,
    actor: User,
    lot: Lot,
    reason: str,
    cause: str = "",
    when: When | None = None,
    done_by: User | None = None,
    authority_asked: str = "",
) -> Hold:
    """End an open hold on the lot itself; `cause` tells which where there are several.

    Raises `Refused` for someone who does not review, no reason, no such hold, or alcohol
    over the line where the authority was not asked.
    """
    refuse_who_does_not_review(actor, "can lift a hold")
    if not reason.strip():
        raise Refused({"reason": "Say what was found and why the lot may go on."})
    decided = when or now()
    refuse_future(decided)
    with recording(actor, reason):
        found = _the_hold(lot, cause)
        refuse_without_authority(found, authority_asked)
        if decided.provably_before(found.when):
            raise Refused({"when": f"{lot} was only held on {found.when}."})
        found.lifted_at = decided.at
        found.lifted_by = done_by or actor
        asked = f" ({authority_asked.strip()})" if authority_asked.strip() else ""
        found.lift_reason = reason.strip() + asked
        save_changed(found)
        return found


def _the_hold(lot: Lot, cause: str) -> Hold:
    own = list(open_holds().filter(lot=lot.pk))
    matching = [each for each in own if not cause or each.cause == cause]
    if len(matching) == 1:
        return matching[0]
    if matching:
        listed = ", ".join(each.get_cause_display() for each in matching)
        raise Refused({"cause": f"{lot} has several holds: {listed}. Say which one is lifted."})
    if own:
        listed = ", ".join(each.get_cause_display() for each in own)
        raise Refused({"cause": f"{lot} is not held for that, but for: {listed}."})
    through = [block.because for block in blocks(lot) if block.because.pk != lot.pk]
    if through:
        listed = ", ".join(str(each) for each in through)
        raise Refused(
            {"lot": f"{lot} has no hold of its own: it is kept back with {listed}. Decide there."}
        )
    raise Refused({"lot": f"{lot} is not on hold."})


def settle_flag(*, actor: User, flag: ReviewFlag, note: str) -> ReviewFlag:
    """Close what a reviewer had to look at, with what was found. Raises `Refused`."""
    refuse_who_does_not_review(actor, "can settle this")
    if not note.strip():
        raise Refused({"note": "Say what was found and what was done about it."})
    with recording(actor, note.strip()):
        flag.reread()
        if not flag.is_open:
            raise Refused({"flag": f"That was settled already: {flag.settled_note}"})
        flag.settled_at = timezone.now()
        flag.settled_by = actor
        flag.settled_note = note.strip()
        save_changed(flag)
        return flag


def refuse_who_does_not_review(actor: User, does: str) -> None:
    """Decisions are for reviewers and managers; `does` ends the sentence: "can lift a hold"."""
    if not actor.has_perm(_MAY_REVIEW):
        raise Refused(f"Only a reviewer or a manager {does}. Ask one of them.")


def refuse_without_authority(hold: Hold, authority_asked: str) -> None:
    """Over the alcohol line nothing goes on before the authority was asked."""
    if hold.cause == Hold.Cause.ALCOHOL and not authority_asked.strip():
        raise Refused(
            {
                "authority_asked": "Stop: over the alcohol line the authority is asked first. "
                "Write whom you asked and what they said."
            }
        )
