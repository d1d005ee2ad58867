"""What every verb about lots needs: saving, codes, uses, stock, voiding and correcting.

Two kinds of no. What cannot be (`Refused`) is never recorded: a use before its source
existed, a circle, a nonsensical amount. What should not be (`Forbidden`) is refused
while it is about to happen, and recorded and flagged for review once it has.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import UniqueConstraint
from django.utils import timezone

from brewlog.domain.blocks import refuse_blocked, uses_asked
from brewlog.domain.versions import refuse_overtaken
from brewlog.ledger import on_hand
from brewlog.models import (
    CODE_LETTER,
    Brewery,
    Lot,
    LotKind,
    LotUse,
    ReviewFlag,
    User,
)
from brewlog.models.base import Guarded, HappenedMixin
from brewlog.recording import Refused, recording
from brewlog.trace import reaches
from brewlog.units import Dimension, Quantity, show_quantity
from brewlog.when import When, now


def save_new(record: Guarded) -> None:
    """Check a record against its fields and the database's constraints, and save it.

    Raises `ValidationError` by field. Existing links are not looked up again.
    """
    links = [
        field.name
        for field in record._meta.concrete_fields
        if field.is_relation and getattr(record, field.attname) is not None
    ]
    record.clean_fields(exclude=[*links, "recorded_at", "recorded_by"])
    save_changed(record)


def save_changed(record: Guarded) -> None:
    """Save a record, with the database's refusals in words. Raises `ValidationError`.

    Names that must be unique are asked for first, so that the message is about the
    field; the other constraints are the database's to check, once.
    """
    for model, constraints in record.get_constraints():
        for constraint in constraints:
            if isinstance(constraint, UniqueConstraint):
                constraint.validate(model, record)
    try:
        with transaction.atomic():
            record.save()
    except IntegrityError as error:
        raise _in_words(record, error) from error


def _in_words(record: Guarded, error: IntegrityError) -> ValidationError:
    """The constraint's own message; an unknown one is the program's fault and is raised."""
    said = str(error)
    for _, constraints in record.get_constraints():
        for constraint in constraints:
            if constraint.name in said:
                return ValidationError(constraint.get_violation_error_message())
    raise error


def refuse_future(when: When) -> None:
    """Nothing has happened that is still to come. A few minutes are a clock's error."""
    if When(timezone.now() + dt.timedelta(minutes=5)).provably_before(when):
        raise Refused(
            {"when": f"{when} is still to come. Write it when it has happened, or mend the time."}
        )


def code_run(number: int) -> str:
    """0, 1, 2... as A, B... Z, AA, AB...: the run of a day's lot codes."""
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def next_code(kind: LotKind, when: When) -> str:
    """The next free lot code of that kind and day, by the brewery's pattern.

    The default is the day-of-year form (common practice): B26147A is the first batch
    begun on day 147 of 2026.
    """
    brewery = Brewery.objects.first()
    pattern = brewery.lot_code_pattern if brewery else Brewery().lot_code_pattern
    day = timezone.localtime(when.at)
    for number in range(10_000):
        code = pattern.format(
            kind=CODE_LETTER[kind],
            yy=f"{day:%y}",
            yyyy=f"{day:%Y}",
            mm=f"{day:%m}",
            dd=f"{day:%d}",
            day=f"{day:%j}",
            run=code_run(number),
        )
        if not Lot.objects.live().with_code(code).exists():
            return code
    raise Refused("No free lot code is left for that day. Write one yourself.")


def check_code(code: str, kind: LotKind, when: When) -> str:
    """The code given, tidied, or the next one. Raises `Refused` where it is taken."""
    tidy = " ".join(code.split())
    if not tidy:
        return next_code(kind, when)
    taken = Lot.objects.coded(tidy)
    if taken:
        raise Refused(
            {
                "code": f"Lot code {tidy} is taken: it is a {taken.get_kind_display()} "
                f"of {taken.when}. Choose another."
            }
        )
    return tidy


def flag(lot: Lot, kind: str, text: str) -> ReviewFlag:
    """Put something before a reviewer. Call it inside `recording()`."""
    found = ReviewFlag(lot_id=lot.pk, kind=kind, text=text)
    save_new(found)
    return found


