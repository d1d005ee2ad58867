"""Living cultures: bought, fed, pooled, kept back from a batch, split off, retired.

Feeding or topping up begins a new lot of the line with the old one as a source, so
that the graph stays without circles and every drop is where it was at the time.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.utils import timezone

from brewlog.domain.lots import (
    Draw,
    check_code,
    refuse_future,
    save_changed,
    save_new,
    use_lots,
)
from brewlog.domain.refusals import refuse_amount
from brewlog.domain.vessels import flag_unsuitable, refuse_unsuitable
from brewlog.models import (
    CultureLine,
    CultureLot,
    Lot,
    LotKind,
    LotUse,
    Supplier,
    User,
    Vessel,
)
from brewlog.recording import Refused, recording
from brewlog.units import Dimension, Quantity
from brewlog.when import When

_BOUGHT = (CultureLot.Origin.BOUGHT_CULTURE, CultureLot.Origin.BOUGHT_RAW)


def begin_culture(
    *,
    actor: User,
    line: CultureLine,
    origin: str,
    quantity: Quantity,
    when: When,
    code: str = "",
    vessel: Vessel | None = None,
    pellicles: int = 0,
    is_backup: bool = False,
    supplier: Supplier | None = None,
    supplier_code: str = "",
    document_number: str = "",
    lines: Sequence[Draw] = (),
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> CultureLot:
    """A new lot of starter, with what it was made from.

    `lines` may be empty where the uses are written separately. Raises `Refused` for a
    bought culture without a supplier, and `Forbidden` for an unsuitable vessel.
    """
    refuse_future(when)
    if quantity.dimension != Dimension.VOLUME or quantity.canonical <= 0:
        raise Refused({"quantity": "Write how much starter liquid there is, by volume, like 2 L."})
    if origin in _BOUGHT and supplier is None:
        raise Refused({"supplier": "Name who the culture was bought from."})
    with recording(actor, reason):
        unsuitable = refuse_unsuitable(vessel, already_done=already_done)
        lot = CultureLot(
            kind=LotKind.CULTURE,
            code=check_code(code, LotKind.CULTURE, when),
            dimension=Dimension.VOLUME,
            made=quantity.canonical,
            made_text=quantity.text,
            line=line,
            origin=origin,
            vessel=vessel,
            pellicles=pellicles,
            is_backup=is_backup,
            supplier=supplier,
            supplier_code=supplier_code,
            document_number=document_number,
            done_by=done_by or actor,
            note=note,
        )
        lot.when = when
        save_new(lot)
        flag_unsuitable(lot, unsuitable)
        if lines:
            use_lots(
                actor=actor,
                into=lot,
                lines=list(lines),
                when=when,
                done_by=done_by,
                already_done=already_done,
            )
        return lot


def buy_culture(
    *,
    actor: User,
    line: CultureLine,
    quantity: Quantity,
    when: When,
    supplier: Supplier,
    grown_from_drink: bool = False,
    code: str = "",
    supplier_code: str = "",
    document_number: str = "",
    vessel: Vessel | None = None,
    pellicles: int = 0,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> CultureLot:
    """A culture came from outside: the start of a line, or fresh blood for it."""
    origin = CultureLot.Origin.BOUGHT_RAW if grown_from_drink else CultureLot.Origin.BOUGHT_CULTURE
    return begin_culture(
        actor=actor,
        line=line,
        origin=origin,
        quantity=quantity,
        when=when,
        code=code,
        supplier=supplier,
        supplier_code=supplier_code,
        document_number=document_number,
        vessel=vessel,
        pellicles=pellicles,
        done_by=done_by,
        note=note,
        reason=reason,
        already_done=already_done,
    )


def feed(
    *,
    actor: User,
    culture: Lot,
    taken: Quantity,
    quantity: Quantity,
    when: When,
    lines: Sequence[Draw] = (),
    code: str = "",
    vessel: Vessel | None = None,
    pellicles: int | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> CultureLot:
    """Feed or top up a starter: `taken` of it and the `lines` become a new lot of the line.

    The vessel and the pellicles stay as they were unless given.
    """
    old = _culture(culture, "culture")
    refuse_amount(old, taken, "taken")
    return begin_culture(
        actor=actor,
        line=old.line,
        origin=CultureLot.Origin.FED,
        quantity=quantity,
        when=when,
        code=code,
        vessel=vessel or old.vessel,
        pellicles=old.pellicles if pellicles is None else pellicles,
        is_backup=old.is_backup,
        lines=[Draw(old, taken, LotUse.Purpose.CULTURE), *lines],
        done_by=done_by,
        note=note,
        reason=reason,
        already_done=already_done,
    )


def pool(
    *,
    actor: User,
    line: CultureLine,
    quantity: Quantity,
    when: When,
    lines: Sequence[Draw],
    code: str = "",
    vessel: Vessel | None = None,
    pellicles: int = 0,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> CultureLot:
    """Pour several starters together. What one carries, the pool carries from now on."""
    if len({draw.source.pk for draw in lines}) < 2:
        raise Refused("A pool takes two starters or more. Name each with its amount.")
    for draw in lines:
        _culture(draw.source, "lines")
    return begin_culture(
        actor=actor,
        line=line,
        origin=CultureLot.Origin.POOLED,
        quantity=quantity,
        when=when,
        code=code,
        vessel=vessel,
        pellicles=pellicles,
        lines=lines,
        done_by=done_by,
        note=note,
        reason=reason,
        already_done=already_done,
    )


def keep_back(
    *,
    actor: User,
    batch: Lot,
    quantity: Quantity,
    when: When,
    line: CultureLine | None = None,
    code: str = "",
    vessel: Vessel | None = None,
    pellicles: int = 0,
    is_backup: bool = False,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> CultureLot:
    """Keep starter back from a batch, before flavouring: one transfer further on.

    The line is the one the batch's starter came from, unless it is named. Raises
    `Refused` for a batch of two lines with none named, or of none.
    """
    if batch.kind != LotKind.BATCH:
        raise Refused({"batch": f"{batch} is a {batch.get_kind_display()}, not a batch."})
    return begin_culture(
        actor=actor,
        line=line or _line_of(batch),
        origin=CultureLot.Origin.KEPT_BACK,
        quantity=quantity,
        when=when,
        code=code,
        vessel=vessel,
        pellicles=pellicles,
        is_backup=is_backup,
        lines=[Draw(batch, quantity, LotUse.Purpose.CULTURE)],
        done_by=done_by,
        note=note,
        reason=reason,
        already_done=already_done,
    )


def split_backup(
    *,
    actor: User,
    culture: Lot,
    quantity: Quantity,
    when: When,
    code: str = "",
    vessel: Vessel | None = None,
    pellicles: int = 0,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> CultureLot:
    """Set part of a starter apart as the line's backup."""
    old = _culture(culture, "culture")
    return begin_culture(
        actor=actor,
        line=old.line,
        origin=CultureLot.Origin.BACKUP,
        quantity=quantity,
        when=when,
        code=code,
        vessel=vessel,
        pellicles=pellicles,
        is_backup=True,
        lines=[Draw(old, quantity, LotUse.Purpose.CULTURE)],
        done_by=done_by,
        note=note,
        reason=reason,
        already_done=already_done,
    )


