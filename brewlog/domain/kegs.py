"""Kegs: cleaned, filled, sent out, back, retired."""

from __future__ import annotations

from typing import Any

from brewlog.domain import registers
from brewlog.domain.blocks import refuse_blocked
from brewlog.domain.lots import flag, refuse_future, save_changed, save_new
from brewlog.domain.refusals import bottles_of, refuse_before
from brewlog.models import Customer, Format, Keg, KegEvent, Lot, ReviewFlag, User
from brewlog.recording import Forbidden, Refused, recording
from brewlog.units import Quantity
from brewlog.when import When

_Kind = KegEvent.Kind


def add_keg(*, actor: User, name: str, holds: Quantity, **fields: Any) -> Keg:
    """Add a keg by its serial number."""
    return registers.add(
        actor=actor, model=Keg, name=name, holds=holds.canonical, holds_text=holds.text, **fields
    )


def record_keg(
    *,
    actor: User,
    keg: Keg,
    kind: str,
    when: When,
    lot: Lot | None = None,
    customer: Customer | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> KegEvent:
    """Write down what happened to a keg.

    The lot of a keg that goes out and the customer of one that comes back follow from
    what was written before. Raises `Refused` for what cannot follow (out before it was
    filled, back without having gone), `Forbidden` for filling one that was not cleaned
    since, or one with drink that is kept back.
    """
    refuse_future(when)
    with recording(actor, reason):
        before = last_event(keg, when)
        _refuse_order(keg, kind, before)
        unclean = _refuse_unclean(keg, kind, before, already_done)
        if kind == _Kind.OUT and before is not None:
            lot = lot or before.lot
        if kind == _Kind.BACK and before is not None:
            customer, lot = customer or before.customer, lot or before.lot
        unfit = _refuse_contents(kind, lot, when, already_done)
        found = KegEvent(
            keg=keg, kind=kind, lot=lot, customer=customer, done_by=done_by or actor, note=note
        )
        found.when = when
        save_new(found)
        if lot is not None and unclean:
            flag(lot, ReviewFlag.Kind.CONTAINER, unclean)
        if lot is not None and unfit:
            flag(lot, ReviewFlag.Kind.USED_BLOCKED, f"keg {keg}: {unfit}")
        if kind == _Kind.RETIRED:
            keg.reread()
            keg.in_use = False
            save_changed(keg)
        return found


def last_event(keg: Keg, at: When | None = None) -> KegEvent | None:
    """The last thing that happened to a keg (up to then); None for a new one.

    Of two whose times do not tell which was first, the one written later is the later.
    """
    last: KegEvent | None = None
    for event in KegEvent.objects.live().filter(keg=keg).order_by("id"):
        if at is not None and at.provably_before(event.when):
            continue
        if last is None or not event.when.provably_before(last.when):
            last = event
    return last


def _refuse_order(keg: Keg, kind: str, before: KegEvent | None) -> None:
    """What cannot follow on what was written last."""
    last = before.kind if before else ""
    if last == _Kind.RETIRED:
        raise Refused({"keg": f"Keg {keg} was retired on {before.when}. Name another."})  # type: ignore[union-attr]
    if kind == _Kind.BACK and last != _Kind.OUT:
        raise Refused({"kind": f"Keg {keg} is not out. Record that it was sent out first."})
    if kind == _Kind.OUT and last != _Kind.FILLED:
        raise Refused({"kind": f"Keg {keg} is not filled. Record its filling first."})
    if last == _Kind.OUT and kind in {_Kind.CLEANED, _Kind.FILLED}:
        raise Refused(
            {"kind": f"Keg {keg} is out at {before.customer}. Record that it came back first."}  # type: ignore[union-attr]
        )


def _refuse_unclean(keg: Keg, kind: str, before: KegEvent | None, already_done: bool) -> str:
    if kind != _Kind.FILLED or (before is not None and before.kind == _Kind.CLEANED):
        return ""
    since = f"since it {before.get_kind_display()}" if before else "here"
    if before is not None and before.kind == _Kind.FILLED:
        since = "since it was filled"
    why = f"keg {keg} was not cleaned {since}"
    if already_done:
        return f"filled although {why}"
    raise Forbidden(
        {
            "keg": f"{why[0].upper()}{why[1:]}. Clean it and record that. If it is filled "
            "already, tick 'this has already happened'."
        }
    )


def _refuse_contents(kind: str, lot: Lot | None, when: When, already_done: bool) -> str:
    if lot is None or kind not in {_Kind.FILLED, _Kind.OUT}:
        return ""
    refuse_before(lot, when)
    bottles = bottles_of(lot)
    if bottles.format.container != Format.Container.KEG:
        raise Refused({"lot": f"{lot} is in {bottles.format}, not in kegs. Name a keg lot."})
    doing = "filled into a keg" if kind == _Kind.FILLED else "sent out"
    return refuse_blocked(lot, when, doing=doing, already_done=already_done, field="lot")