# Uses ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Draw:
    """An amount of one lot to be taken, and what for."""

    source: Lot
    quantity: Quantity
    purpose: str
    added: int | None = None


def use_lot(
    *,
    actor: User,
    source: Lot,
    into: Lot,
    quantity: Quantity,
    purpose: str,
    when: When,
    done_by: User | None = None,
    added: Quantity | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> LotUse:
    """Take an amount of one lot into another: the only way an edge comes to be.

    `quantity` is in the source's dimension. `added` is what it added to the product's
    amount when that had been measured before; an amount of the product's own dimension
    that goes in afterwards counts by itself. Taking more than the books show is
    recorded, with the difference flagged, because the books may be wrong.

    Raises `Refused` for what cannot be (a circle, before the source began, nothing taken,
    another dimension) and `Forbidden` for a source or a product that is kept back.
    """
    with recording(actor, reason):
        refuse_future(when)
        _refuse_impossible_use(source, into, quantity, when)
        with uses_asked([source], [into], already_done):
            flagged = refuse_blocked(
                source, when, doing="used", already_done=already_done, field="source"
            ) or refuse_blocked(
                into, when, doing="added to", already_done=already_done, field="into"
            )
        short = shortfall(source, quantity)
        use = LotUse(
            source_id=source.pk,
            into_id=into.pk,
            quantity=quantity.canonical,
            quantity_text=quantity.text,
            added=_added(source, into, quantity, when, purpose, added),
            purpose=purpose,
            done_by=done_by or actor,
            note=note,
        )
        use.when = when
        save_new(use)
        if flagged:
            flag(source, ReviewFlag.Kind.USED_BLOCKED, f"{quantity} into {into}: {flagged}")
        if short:
            flag(source, ReviewFlag.Kind.OVERDRAWN, f"{quantity} into {into}: {short}")
        return use


def _refuse_impossible_use(source: Lot, into: Lot, quantity: Quantity, when: When) -> None:
    if source.is_void or into.is_void:
        gone = source if source.is_void else into
        raise Refused({"source": f"{gone} was voided: {gone.void_reason}. Use another lot."})
    if source.pk == into.pk:
        raise Refused({"source": f"{source} cannot be used in itself. Name another lot."})
    if quantity.canonical <= 0:
        raise Refused({"quantity": "Nothing was taken. Write an amount of more than nothing."})
    if quantity.dimension != source.dimension:
        raise Refused(
            {
                "quantity": f"{source} is counted by {source.dimension}, and {quantity} is a "
                f"{quantity.dimension}. Write the amount by {source.dimension}."
            }
        )
    if when.provably_before(source.when):
        raise Refused(
            {
                "when": f"{source} did not exist before {source.when}; this says {when}. "
                "Mend the time, or name the lot that was used."
            }
        )
    if reaches(into.pk, source.pk):
        raise Refused(
            {
                "source": f"{source} was itself made from {into}, so it cannot go into it. "
                "If it was topped up, begin a new lot."
            }
        )


def _added(
    source: Lot, into: Lot, quantity: Quantity, when: When, purpose: str, added: Quantity | None
) -> int | None:
    """What the use adds to a product that was measured before, in the product's unit.

    Bottles are counted as they are filled: caps and flavouring never make more of them.
    """
    if into.kind == LotKind.BOTTLING:
        return None
    if added is not None:
        if added.dimension != into.dimension:
            raise Refused(
                {"added": f"{into} is counted by {into.dimension}; write what was added so."}
            )
        return added.canonical or None
    measured_at = measured_when(into)
    if measured_at is None or not measured_at.provably_before(when):
        return None
    if source.dimension == into.dimension:
        return quantity.canonical
    return _volume_by_density(source, quantity) if into.dimension == Dimension.VOLUME else None


def _volume_by_density(source: Lot, quantity: Quantity) -> int | None:
    """Microlitres of a weighed ingredient of known density; None where it is not known."""
    if source.kind != LotKind.INGREDIENT or quantity.dimension != Dimension.MASS:
        return None
    density = source.detail.ingredient.density  # type: ignore[attr-defined]
    return int(quantity.canonical / density) or None if density else None


def measured_when(lot: Lot) -> When | None:
    """When the lot's amount was taken: a batch's at pitching, others' as they began."""
    if lot.made is None:
        return None
    if lot.kind == LotKind.BATCH:
        batch = lot.detail
        if batch.pitched_at is None:  # type: ignore[attr-defined]
            return None
        return When(batch.pitched_at, batch.pitched_precision)  # type: ignore[attr-defined]
    return lot.when


def shortfall(source: Lot, quantity: Quantity) -> str:
    """How much more is taken than the books show, in words; '' where it is there.

    Of a lot whose amount is not known yet nothing can be said.
    """
    if source.made is None:
        return ""
    there = on_hand([source.pk])[source.pk]
    if quantity.canonical <= there:
        return ""
    missing = show_quantity(quantity.canonical - there, source.dimension)
    return (
        f"{quantity} taken, {show_quantity(max(there, 0), source.dimension)} on the books: "
        f"{missing} more than they show"
    )


def use_lots(
    *,
    actor: User,
    into: Lot,
    lines: list[Draw],
    when: When,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> list[LotUse]:
    """Take several lots into one, all or nothing."""
    if not lines:
        raise Refused("Nothing was taken. Name at least one lot and how much of it.")
    sources = [line.source for line in lines]
    with recording(actor, reason), uses_asked(sources, [into], already_done):
        return [
            use_lot(
                actor=actor,
                source=line.source,
                into=into,
                quantity=line.quantity,
                purpose=line.purpose,
                when=when,
                done_by=done_by,
                note=note,
                already_done=already_done,
            )
            for line in lines
        ]


# Voiding and correcting ------------------------------------------------------------------


def void(*, actor: User, record: Guarded, reason: str, seen: int | None = None) -> Guarded:
    """Strike an entry out, with a reason; it stays visible.

    A lot is voided only after what leans on it: its live uses, shipments and
    adjustments, which the refusal lists. `seen` is the version the person had before them:
    raises `Overtaken` where somebody has changed it since.
    """
    if not reason.strip():
        raise Refused({"reason": "Say why the entry is wrong."})
    with recording(actor, reason):
        record = record.detail if type(record) is Lot else record
        record.reread()
        refuse_overtaken(record, seen)
        if getattr(record, "signature_id", None) is not None:
            raise Refused(f"{record} is signed: it is undone by a new act, not struck out.")
        leaning = leaning_on(record)
        if leaning:
            listed = "; ".join(str(each) for each in leaning[:10])
            more = f" and {len(leaning) - 10} more" if len(leaning) > 10 else ""
            raise Refused(f"{record} is in use. Void these first: {listed}{more}.")
        record.voided_at = timezone.now()
        record.voided_by = actor
        record.void_reason = reason.strip()
        record.save()
        return record


def leaning_on(record: Guarded) -> list[Guarded]:
    """The live records that point at this one."""
    leaning: list[Guarded] = []
    for relation in record._meta.related_objects:
        model = relation.related_model
        if not (isinstance(model, type) and issubclass(model, Guarded)):
            continue
        if relation.parent_link or relation.one_to_one:
            continue
        rows = model.objects.live().filter(**{relation.field.name: record.pk})
        leaning += list(rows[:20])
    return leaning


def correct(
    *, actor: User, record: Guarded, reason: str, seen: int | None = None, **changes: object
) -> Guarded:
    """Write a new version of an entry, with a reason. Raises `ValidationError` by field.

    `seen` is the version the person had before them: what others changed since is not written
    over (`Overtaken`); what they changed beside it stays.
    """
    if not reason.strip():
        raise Refused({"reason": "Say what was wrong and why it is mended now."})
    with recording(actor, reason):
        record.reread()
        refuse_overtaken(record, seen, changes)
        for name, value in changes.items():
            if not hasattr(record, name):
                raise ValidationError({name: f"{record._meta.verbose_name} has no '{name}'."})
            setattr(record, name, value)
        if isinstance(record, HappenedMixin) and now().provably_before(record.when):
            refuse_future(record.when)
        save_changed(record)
        return record
