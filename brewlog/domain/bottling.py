"""Bottling: one or several batches into several flavours and formats in one go."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils import timezone

from brewlog.domain import registers
from brewlog.domain.blocks import blocks, uses_asked
from brewlog.domain.lots import check_code, flag, refuse_future, save_new, use_lot
from brewlog.models import (
    BottlingLot,
    Flavour,
    Format,
    Ingredient,
    Lot,
    LotKind,
    LotUse,
    ReviewFlag,
    User,
)
from brewlog.recording import Forbidden, Refused, recording
from brewlog.units import Dimension, Quantity, show_quantity
from brewlog.when import When

# A vessel's marks and a jug are good to a few percent; beyond a quarter, one of the two
# figures is a slip (common practice).
_WORTH_A_LOOK = Decimal("1.05")
_A_SLIP = Decimal("1.25")


@dataclass(frozen=True)
class Drawn:
    """So much of a batch, or of a flavouring or packaging lot, for the bottles.

    For every flavour and format, or only for those of `flavour` and of `format`.
    """

    source: Lot
    quantity: Quantity
    flavour: Flavour | None = None
    format: Format | None = None


@dataclass(frozen=True)
class Output:
    """Bottles of one flavour and format. `count` is without the rejects; `fill` is one
    bottle's, the format's net contents where it is left out."""

    flavour: Flavour
    format: Format
    count: int
    code: str = ""
    rejects: int | None = None
    fill: Quantity | None = None
    planned_count: int | None = None
    carbonation: str = ""
    conditioning_from: When | None = None
    conditioning_temperature: Decimal | None = None
    best_before: dt.date | None = None
    label_version: str = ""

    @property
    def filled(self) -> int:
        """The drink in its bottles, rejects included, in µL."""
        each = self.fill.canonical if self.fill else self.format.holds
        return each * self.pieces

    @property
    def pieces(self) -> int:
        return self.count + (self.rejects or 0)

    @property
    def works_on(self) -> bool:
        """Whether the drink makes its gas in the bottle."""
        return self.carbonation in {
            "",
            BottlingLot.Carbonation.NATURAL,
            BottlingLot.Carbonation.MIXED,
        }


def add_format(*, actor: User, name: str, holds: Quantity, **fields: Any) -> Format:
    """Add a bottle, can, keg or growler, with what it holds."""
    return registers.add(
        actor=actor, model=Format, name=name, holds=holds.canonical, holds_text=holds.text, **fields
    )


def bottle(
    *,
    actor: User,
    when: When,
    draws: Sequence[Drawn],
    outputs: Sequence[Output],
    additions: Sequence[Drawn] = (),
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
) -> list[BottlingLot]:
    """Fill bottles of one or several flavours and formats from one or several batches.

    Each output becomes a lot, in the order given. What was drawn is shared among the
    outputs it is for by the volume they hold, packaging by the number of bottles, in
    whole units that add up to exactly what was drawn. Raises `Refused` for what cannot
    be and `Forbidden` for a batch or lot that is kept back, or bottles that burst.
    """
    refuse_future(when)
    if not draws:
        raise Refused("Name the batch that was bottled, and how much was drawn of it.")
    if not outputs:
        raise Refused("Name at least one flavour and format, and how many were filled.")
    return _fill(actor, when, draws, outputs, additions, done_by, note, reason, already_done)


def bottle_one(
    *,
    actor: User,
    when: When,
    flavour: Flavour,
    format: Format,
    count: int,
    batch: Lot | None = None,
    drawn: Quantity | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
    already_done: bool = False,
    **facts: Any,
) -> BottlingLot:
    """Fill bottles of one flavour and format; what went in may be written separately.

    `facts` are those of an `Output`. See `bottle` for what is refused.
    """
    refuse_future(when)
    if (batch is None) != (drawn is None):
        missing, told = ("drawn", "how much of it was drawn") if batch else ("batch", "the batch")
        raise Refused({missing: f"Write {told} as well, or leave both empty."})
    draws = [Drawn(batch, drawn)] if batch is not None and drawn is not None else []
    output = Output(flavour, format, count, **facts)
    return _fill(actor, when, draws, [output], (), done_by, note, reason, already_done)[0]


def _fill(
    actor: User,
    when: When,
    draws: Sequence[Drawn],
    outputs: Sequence[Output],
    additions: Sequence[Drawn],
    done_by: User | None,
    note: str,
    reason: str,
    already_done: bool,
) -> list[BottlingLot]:
    for output in outputs:
        _refuse_output(output, when)
    _refuse_wrong_kinds(draws, additions)
    more = _more_filled_than_drawn(draws, outputs, additions)
    with recording(actor, reason):
        bursting = [_refuse_bursting(output, already_done) for output in outputs]
        lots = [_save_lot(output, when, done_by or actor, note) for output in outputs]
        drawn_on = [*additions, *draws]
        with uses_asked([each.source for each in drawn_on], lots, already_done):
            for drawn in _the_kept_back_last(drawn_on):
                _share(actor, drawn, lots, outputs, when, done_by, already_done)
        for lot, why in zip(lots, bursting, strict=True):
            if why:
                flag(lot, ReviewFlag.Kind.CONTAINER, why)
        if more:
            flag(lots[0], ReviewFlag.Kind.OVERDRAWN, more)
        return lots


def _refuse_output(output: Output, when: When) -> None:
    if output.count <= 0:
        raise Refused({"count": "Nothing was filled. Write how many bottles came off the line."})
    if output.fill is not None:
        if output.fill.dimension != Dimension.VOLUME or output.fill.canonical <= 0:
            raise Refused({"fill": "Write the fill of one bottle as a volume, like 330 mL."})
        if output.fill.canonical > output.format.holds * Decimal("1.1"):
            raise Refused(
                {
                    "fill": f"{output.format} holds {output.format.holds_text}, and {output.fill} "
                    "is more. Write the fill of one bottle."
                }
            )
    day = timezone.localtime(when.at).date()
    if output.best_before is not None and output.best_before <= day:
        raise Refused({"best_before": f"That is before the bottling of {when}. Mend one of them."})
    if output.conditioning_from is not None and output.conditioning_from.provably_before(when):
        raise Refused({"conditioning_from": f"The bottles were only filled on {when}."})


def _refuse_wrong_kinds(draws: Sequence[Drawn], additions: Sequence[Drawn]) -> None:
    for drawn in draws:
        if drawn.source.kind != LotKind.BATCH:
            kind = drawn.source.get_kind_display()
            raise Refused({"source": f"{drawn.source} is a {kind}, not a batch to bottle."})
    for drawn in additions:
        if drawn.source.kind not in {LotKind.INGREDIENT, LotKind.PREPARATION}:
            kind = drawn.source.get_kind_display()
            raise Refused(
                {
                    "source": f"{drawn.source} is a {kind}. What is added to bottles is a "
                    "delivery or a preparation."
                }
            )


def _more_filled_than_drawn(
    draws: Sequence[Drawn], outputs: Sequence[Output], additions: Sequence[Drawn]
) -> str:
    """How much more the bottles hold than went in, in words; '' where it fits.

    Raises `Refused` where one of the figures must be a slip. A kilogram of fruit counts
    as a litre.
    """
    if not draws:
        return ""
    went_in = sum(drawn.quantity.canonical for drawn in draws) + sum(
        drawn.quantity.canonical
        for drawn in additions
        if drawn.quantity.dimension in {Dimension.VOLUME, Dimension.MASS}
    )
    filled = sum(output.filled for output in outputs)
    if filled <= went_in * _WORTH_A_LOOK:
        return ""
    told = (
        f"the bottles hold {show_quantity(filled, Dimension.VOLUME)} and "
        f"{show_quantity(went_in, Dimension.VOLUME)} went in"
    )
    if filled > went_in * _A_SLIP:
        raise Refused(f"T{told[1:]}. Mend the number of bottles, the fill or the amount drawn.")
    return told


def _refuse_bursting(output: Output, already_done: bool) -> str:
    is_still = output.carbonation == BottlingLot.Carbonation.STILL
    if output.format.rating != Format.Rating.DECORATIVE or is_still:
        return ""
    why = f"{output.format} is decorative and not made for pressure: it can burst"
    if already_done:
        return f"filled although {why}"
    raise Forbidden(
        {
            "format": f"{why}. Use bottles rated by their maker. If they are filled already, "
            "tick 'this has already happened', chill them and keep people away."
        }
    )


def _save_lot(output: Output, when: When, done_by: User, note: str) -> BottlingLot:
    day = timezone.localtime(when.at).date()
    keeps = dt.timedelta(days=output.flavour.best_before_days)
    warm_from = output.conditioning_from or (when if output.works_on else None)
    lot = BottlingLot(
        kind=LotKind.BOTTLING,
        code=check_code(output.code, LotKind.BOTTLING, when),
        dimension=Dimension.COUNT,
        made=output.count,
        made_text=str(output.count),
        flavour=output.flavour,
        format=output.format,
        planned_count=output.planned_count,
        rejects=output.rejects or 0,
        fill=output.fill.canonical if output.fill else None,
        fill_text=output.fill.text if output.fill else "",
        carbonation=output.carbonation or BottlingLot.Carbonation.NATURAL,
        conditioning_from=warm_from.at if warm_from else None,
        conditioning_temperature=output.conditioning_temperature,
        best_before=output.best_before or day + keeps,
        label_version=output.label_version,
        done_by=done_by,
        note=note,
    )
    lot.when = when
    save_new(lot)
    return lot


def _the_kept_back_last(drawn: list[Drawn]) -> list[Drawn]:
    """In this order only what is kept back is flagged, not what went in beside it."""
    return sorted(drawn, key=lambda each: bool(blocks(each.source)))


def _share(
    actor: User,
    drawn: Drawn,
    lots: Sequence[BottlingLot],
    outputs: Sequence[Output],
    when: When,
    done_by: User | None,
    already_done: bool,
) -> None:
    """Write what was drawn as uses into the lots it is for."""
    into = [
        (lot, output)
        for lot, output in zip(lots, outputs, strict=True)
        if (drawn.flavour is None or drawn.flavour.pk == output.flavour.pk)
        and (drawn.format is None or drawn.format.pk == output.format.pk)
    ]
    if not into:
        meant = " in ".join(str(each) for each in (drawn.flavour, drawn.format) if each)
        raise Refused({"flavour": f"No bottles of {meant} are filled here."})
    purpose = _purpose(drawn.source)
    weigh: Callable[[Output], int] = (
        (lambda output: output.pieces)
        if purpose == LotUse.Purpose.PACKAGING
        else (lambda output: output.filled)
    )
    parts = share(drawn.quantity.canonical, [weigh(output) for _, output in into])
    for (lot, _), part in zip(into, parts, strict=True):
        if part == 0:
            continue
        use_lot(
            actor=actor,
            source=drawn.source,
            into=lot,
            quantity=_part_of(drawn.quantity, part),
            purpose=purpose,
            when=when,
            done_by=done_by,
            already_done=already_done,
        )


def _purpose(source: Lot) -> str:
    if source.kind == LotKind.BATCH:
        return LotUse.Purpose.DRINK
    if source.kind == LotKind.INGREDIENT:
        ingredient = source.detail.ingredient  # type: ignore[attr-defined]
        if ingredient.kind == Ingredient.Kind.PACKAGING:
            return LotUse.Purpose.PACKAGING
    return LotUse.Purpose.FLAVOURING


def _part_of(whole: Quantity, part: int) -> Quantity:
    if part == whole.canonical:
        return whole
    return Quantity(
        part, whole.dimension, f"{show_quantity(part, whole.dimension)} of {whole}"[:60]
    )


def share(amount: int, weights: Sequence[int]) -> list[int]:
    """Whole parts of an amount in proportion to the weights, adding up to it exactly.

    What rounding down leaves over goes one by one to the largest remainders, the first
    among equals. The weights are not all nothing.
    """
    total = sum(weights)
    parts = [amount * weight // total for weight in weights]
    remainders = [amount * weight % total for weight in weights]
    by_remainder = sorted(range(len(weights)), key=lambda index: -remainders[index])
    for index in by_remainder[: amount - sum(parts)]:
        parts[index] += 1
    return parts