def retire(
    *,
    actor: User,
    culture: Lot,
    retire_reason: str,
    when: When | None = None,
    done_by: User | None = None,
    reason: str = "",
) -> CultureLot:
    """Take a starter out of use for good. What was made from it stays as it is."""
    lot = _culture(culture, "culture")
    if not retire_reason.strip():
        raise Refused({"retire_reason": "Say why it is retired."})
    if when is not None:
        refuse_future(when)
        if when.provably_before(lot.when):
            raise Refused({"when": f"{lot} did not exist before {lot.when}."})
    with recording(actor, reason or retire_reason):
        lot.reread()
        if lot.retired_at is not None:
            raise Refused({"culture": f"{lot} is retired already: {lot.retire_reason}"})
        lot.retired_at = when.at if when else timezone.now()
        lot.retired_by = done_by or actor
        lot.retire_reason = retire_reason.strip()
        save_changed(lot)
        return lot


def _culture(lot: Lot, field: str) -> CultureLot:
    found = lot.detail
    if not isinstance(found, CultureLot):
        raise Refused({field: f"{lot} is a {lot.get_kind_display()}, not a starter."})
    return found


def _line_of(batch: Lot) -> CultureLine:
    """The one line whose starter went into the batch. Raises `Refused` for none or several."""
    lines = {
        use.source.detail.line  # type: ignore[attr-defined]
        for use in LotUse.objects.live()
        .filter(into=batch.pk, source__kind=LotKind.CULTURE)
        .select_related("source")
    }
    if len(lines) == 1:
        return lines.pop()
    if lines:
        names = " and ".join(sorted(line.name for line in lines))
        raise Refused({"line": f"{batch} was started with {names}. Name the line it goes on as."})
    raise Refused(
        {"line": f"No starter is written down for {batch}. Name the culture line it goes on as."}
    )
