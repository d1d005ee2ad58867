"""Moving, shipping and taking back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum
from django.utils import timezone

from brewlog.domain import registers
from brewlog.domain.asking import Intent, asked_at_once
from brewlog.domain.blocks import refuse_blocked
from brewlog.domain.lots import flag, refuse_future, save_new, shortfall
from brewlog.domain.places import standing
from brewlog.domain.refusals import refuse_amount, refuse_before, refuse_void
from brewlog.models import (
    Customer,
    Location,
    Lot,
    LotKind,
    Move,
    ReviewFlag,
    Shipment,
    ShipmentLine,
    StockAdjustment,
    User,
)
from brewlog.recording import Forbidden, Refused, recording
from brewlog.units import Quantity, show_quantity
from brewlog.when import When


def move(
    *,
    actor: User,
    lot: Lot,
    quantity: Quantity,
    to_location: Location,
    when: When,
    from_location: Location | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> Move:
    """Carry part of a lot from one place to another; to a cold one, it leaves the warm.

    Without `from_location` it comes from the one other place the lot stands in; where
    there are several, that is asked. More than stands there is recorded, with the
    difference flagged. A lot that is held may be moved: apart is where it belongs.
    """
    refuse_future(when)
    refuse_void(lot)
    refuse_before(lot, when)
    refuse_amount(lot, quantity)
    with recording(actor, reason):
        found = Move(
            lot=lot,
            quantity=quantity.canonical,
            quantity_text=quantity.text,
            from_location=from_location or _the_other_place(lot, to_location, when),
            to_location=to_location,
            done_by=done_by or actor,
            note=note,
        )
        found.when = when
        more = _more_than_stands(found)
        save_new(found)
        if more:
            flag(lot, ReviewFlag.Kind.OVERDRAWN, more)
        return found


def _the_other_place(lot: Lot, to_location: Location, when: When) -> Location | None:
    """Where it can only have come from; None where no move tells.

    Into the cold it goes from the warm. Where it was made has no name to choose: where some of
    it stands there still, leaving the place empty means that.
    """
    places = {
        stay.location.pk if stay.location else None: stay.location
        for stay in standing(lot, when)
        if stay.location is None or stay.location.pk != to_location.pk
    }
    if to_location.is_cold:
        warm = {pk: place for pk, place in places.items() if not (place and place.is_cold)}
        places = warm or places
    if len(places) > 1 and None not in places:
        listed = ", ".join(str(place) for place in places.values())
        raise Refused({"from_location": f"{lot} stands in several places: {listed}. Say which."})
    return None if None in places else next(iter(places.values()), None)


def _may_come_from(location: Location, move: Move) -> bool:
    """What stands where it goes to does not go there again."""
    if move.from_location is None:
        return location.pk != move.to_location.pk
    return location.pk == move.from_location.pk


def _more_than_stands(move: Move) -> str:
    """How much more is carried than the moves show, in words; '' where it is there."""
    lot, place = move.lot, move.from_location
    if lot.made is None:
        return ""
    there = sum(
        stay.quantity
        for stay in standing(lot, move.when)
        if stay.location is None or _may_come_from(stay.location, move)
    )
    if move.quantity <= there:
        return ""
    return (
        f"{move.quantity_text} moved to {move.to_location}, "
        f"{show_quantity(there, lot.dimension)} stood in {place or 'the place it came from'}: "
        f"{show_quantity(move.quantity - there, lot.dimension)} more than the books show"
    )


# Shipping --------------------------------------------------------------------------------


@dataclass(frozen=True)
class ShipLine:
    """So much of one lot, to be sent."""

    lot: Lot
    quantity: Quantity
    note: str = ""


def ship(
    *,
    actor: User,
    customer: Customer,
    when: When,
    lines: Sequence[ShipLine] = (),
    number: str = "",
    kind: str = "",
    document_type: str = "",
    document_number: str = "",
    transporter: str = "",
    ship_from: Location | None = None,
    loading_temperature: Decimal | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> Shipment:
    """Send bottles to a customer, or sell them to the public at a stall.

    `lines` may be empty where they are written one by one (`add_shipment_line`). Without
    a `number` the next of the day; without a `kind` a sale. What is sold to the public is a
    stall sale.
    More than the books show is recorded, with the difference flagged. Raises `Refused` for
    what cannot be, `Forbidden` for what is kept back or was never bottled.
    """
    refuse_future(when)
    with recording(actor, reason):
        found = Shipment(
            number=_number(number, when),
            customer=customer,
            kind=_kind_of_sale(kind, customer),
            document_type=document_type,
            document_number=document_number,
            transporter=transporter,
            ship_from=ship_from,
            loading_temperature=loading_temperature,
            done_by=done_by or actor,
            note=note,
        )
        found.when = when
        save_new(found)
        sent = [] if already_done else [Intent(line.lot, "sent out") for line in lines]
        with asked_at_once(sent):
            for line in lines:
                add_shipment_line(
                    actor=actor,
                    shipment=found,
                    lot=line.lot,
                    quantity=line.quantity,
                    note=line.note,
                    already_done=already_done,
                )
        return found


def _kind_of_sale(kind: str, customer: Customer) -> str:
    is_public = customer.kind == Customer.Kind.PUBLIC
    if kind == Shipment.Kind.STALL and not is_public:
        raise Refused(
            {
                "customer": f"{customer} has a name: choose a sale. A stall sale goes to the "
                "public, at this stall, on this day."
            }
        )
    if is_public and kind in {"", Shipment.Kind.SALE}:
        return Shipment.Kind.STALL
    return kind or Shipment.Kind.SALE


def sell_to_public(
    *,
    actor: User,
    place: Location,
    when: When,
    lines: Sequence[ShipLine],
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> Shipment:
    """Sell at a stall or the door, where nobody's name is asked: place and day stand for it.

    The public of that place is one customer, written down with the first sale there.
    """
    with recording(actor, reason):
        return ship(
            actor=actor,
            customer=_public_of(actor, place),
            when=when,
            lines=lines,
            done_by=done_by,
            note=note,
            already_done=already_done,
        )


def _public_of(actor: User, place: Location) -> Customer:
    name = f"Public, {place}"[: Customer._meta.get_field("name").max_length]
    public = Customer.objects.live().filter(kind=Customer.Kind.PUBLIC, name__iexact=name).first()
    return public or registers.add(
        actor=actor,
        model=Customer,
        name=name,
        kind=Customer.Kind.PUBLIC,
        address=place.address,
    )


def _number(number: str, when: When) -> str:
    """The number given, or the next of that day: 2026-064-1 is the first of day 64."""
    tidy = " ".join(number.split())
    if tidy:
        return tidy
    day = f"{timezone.localtime(when.at):%Y-%j}"
    taken = set(
        Shipment.objects.live()
        .filter(number__startswith=f"{day}-")
        .values_list("number", flat=True)
    )
    run = 1
    while f"{day}-{run}" in taken:
        run += 1
    return f"{day}-{run}"


def add_shipment_line(
    *,
    actor: User,
    shipment: Shipment,
    lot: Lot,
    quantity: Quantity,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> ShipmentLine:
    """Put so much of a lot into a shipment. See `ship` for what is refused and flagged."""
    if shipment.is_void:
        raise Refused({"shipment": f"Shipment {shipment} was voided: {shipment.void_reason}."})
    refuse_void(lot)
    refuse_amount(lot, quantity)
    refuse_before(lot, shipment.when)
    with recording(actor, reason):
        unfit = _refuse_not_bottled(lot, already_done) or refuse_blocked(
            lot, shipment.when, doing="sent out", already_done=already_done, field="lot"
        )
        short = shortfall(lot, quantity)
        found = ShipmentLine(
            shipment=shipment,
            lot=lot,
            quantity=quantity.canonical,
            quantity_text=quantity.text,
            note=note,
        )
        save_new(found)
        to_whom = f"{quantity} to {shipment.customer} ({shipment})"
        if unfit:
            flag(lot, ReviewFlag.Kind.USED_BLOCKED, f"{to_whom}: {unfit}")
        if short:
            flag(lot, ReviewFlag.Kind.OVERDRAWN, f"{to_whom}: {short}")
        return found


def _refuse_not_bottled(lot: Lot, already_done: bool) -> str:
    if lot.kind == LotKind.BOTTLING:
        return ""
    what = f"{lot} is a {lot.get_kind_display()} and was not bottled"
    if already_done:
        return f"sent out although {what}"
    raise Forbidden(
        {
            "lot": f"{what}: only bottles, cans and kegs are sent out. Record the bottling first. "
            "If it has left already, tick 'this has already happened'."
        }
    )


def take_back(
    *,
    actor: User,
    lot: Lot,
    quantity: Quantity,
    customer: Customer,
    when: When,
    reference: str = "",
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> StockAdjustment:
    """A customer brought bottles back: they are on hand again.

    A reviewer decides what becomes of them, as nobody knows how they were kept. More
    than the customer ever had of the lot is recorded and said so.
    """
    refuse_future(when)
    refuse_void(lot)
    refuse_amount(lot, quantity)
    refuse_before(lot, when)
    with recording(actor, reason):
        had = _still_with(customer, lot)
        found = StockAdjustment(
            lot=lot,
            change=quantity.canonical,
            quantity_text=quantity.text,
            reason=StockAdjustment.Reason.RETURN,
            customer=customer,
            reference=reference,
            done_by=done_by or actor,
            note=note,
        )
        found.when = when
        save_new(found)
        flag(
            lot, ReviewFlag.Kind.RETURNED, f"{quantity} brought back by {customer}: decide on them"
        )
        if quantity.canonical > had:
            flag(
                lot,
                ReviewFlag.Kind.OVERDRAWN,
                f"{quantity} brought back by {customer}, who had "
                f"{show_quantity(had, lot.dimension)} of it by the books",
            )
        return found


def _still_with(customer: Customer, lot: Lot) -> int:
    """What the customer was sent of the lot and has not brought back."""
    lines = ShipmentLine.objects.live().filter(
        lot=lot.pk, shipment__customer=customer, shipment__voided_at__isnull=True
    )
    returns = StockAdjustment.objects.live().filter(
        lot=lot.pk, customer=customer, reason=StockAdjustment.Reason.RETURN
    )
    sent = lines.aggregate(total=Sum("quantity"))["total"] or 0
    back = returns.aggregate(total=Sum("change"))["total"] or 0
    return max(0, sent - back)
