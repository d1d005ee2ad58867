"""The bottling plan: how many bottles of what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError

from brewlog.calculations.base import (
    METRIC,
    Answer,
    Calculation,
    InUnits,
    Keep,
    Known,
    Table,
    Units,
    known_lot,
    litres,
)
from brewlog.calculations.past_bottlings import PastBottlings
from brewlog.entries.base import Lines
from brewlog.forms.base import EntryForm
from brewlog.forms.fields import (
    LotField,
    NamedField,
    NumberField,
    QuantityField,
    TextField,
    WholeField,
)
from brewlog.ledger import mass_balance
from brewlog.models import Batch, Flavour, Format, Lot, LotKind
from brewlog.science import bottling_plan, carbonation
from brewlog.science.bottling_plan import BottleFormat, BottlingPlan
from brewlog.science.results import Result
from brewlog.units import Dimension, Quantity, show_quantity

GROUP = "Bottling"
# Common practice, where nothing is measured: a vessel is read to 1 %, a jug to a tenth of what
# is poured, and filling loses 2 %.
VESSEL_READ_TO, _JUG, _LOSS = 0.01, 0.1, Decimal(2)
_MANY = 1_000_000


class PlanForm(InUnits):
    """What there is to bottle, and what is not for the bottles."""

    batch = LotField(LotKind.BATCH, label="Batch", required=False)
    drink = QuantityField(Dimension.VOLUME, label="In the vessel")
    starter = QuantityField(Dimension.VOLUME, label="Starter to keep back", required=False)
    sediment = QuantityField(Dimension.VOLUME, label="Left behind as sediment", required=False)
    samples = QuantityField(Dimension.VOLUME, label="Samples and tasting", required=False)
    loss = NumberField(
        label="Lost in filling, %",
        required=False,
        least=0,
        most=50,
        help_text=f"{_LOSS} where left empty (common practice).",
    )


class FlavourRow(EntryForm):
    flavour = NamedField(Flavour, label="Flavour")
    share = NumberField(
        label="Share", required=False, least=0, most=1000, help_text="In parts; 1 where empty."
    )
    minimum = WholeField(label="At least, bottles", required=False, least=0, most=_MANY)
    per_litre = NumberField(label="Added, mL a litre", required=False, least=0, most=900)
    per_bottle = NumberField(label="Added, mL a bottle", required=False, least=0, most=5000)
    flavouring = QuantityField(Dimension.VOLUME, label="Flavouring there is", required=False)
    label = TextField(
        label="Its label", required=False, max_length=120, help_text="The same name: one stock."
    )
    labels = WholeField(label="Labels there are", required=False, least=0, most=10 * _MANY)


class FormatRow(EntryForm):
    format = NamedField(Format, label="Format")
    bottles = WholeField(label="Empty ones there are", required=False, least=0, most=10 * _MANY)
    cap = TextField(
        label="Its cap", required=False, max_length=120, help_text="The same name: one stock."
    )
    caps = WholeField(label="Caps there are", required=False, least=0, most=10 * _MANY)
    fill = QuantityField(
        Dimension.VOLUME, label="Fill", required=False, default_unit="mL", help_text="Else full."
    )


@dataclass(frozen=True)
class FlavourWanted:
    """A flavour of the plan. Shares in parts; stocks of None are not limited."""

    flavour: Flavour
    share: Decimal | None = None
    minimum: int | None = None
    per_litre: Decimal | None = None
    per_bottle: Decimal | None = None
    flavouring: Quantity | None = None
    label: str = ""
    labels: int | None = None

    @property
    def as_planned(self) -> bottling_plan.Flavour:
        return bottling_plan.Flavour(
            name=self.flavour.name,
            share=float(self.share if self.share is not None else 1),
            minimum_bottles=self.minimum or 0,
            addition_ml_per_l=float(self.per_litre or 0),
            addition_ml_per_bottle=float(self.per_bottle or 0),
            addition_in_stock_ml=(
                self.flavouring.canonical / 1000 if self.flavouring is not None else None
            ),
            labels_in_stock=self.labels,
            label=self.label,
        )


@dataclass(frozen=True)
class FormatThere:
    """A format of the plan, with the empty ones and caps there are; None is not limited."""

    format: Format
    bottles: int | None = None
    cap: str = ""
    caps: int | None = None
    fill: Quantity | None = None

    @property
    def takes_cap(self) -> str:
        return self.cap or f"caps of {self.format.name}"

    @property
    def as_planned(self) -> BottleFormat:
        holds = self.fill.canonical if self.fill is not None else self.format.holds
        return BottleFormat(self.format.name, holds / 1000, self.bottles, self.takes_cap)


def plan(
    *,
    batch: Lot | None,
    drink: Quantity,
    starter: Quantity | None,
    sediment: Quantity | None,
    samples: Quantity | None,
    loss: Decimal | None,
    flavours: Sequence[FlavourWanted],
    formats: Sequence[FormatThere],
    units: Units = METRIC,
) -> Answer:
    """Whole numbers of bottles by flavour and format, and the bottling form filled with them."""
    _refuse_twice([each.flavour for each in flavours], "flavours")
    _refuse_twice([each.format for each in formats], "formats")
    lost = float(loss if loss is not None else _LOSS) / 100
    available = bottling_plan.drink_available(
        (litres(drink), VESSEL_READ_TO * litres(drink)),
        _poured(starter),
        _poured(sediment),
        _poured(samples),
        (lost, lost / 2),
    )
    found = counted(available.value, flavours, formats)
    keep = Keep(
        entry="bottle",
        label="Open the bottling form with these counts as planned",
        fields=_bottling_form(batch, found),
    )
    return plan_answer(found, [each.format for each in formats], available, keep, units)


def _poured(quantity: Quantity | None) -> tuple[float, float]:
    amount = litres(quantity) if quantity is not None else 0.0
    return amount, _JUG * amount


def _refuse_twice(named: Sequence[Any], what: str) -> None:
    for each in named:
        if list(named).count(each) > 1:
            raise ValidationError(f"{each} stands twice among the {what}. Put it in one row.")


def counted(
    drink_l: float,
    flavours: Sequence[FlavourWanted],
    formats: Sequence[FormatThere],
    only: Sequence[tuple[str, str]] = (),
) -> BottlingPlan:
    """The plan itself. `only` are the pairs of flavour and format to fill, by name."""
    caps: dict[str, int] = {}
    for each in formats:
        if each.caps is not None:
            caps[each.takes_cap] = min(each.caps, caps.get(each.takes_cap, each.caps))
    return bottling_plan.plan_bottling(
        drink_l,
        [each.as_planned for each in flavours],
        [each.as_planned for each in formats],
        caps,
        only=only,
    )


def plan_answer(
    found: BottlingPlan,
    formats: Sequence[Format],
    available: Result | None,
    keep: Keep | None,
    units: Units = METRIC,
) -> Answer:
    """The plan in words: counts, what they take, what is short, and what to heed."""
    bottles = found.bottles()
    left = units.volume(found.leftover_ml / 1000, 2)
    counts = [
        (f"{flavour}, {format}", f"{count}")
        for (flavour, format), count in found.counts.items()
        if count
    ]
    needs = [
        (need.what, _of(need.quantity, need.unit, units), _there(need.in_stock, need.unit, units))
        for need in found.needs
        if need.quantity or need.in_stock
    ]
    tables = [
        Table("Bottles to fill", ("what", "bottles"), counts, comes_first=True),
        Table("What it takes", ("what", "taken", "there is"), needs),
    ]
    return Answer(
        headline=f"{bottles} bottle{'' if bottles == 1 else 's'}, {left} left over.",
        verdict="" if not found.shortages else "something is short",
        results=(available,) if available is not None else (),
        tables=tuple(table for table in tables if table.rows),
        warnings=(*_short(found, units), *_heed(found, formats)),
        sources=(f"{found.source}, calculation {found.calculation_version}.",),
        keep=keep if bottles else None,
    )


def _of(quantity: float, unit: str, units: Units) -> str:
    if unit == "mL":
        return units.volume(quantity / 1000, 2) if quantity >= 1000 else units.fill(quantity, 0)
    return f"{quantity:.0f}"


def _there(quantity: float | None, unit: str, units: Units) -> str:
    return "not said" if quantity is None else _of(quantity, unit, units)


def _short(found: BottlingPlan, units: Units) -> list[str]:
    short = [
        f"Short of {each.what}: {_of(each.short_by, each.unit, units)} more would fill all of it."
        for each in found.shortages
    ]
    short += [
        f"{flavour}: {missing} fewer than the least you asked for."
        for flavour, missing in found.missing_from_minimum.items()
    ]
    return short


def _heed(found: BottlingPlan, formats: Sequence[Format]) -> list[str]:
    filled_formats = {name for (_, name), count in found.counts.items() if count}
    doubtful = [
        each.name
        for each in formats
        if each.name in filled_formats
        and (each.is_reused or each.rating != Format.Rating.RATED.value)
    ]
    heed = []
    if not found.proven_best:
        heed.append("A good plan; there was no time to prove that none is better.")
    if doubtful:
        heed.append(
            f"{', '.join(doubtful)}: reused, decorative or of unknown strength. No pressure passes "
            "by calculation for these."
        )
    alcohol = carbonation.alcohol_from_carbonation(1.0)
    heed += [
        "Bottles burst. See what the bottle may come to if all the sugar in it ferments warm.",
        f"Each volume of carbonation made in the bottle adds about {alcohol:.2f} % vol of alcohol.",
        "Count what comes off the line: only that is recorded as filled.",
    ]
    return heed


def _bottling_form(batch: Lot | None, found: BottlingPlan) -> dict[str, str]:
    """The bottling form's fields with the planned counts; what was filled stays empty."""
    filling = [(pair, count) for pair, count in found.counts.items() if count]
    fields = {"outputs-rows": f"{len(filling)}"}
    for number, ((flavour, format), count) in enumerate(filling):
        row = f"outputs-{number}"
        fields |= {
            f"{row}-flavour": flavour,
            f"{row}-format": format,
            f"{row}-planned_count": f"{count}",
        }
    if batch is not None:
        fields |= {"draws-rows": "1", "draws-0-source": batch.code}
    return fields


