"""Brews and batches: planned, filled, pitched, blended, step by step."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from brewlog.domain.instruments import flag_doubt
from brewlog.domain.lots import (
    Draw,
    check_code,
    flag,
    refuse_future,
    save_changed,
    save_new,
    use_lot,
    use_lots,
)
from brewlog.domain.vessels import (
    flag_unsuitable,
    refuse_occupied,
    refuse_overfull,
    refuse_unsuitable,
)
from brewlog.models import (
    Batch,
    Brew,
    Instrument,
    Lot,
    LotKind,
    LotUse,
    ProcessStep,
    RecipeVersion,
    ReviewFlag,
    User,
    Vessel,
)
from brewlog.recording import Forbidden, Refused, recording
from brewlog.units import Dimension, Quantity, show_temperature
from brewlog.when import When


def start_brew(
    *,
    actor: User,
    when: When,
    quantity: Quantity | None = None,
    recipe: RecipeVersion | None = None,
    kettle: Vessel | None = None,
    planned: Quantity | None = None,
    water_source: str = "",
    lines: Sequence[Draw] = (),
    code: str = "",
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> Brew:
    """A kettle of sweet tea, with what went in. It may fill several vessels.

    `quantity` is its volume, where it is known; it can be written when the kettle is
    emptied. Sweet tea is not acid, so the kettle may be of any material that is clean.
    """
    refuse_future(when)
    _refuse_not_volume(quantity, "quantity")
    _refuse_not_volume(planned, "planned")
    with recording(actor, reason):
        unapproved = _refuse_unapproved(recipe, already_done)
        brew = Brew(
            kind=LotKind.BREW,
            code=check_code(code, LotKind.BREW, when),
            dimension=Dimension.VOLUME,
            made=quantity.canonical if quantity else None,
            made_text=quantity.text if quantity else "",
            recipe=recipe,
            kettle=kettle,
            planned=planned.canonical if planned else None,
            planned_text=planned.text if planned else "",
            water_source=water_source,
            done_by=done_by or actor,
            note=note,
        )
        brew.when = when
        save_new(brew)
        _flag_unapproved(brew, unapproved)
        if lines:
            use_lots(
                actor=actor,
                into=brew,
                lines=list(lines),
                when=when,
                done_by=done_by,
                already_done=already_done,
            )
        return brew


def plan_batch(
    *,
    actor: User,
    when: When,
    vessel: Vessel | None = None,
    recipe: RecipeVersion | None = None,
    planned: Quantity | None = None,
    water_source: str = "",
    code: str = "",
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> Batch:
    """Begin a batch: a vessel, a recipe version and the volume aimed at.

    What it takes of each ingredient follows from the recipe (`recipes.scale`). Raises
    `Forbidden` for a vessel acid must not stand in or a recipe nobody approved.
    """
    refuse_future(when)
    _refuse_not_volume(planned, "planned")
    refuse_overfull(vessel, planned, "planned")
    with recording(actor, reason):
        unsuitable = refuse_unsuitable(vessel, already_done=already_done) or refuse_occupied(
            vessel, already_done=already_done
        )
        unapproved = _refuse_unapproved(recipe, already_done)
        batch = Batch(
            kind=LotKind.BATCH,
            code=check_code(code, LotKind.BATCH, when),
            dimension=Dimension.VOLUME,
            recipe=recipe,
            vessel=vessel,
            planned=planned.canonical if planned else None,
            planned_text=planned.text if planned else "",
            water_source=water_source,
            done_by=done_by or actor,
            note=note,
        )
        batch.when = when
        save_new(batch)
        flag_unsuitable(batch, unsuitable)
        _flag_unapproved(batch, unapproved)
        return batch


def _refuse_not_volume(quantity: Quantity | None, field: str) -> None:
    if quantity is None:
        return
    if quantity.dimension != Dimension.VOLUME or quantity.canonical <= 0:
        raise Refused({field: "Write a volume of more than nothing, like 40 L."})


def _refuse_unapproved(recipe: RecipeVersion | None, already_done: bool) -> str:
    if recipe is None or recipe.is_approved:
        return ""
    if already_done:
        return f"begun by {recipe}, which nobody had approved"
    raise Forbidden(
        {
            "recipe": f"{recipe} is not approved. Ask the manager to approve it, or choose a "
            "version that is. If the brew is made already, tick 'this has already happened'."
        }
    )


def _flag_unapproved(lot: Lot, why: str) -> None:
    if why:
        flag(lot, ReviewFlag.Kind.UNAPPROVED, why)


def record_step(
    *,
    actor: User,
    lot: Lot,
    kind: str,
    when: When,
    temperature: Decimal | None = None,
    temperature_text: str = "",
    volume: Quantity | None = None,
    minutes: int | None = None,
    instrument: Instrument | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> ProcessStep:
    """A step of the work on a brew or a batch."""
    refuse_future(when)
    _refuse_not_volume(volume, "volume")
    if lot.kind not in {LotKind.BREW, LotKind.BATCH, LotKind.PREPARATION}:
        raise Refused(
            {"lot": f"{lot} is a {lot.get_kind_display()}. Steps belong to brews and batches."}
        )
    if lot.is_void:
        raise Refused({"lot": f"{lot} was voided: {lot.void_reason}."})
    with recording(actor, reason):
        step = ProcessStep(
            lot_id=lot.pk,
            kind=kind,
            temperature=temperature,
            temperature_text=temperature_text,
            volume=volume.canonical if volume else None,
            volume_text=volume.text if volume else "",
            minutes=minutes,
            instrument=instrument,
            done_by=done_by or actor,
            note=note,
        )
        step.when = when
        save_new(step)
        if instrument is not None:
            told = f"{step.get_kind_display()} {temperature_text}".strip()
            flag_doubt(lot, instrument, when, told)
        return step


def fill(
    *,
    actor: User,
    batch: Lot,
    when: When,
    lines: Sequence[Draw],
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> list[LotUse]:
    """Fill a batch's vessel: sweet tea from one or several brews, or ingredients straight in."""
    _batch(batch, "batch")
    return use_lots(
        actor=actor,
        into=batch,
        lines=list(lines),
        when=when,
        done_by=done_by,
        note=note,
        reason=reason,
        already_done=already_done,
    )


