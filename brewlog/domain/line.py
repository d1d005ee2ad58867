"""The checks around the bottling line, and the bottles kept back to be opened later."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

from brewlog.domain.checkpoints import record_reading
from brewlog.domain.holds import held_for, place_hold
from brewlog.domain.lots import flag, refuse_future, save_changed, save_new
from brewlog.domain.readings import read_value
from brewlog.domain.refusals import bottles_of, refuse_before
from brewlog.domain.stock import adjust
from brewlog.ledger import on_hand
from brewlog.models import (
    BottleWash,
    BottlingLot,
    Breakage,
    Hold,
    Instrument,
    LineClearance,
    Lot,
    Measurand,
    RetainedBottles,
    ReviewFlag,
    Stage,
    StockAdjustment,
    User,
)
from brewlog.models.base import Guarded
from brewlog.recording import Refused, recording
from brewlog.units import Dimension, Quantity
from brewlog.when import When


def clear_line(
    *,
    actor: User,
    lot: Lot,
    when: When,
    previous: Lot | None = None,
    first_label_kept: bool = False,
    last_label_kept: bool = False,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> LineClearance:
    """Nothing of the last flavour was left on the line before this lot began."""
    refuse_future(when)
    bottles = bottles_of(lot)
    before = bottles_of(previous, "previous") if previous is not None else None
    if before is not None and before.pk == bottles.pk:
        raise Refused({"previous": f"{bottles} did not run before itself. Name what did."})
    if before is not None and bottles.when.provably_before(before.when):
        raise Refused({"previous": f"{before} was only bottled on {before.when}, after {bottles}."})
    with recording(actor, reason):
        found = LineClearance(
            lot=bottles,
            previous=before,
            first_label_kept=first_label_kept,
            last_label_kept=last_label_kept,
            done_by=done_by or actor,
            note=note,
        )
        found.when = when
        save_new(found)
        return found


def record_breakage(
    *,
    actor: User,
    lot: Lot,
    broken: int,
    cleaned: str,
    when: When,
    set_apart: int | None = None,
    last_good_check_at: When | None = None,
    not_counted: bool = False,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> list[Guarded]:
    """Glass broke on the line. The breakage comes first in the list, then what it set off.

    The broken bottles leave the stock unless they broke before they were counted
    (`not_counted`). Where bottles back to the last good check were set apart, the lot is
    held for foreign matter until someone decides, as the books cannot tell those bottles
    from the others; where none were, a reviewer is asked to look.
    """
    refuse_future(when)
    bottles = bottles_of(lot)
    refuse_before(bottles, when)
    apart = set_apart or 0
    _refuse_breakage(bottles, broken, apart, last_good_check_at, when, not_counted)
    with recording(actor, reason):
        found = Breakage(
            lot=bottles,
            broken=broken,
            set_apart=apart,
            last_good_check_at=last_good_check_at.at if last_good_check_at else None,
            cleaned=cleaned,
            done_by=done_by or actor,
            note=note,
        )
        found.when = when
        save_new(found)
        written: list[Guarded] = [found]
        if not not_counted:
            written.append(
                adjust(
                    actor=actor,
                    lot=bottles,
                    quantity=_pieces(broken),
                    why=StockAdjustment.Reason.BREAKAGE,
                    when=when,
                    done_by=done_by,
                )
            )
        written += _keep_glass_back(found)
        return written


def _refuse_breakage(
    bottles: BottlingLot,
    broken: int,
    apart: int,
    last_good_check_at: When | None,
    when: When,
    not_counted: bool,
) -> None:
    if broken <= 0:
        raise Refused({"broken": "Write how many bottles broke."})
    of_the_lot = apart + (0 if not_counted else broken)
    if of_the_lot > (bottles.made or 0):
        raise Refused(
            {"broken": f"{bottles} had {bottles.made} bottles; {of_the_lot} are more than that."}
        )
    if last_good_check_at is not None and when.provably_before(last_good_check_at):
        raise Refused({"last_good_check_at": f"The glass broke on {when}, before that check."})


def _keep_glass_back(breakage: Breakage) -> list[Guarded]:
    lot, when = breakage.lot, breakage.when
    if breakage.set_apart == 0:
        why = f"{breakage.broken} broke on the line on {when} and no bottles were set apart"
        return [flag(lot, ReviewFlag.Kind.CONDITION, why)]
    if held_for(lot, Hold.Cause.FOREIGN):
        return []
    why = f"glass broke on the line on {when}: {breakage.set_apart} bottles set apart"
    return [place_hold(lot, Hold.Cause.FOREIGN, why, when, done_by=breakage.done_by)]


def _pieces(number: int) -> Quantity:
    return Quantity(number, Dimension.COUNT, str(number))


def record_wash(
    *,
    actor: User,
    lot: Lot,
    washed: int,
    method: str,
    when: When,
    chipped: int | None = None,
    gaskets_checked: bool = False,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> BottleWash:
    """Used bottles were washed and looked at before they were filled with this lot."""
    refuse_future(when)
    bottles = bottles_of(lot)
    if washed <= 0:
        raise Refused({"washed": "Write how many bottles were washed."})
    if (chipped or 0) > washed:
        raise Refused({"chipped": f"Only {washed} were washed. Mend one of the two."})
    if bottles.when.provably_before(when):
        raise Refused({"when": f"{bottles} was filled on {bottles.when}, before that washing."})
    with recording(actor, reason):
        found = BottleWash(
            lot=bottles,
            washed=washed,
            chipped=chipped or 0,
            gaskets_checked=gaskets_checked,
            method=method,
            done_by=done_by or actor,
            note=note,
        )
        found.when = when
        save_new(found)
        return found


def keep_bottles(
    *,
    actor: User,
    lot: Lot,
    count: int,
    kept: str,
    pull_on: dt.date,
    when: When,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> RetainedBottles:
    """Keep bottles back to be opened on a day. They stay on hand until then."""
    refuse_future(when)
    bottles = bottles_of(lot)
    refuse_before(bottles, when)
    if count <= 0:
        raise Refused({"count": "Write how many bottles are kept back."})
    if pull_on < timezone.localtime(when.at).date():
        raise Refused({"pull_on": f"That is before they were kept back ({when})."})
    with recording(actor, reason):
        there = on_hand([bottles.pk])[bottles.pk]
        found = RetainedBottles(
            lot=bottles,
            count=count,
            kept=kept,
            pull_on=pull_on,
            done_by=done_by or actor,
            note=note,
        )
        found.when = when
        save_new(found)
        if count > there:
            why = f"{count} kept back, {max(there, 0)} on the books"
            flag(bottles, ReviewFlag.Kind.OVERDRAWN, why)
        return found


def pull_bottles(
    *,
    actor: User,
    lot: Lot,
    finding: str,
    when: When,
    kept: str = "",
    pressure: str = "",
    gauge: Instrument | None = None,
    is_wrong: bool = False,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> RetainedBottles:
    """Open the bottles of the lot that were kept back and are due first.

    `kept` tells cold from warm where both are. They leave the stock as a sample; with
    `is_wrong` a reviewer is asked to look. `pressure` is what was on the gauge, as typed: it
    becomes a reading of the lot.
    """
    refuse_future(when)
    bottles = bottles_of(lot)
    if not finding.strip():
        raise Refused({"finding": "Write what was found: gas, smell, taste, sediment."})
    if pressure.strip():
        read_value(Measurand.PRESSURE, pressure, field="pressure")
    elif gauge is not None:
        raise Refused({"pressure": f"Write what {gauge} showed, or name no gauge."})
    with recording(actor, reason):
        found = _due_first(bottles, kept)
        if when.provably_before(found.when):
            raise Refused({"when": f"They were only kept back on {found.when}."})
        found.pulled_at = when.at
        found.finding = finding.strip()
        save_changed(found)
        adjust(
            actor=actor,
            lot=bottles,
            quantity=_pieces(found.count),
            why=StockAdjustment.Reason.SAMPLE,
            when=when,
            done_by=done_by,
            note=note or f"kept back {found.get_kept_display()}: {found.finding}",
        )
        if pressure.strip():
            record_reading(
                actor=actor,
                lot=bottles,
                measurand=Measurand.PRESSURE,
                value=pressure,
                instrument=gauge,
                stage=Stage.SHELF,
                when=when,
                done_by=done_by,
                note=f"kept back {found.get_kept_display()}",
            )
        if is_wrong:
            why = f"bottle kept back {found.get_kept_display()}: {found.finding}"
            flag(bottles, ReviewFlag.Kind.CONDITION, why)
        return found


def waiting(lot: Lot) -> list[RetainedBottles]:
    """The bottles kept back and not opened yet, in the order they are due."""
    kept = RetainedBottles.objects.live().filter(lot=lot.pk, pulled_at__isnull=True)
    return list(kept.order_by("pull_on", "id"))


def _due_first(bottles: BottlingLot, kept: str) -> RetainedBottles:
    all_waiting = waiting(bottles)
    if not all_waiting:
        raise Refused({"lot": f"No bottles of {bottles} are kept back."})
    found = [each for each in all_waiting if not kept or each.kept == kept]
    if not found:
        raise Refused({"kept": f"None of {bottles} are kept back that way."})
    if len({each.kept for each in found}) > 1:
        raise Refused({"kept": f"{bottles} is kept both cold and warm. Say which were opened."})
    return found[0]
