"""Stock that leaves other than by use or shipment, and counting what is there."""

from __future__ import annotations

from django.db.models import Q, QuerySet, Sum

from brewlog.domain.blocks import refuse_blocked
from brewlog.domain.lots import flag, refuse_future, save_new, shortfall
from brewlog.domain.refusals import refuse_amount, refuse_before, refuse_dimension, refuse_void
from brewlog.ledger import on_hand
from brewlog.models import (
    Lot,
    LotUse,
    ReviewFlag,
    ShipmentLine,
    StockAdjustment,
    User,
)
from brewlog.recording import Refused, recording
from brewlog.units import Quantity, show_quantity
from brewlog.when import Precision, When

_Reason = StockAdjustment.Reason
# Somebody drinks these: what is kept back must not go there.
_DRUNK = (_Reason.TASTING, _Reason.STAFF, _Reason.DONATION)


def adjust(
    *,
    actor: User,
    lot: Lot,
    quantity: Quantity,
    why: str,
    when: When,
    witness: str = "",
    reference: str = "",
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> StockAdjustment:
    """Write off an amount: a sample, breakage, sediment, destroyed... `why` is the reason.

    More than the books show is recorded, with the difference flagged. Raises `Refused`
    without a witness to what was destroyed, and `Forbidden` for giving to drink what is
    kept back.
    """
    refuse_future(when)
    refuse_void(lot)
    refuse_amount(lot, quantity)
    refuse_before(lot, when)
    _refuse_reason(why, witness)
    with recording(actor, reason):
        unfit = ""
        if why in _DRUNK:
            unfit = refuse_blocked(
                lot, when, doing="given to drink", already_done=already_done, field="lot"
            )
        short = shortfall(lot, quantity)
        found = _save(
            lot,
            -quantity.canonical,
            quantity.text,
            why,
            when,
            done_by=done_by or actor,
            witness=witness,
            reference=reference,
            note=note,
        )
        told = f"{quantity}, {found.get_reason_display()}"
        if unfit:
            flag(lot, ReviewFlag.Kind.USED_BLOCKED, f"{told}: {unfit}")
        if short:
            flag(lot, ReviewFlag.Kind.OVERDRAWN, f"{told}: {short}")
        return found


def _save(
    lot: Lot, change: int, text: str, why: str, when: When, *, done_by: User, **fields: str
) -> StockAdjustment:
    found = StockAdjustment(
        lot=lot, change=change, quantity_text=text, reason=why, done_by=done_by, **fields
    )
    found.when = when
    save_new(found)
    return found


def _refuse_reason(why: str, witness: str) -> None:
    if why in StockAdjustment.COMES_BACK:
        raise Refused({"why": "Record what a customer brought back as such, with the customer."})
    if why in StockAdjustment.EITHER_WAY:
        raise Refused({"why": "Record a count as such: write how much there was."})
    if why in StockAdjustment.NEEDS_WITNESS and not witness.strip():
        raise Refused({"witness": "Name who saw it destroyed."})


def count_stock(
    *,
    actor: User,
    lot: Lot,
    counted: Quantity,
    when: When,
    witness: str = "",
    reference: str = "",
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> StockAdjustment:
    """Write down how much of a lot was counted; the difference from the books at that
    time becomes a correction, with both figures in its text.

    Raises `Refused` where the two agree, as there is nothing to correct.
    """
    refuse_future(when)
    refuse_void(lot)
    refuse_dimension(lot, counted, "counted")
    refuse_before(lot, when)
    if lot.made is None:
        raise Refused({"lot": f"{lot} has no amount yet. Write that first."})
    with recording(actor, reason):
        books = on_the_books(lot, when)
        shown = show_quantity(books, lot.dimension)
        if counted.canonical == books:
            raise Refused(
                {"counted": f"The books show {shown} as well: there is nothing to correct."}
            )
        return _save(
            lot,
            counted.canonical - books,
            f"{counted} counted, {shown} on the books",
            _Reason.COUNT,
            when,
            done_by=done_by or actor,
            witness=witness,
            reference=reference,
            note=note,
        )


def on_the_books(lot: Lot, when: When) -> int:
    """What was on hand at a time by today's books, in the lot's canonical unit: without
    what is provably later."""
    uses = LotUse.objects.live().filter(_later(when))
    lines = ShipmentLine.objects.live().filter(_later(when, "shipment__"), lot=lot.pk)
    changes = StockAdjustment.objects.live().filter(_later(when), lot=lot.pk)
    return (
        on_hand([lot.pk])[lot.pk]
        + _total(uses.filter(source=lot.pk), "quantity")
        - _total(uses.filter(into=lot.pk), "added")
        + _total(lines, "quantity")
        - _total(changes, "change")
    )


def _later(when: When, at: str = "") -> Q:
    """What happened provably after a time."""
    if when.precision == Precision.DAY:
        return Q(**{f"{at}happened_at__gte": when.ends})
    return Q(**{f"{at}happened_at__gt": when.at})


def _total(rows: QuerySet, field: str) -> int:
    return int(rows.aggregate(total=Sum(field))["total"] or 0)