def pitch(
    *,
    actor: User,
    batch: Lot,
    lines: Sequence[Draw],
    quantity: Quantity,
    when: When,
    temperature: Decimal | None = None,
    temperature_text: str = "",
    instrument: Instrument | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> Batch:
    """Add the starter. `quantity` is what the vessel holds afterwards: the batch's amount.

    The clock of the ferment begins here. Raises `Refused` for a batch pitched before, or
    started with nothing; `Forbidden` for a starter that is held, retired or made from one.
    """
    found = _batch(batch, "batch")
    refuse_future(when)
    _refuse_not_volume(quantity, "quantity")
    refuse_overfull(found.vessel, quantity, "quantity")
    if not any(draw.source.kind == LotKind.CULTURE for draw in lines):
        raise Refused("Name the starter that was added and how much of it.")
    if when.provably_before(found.when):
        raise Refused({"when": f"{found} was begun {found.when}; starter cannot go in before."})
    with recording(actor, reason):
        found.reread()
        if found.pitched_at is not None:
            raise Refused(
                {
                    "batch": f"{found} had its starter added already. If more went in, record it "
                    "as a transfer; if the first entry is wrong, correct it."
                }
            )
        use_lots(
            actor=actor,
            into=found,
            lines=list(lines),
            when=when,
            done_by=done_by,
            already_done=already_done,
        )
        found.made = quantity.canonical
        found.made_text = quantity.text
        found.pitched_at = when.at
        found.pitched_precision = when.precision.value
        save_changed(found)
        record_step(
            actor=actor,
            lot=found,
            kind=ProcessStep.Kind.PITCH,
            when=when,
            temperature=temperature,
            temperature_text=temperature_text,
            volume=quantity,
            instrument=instrument,
            done_by=done_by,
            note=note,
        )
        _flag_too_warm(found, temperature)
        return found


def _flag_too_warm(batch: Batch, temperature: Decimal | None) -> None:
    """Starter went into tea warmer than the recipe allows: the culture may be dead."""
    limit = batch.recipe.pitch_temperature if batch.recipe else None
    if temperature is not None and limit is not None and temperature > limit:
        flag(
            batch,
            ReviewFlag.Kind.CONDITION,
            f"starter added at {show_temperature(temperature)}; {batch.recipe} says "
            f"{show_temperature(limit)} or below. Hot tea kills the culture",
        )


def _batch(lot: Lot, field: str) -> Batch:
    found = lot.detail
    if not isinstance(found, Batch):
        raise Refused({field: f"{lot} is a {lot.get_kind_display()}, not a batch."})
    return found


def transfer(
    *,
    actor: User,
    source: Lot,
    into: Lot,
    quantity: Quantity,
    when: When,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> LotUse:
    """Move or blend drink from one batch into another. Both keep their codes.

    From then on the second holds what the first held: a hold that travels with the
    drink travels here too.
    """
    _batch(source, "source")
    _batch(into, "into")
    return use_lot(
        actor=actor,
        source=source,
        into=into,
        quantity=quantity,
        purpose=LotUse.Purpose.TRANSFER,
        when=when,
        done_by=done_by,
        note=note,
        reason=reason,
        already_done=already_done,
    )


def write_volume(*, actor: User, brew: Lot, quantity: Quantity, reason: str = "") -> Brew:
    """Write what the kettle held, once it is known."""
    found = brew.detail
    if not isinstance(found, Brew):
        raise Refused({"brew": f"{brew} is a {brew.get_kind_display()}, not a brew."})
    _refuse_not_volume(quantity, "quantity")
    with recording(actor, reason):
        found.reread()
        found.made = quantity.canonical
        found.made_text = quantity.text
        save_changed(found)
        return found
