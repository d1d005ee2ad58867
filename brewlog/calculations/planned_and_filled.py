"""Planned against filled: what came off the line, and where the rest of the drink went."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from django.core.exceptions import ValidationError

from brewlog.calculations.base import (
    LITRE,
    METRIC,
    Answer,
    Calculation,
    InUnits,
    Table,
    Units,
    known_lot,
)
from brewlog.calculations.bottling import GROUP, VESSEL_READ_TO
from brewlog.calculations.past_bottlings import filled
from brewlog.forms.fields import LotField
from brewlog.models import BottlingLot, Lot, LotKind, LotUse
from brewlog.science import bottling_plan
from brewlog.science.bottling_plan import BottleFormat, BottlingPlan
from brewlog.science.results import COVERAGE_95
from brewlog.units import Dimension

_FILLED_TO = 0.005  # Of what a bottle is to hold: common practice, where nothing is weighed.
_Pair = tuple[str, str]


class AgainstForm(InUnits):
    lot = LotField(
        LotKind.BATCH,
        LotKind.BOTTLING,
        label="Batch or bottling lot",
        help_text="Of a batch, every lot that was filled from it.",
    )


def against(*, lot: Lot, units: Units = METRIC) -> Answer:
    """Planned and actual counts of what was filled, and the litres nothing explains."""
    lots = _filled_from(lot)
    if not lots:
        raise ValidationError({"lot": f"Nothing was filled from {lot} yet."})
    poured = _poured_into(lots)
    flavours, formats, planned, actual = _as_planned(lots, poured)
    drink = sum(poured[each.pk].drink for each in lots) / LITRE
    in_bottles = sum(filled(each) for each in lots) / LITRE
    compared = bottling_plan.compare_with_actual(
        _plan_of(planned, drink),
        actual,
        flavours,
        formats,
        (drink, ((VESSEL_READ_TO * drink) ** 2 + (_FILLED_TO * in_bottles) ** 2) ** 0.5),
    )
    rows = [
        (
            f"{flavour}, {format}",
            f"{planned[flavour, format]}" if (flavour, format) in planned else "not planned",
            f"{count}",
            f"{compared.difference[flavour, format]:+d}" if (flavour, format) in planned else "",
        )
        for (flavour, format), count in actual.items()
    ]
    unsure = COVERAGE_95 * compared.standard_uncertainty_l
    clear = abs(compared.unexplained_l) > unsure
    litre_rows = [
        ("drawn from batches", units.volume(drink, 2)),
        ("drink in the bottles, rejects too", units.volume(compared.drink_bottled_l, 2)),
        ("unexplained", units.volume(compared.unexplained_l, 2)),
        ("its uncertainty (95 %)", f"± {units.volume(unsure, 2)}"),
    ]
    return Answer(
        headline=f"{sum(actual.values())} filled, {sum(planned.values()) or 'none'} planned; "
        f"{units.volume(compared.unexplained_l, 2)} unexplained.",
        verdict="more than the measuring explains" if clear else "within what measuring explains",
        tables=(
            Table(
                "Planned and filled",
                ("what", "planned", "filled", "difference"),
                rows,
                comes_first=True,
            ),
            Table("Where the drink went", ("what", "volume"), litre_rows),
        ),
        warnings=(
            (
                "Vessels are taken as read to 1 %, bottles as filled to 0.5 % (common practice). "
                "Fruit and flavouring by weight are not counted as volume."
            ),
        ),
    )


@dataclass
class _Poured:
    """Microlitres that went into a bottling lot."""

    drink: int = 0
    flavouring: int = 0


def _filled_from(lot: Lot) -> list[BottlingLot]:
    bottlings = BottlingLot.objects.live().select_related("flavour", "format").order_by("pk")
    if lot.kind == LotKind.BOTTLING:
        return list(bottlings.filter(pk=lot.pk))
    drawn = LotUse.objects.live().filter(source=lot.pk, purpose=LotUse.Purpose.DRINK)
    return list(bottlings.filter(pk__in=drawn.values("into")))


def _poured_into(lots: Sequence[BottlingLot]) -> dict[int, _Poured]:
    found = {lot.pk: _Poured() for lot in lots}
    for use in LotUse.objects.live().filter(
        into__in=list(found), source__dimension=Dimension.VOLUME
    ):
        if use.purpose == LotUse.Purpose.DRINK:
            found[use.into_id].drink += use.quantity
        elif use.purpose == LotUse.Purpose.FLAVOURING:
            found[use.into_id].flavouring += use.quantity
    return found


def _as_planned(
    lots: Sequence[BottlingLot], poured: Mapping[int, _Poured]
) -> tuple[list[bottling_plan.Flavour], list[BottleFormat], dict[_Pair, int], dict[_Pair, int]]:
    """The lots in the plan's terms, each its own flavour, as each may be filled differently."""
    flavours, formats = [], []
    planned: dict[_Pair, int] = {}
    actual: dict[_Pair, int] = {}
    for lot in lots:
        bottles = (lot.made or 0) + lot.rejects
        volume = filled(lot)
        each = lot.fill or lot.format.holds
        own_fill = each != lot.format.holds
        pair = (
            f"{lot.code}, {lot.flavour.name}",
            f"{lot.format.name} at {lot.fill_text}" if own_fill else lot.format.name,
        )
        flavouring = poured[lot.pk].flavouring
        if flavouring >= volume > 0:
            raise ValidationError(
                {"lot": f"By the records {lot} holds no drink, only flavouring. Mend its amount."}
            )
        per_litre = 1000 * flavouring / volume if volume else 0.0
        flavours.append(bottling_plan.Flavour(pair[0], addition_ml_per_l=per_litre))
        formats.append(BottleFormat(pair[1], each / 1000))
        actual[pair] = bottles
        if lot.planned_count is not None:
            planned[pair] = lot.planned_count
    return flavours, formats, planned, actual


def _plan_of(planned: dict[_Pair, int], drink_l: float) -> BottlingPlan:
    """The counts planned then. What else the plan said was not kept."""
    return BottlingPlan(
        counts=planned,
        drink_available_ml=1000 * drink_l,
        drink_bottled_ml=0.0,
        leftover_ml=0.0,
        missing_from_minimum={},
        needs=(),
        shortages=(),
        proven_best=False,
    )


CALCULATIONS = (
    Calculation(
        slug="plan-actual",
        title="Planned against filled",
        group=GROUP,
        question="Did the filling come out as planned, and where did the rest of the drink go?",
        formula="Bottles filled, rejects too, times their fill, less the flavouring in them, "
        "against the drink that was drawn for them.",
        form=AgainstForm,
        work=against,
        about=(LotKind.BATCH, LotKind.BOTTLING),
        known=partial(known_lot, field="lot"),
        see_also=("bottling-plan", "yield"),
    ),
)