def known_plan(lot: Lot) -> dict[str, Known]:
    """The volume on hand, and the loss measured at the recipe's last bottlings."""
    known = known_lot(lot, "batch")
    there = mass_balance(lot).on_hand
    if there:
        known["drink"] = Known(show_quantity(there, Dimension.VOLUME), "on hand by the records")
    loss = PastBottlings(_batch(lot)).loss()
    if loss is not None:
        known["loss"] = Known(f"{100 * loss:.1f}", "the last bottlings")
    return known


def _batch(lot: Lot) -> Batch:
    detail = lot.detail
    assert isinstance(detail, Batch)
    return detail


def known_plan_rows(lot: Lot) -> dict[str, list[dict[str, str]]]:
    """Flavours and formats as last filled from this recipe, with what each took."""
    past = PastBottlings(_batch(lot))
    volumes = past.flavours()
    total = sum(volumes.values()) or 1
    flavours = []
    for flavour, volume in sorted(volumes.items(), key=lambda each: -each[1]):
        row = {"flavour": flavour.name, "share": f"{100 * volume / total:.0f}"}
        per_litre = past.flavouring_per_litre(flavour)
        if per_litre:
            row["per_litre"] = f"{per_litre:.1f}"
        label = past.label_stock(flavour)
        if label:
            row |= {"label": label.name, "labels": f"{label.on_hand}"}
        flavours.append(row)
    formats = []
    for format in past.formats():
        row = {"format": format.name}
        bottles, cap = past.bottle_stock(format), past.cap_stock(format)
        if bottles:
            row["bottles"] = f"{bottles.on_hand}"
        if cap:
            row |= {"cap": cap.name, "caps": f"{cap.on_hand}"}
        formats.append(row)
    return {"flavours": flavours, "formats": formats}


CALCULATIONS = (
    Calculation(
        slug="bottling-plan",
        title="Bottling plan",
        group=GROUP,
        question="How many bottles of each flavour and format does this batch fill?",
        formula="Drink in the vessel less starter, sediment, samples and loss, shared out in whole "
        "bottles: first the least of each flavour, then as little left over as can be (to a tenth "
        "of a litre), then the shares, then few bottles. Never more drink, bottles, caps, labels "
        "or flavouring than there is.",
        form=PlanForm,
        work=plan,
        about=(LotKind.BATCH,),
        known=known_plan,
        lines=(
            Lines(
                name="flavours",
                title="Flavours",
                form=FlavourRow,
                build=FlavourWanted,
                least=1,
            ),
            Lines(name="formats", title="Formats", form=FormatRow, build=FormatThere, least=1),
        ),
        known_rows=known_plan_rows,
        caution="Bottles burst: use bottles rated for the pressure, and chill before you open one.",
        see_also=("bottle-pressure", "plan-actual", "yield"),
    ),
)
