"""Net content of weighed bottles, and where a batch's litres went."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import partial

from django.core.exceptions import ValidationError

from brewlog.calculations.base import (
    LITRE,
    METRIC,
    Answer,
    Calculation,
    InUnits,
    Known,
    Table,
    Units,
    known_lot,
)
from brewlog.forms.fields import LotField, NoteField, NumberField
from brewlog.ledger import mass_balance
from brewlog.models import BottlingLot, Lot, LotKind, LotUse, StockAdjustment
from brewlog.science import filling
from brewlog.science.filling import Loss
from brewlog.units import UnitError, parse_number

GROUP = "Bottling"
# Standard uncertainty of a volume read off a vessel, as a share (common practice).
_VESSEL = 0.01


class FillForm(InUnits):
    weights = NoteField(
        label="Full bottles, g", help_text="Two or more, one a line or with spaces between."
    )
    tare = NumberField(label="Empty bottle with its cap, g on average", least=0, most=100_000)
    tare_spread = NumberField(
        label="Spread of the empty bottles, g",
        required=False,
        least=0,
        most=1000,
        help_text="Standard deviation; 0 where left empty.",
    )
    gravity = NumberField(
        label="Specific gravity of the drink", least=Decimal("0.95"), most=Decimal("1.2"), places=5
    )
    label = NumberField(label="Net content on the label, mL", least=1, most=100_000)
    shortfall = NumberField(
        label="Shortfall allowed in one bottle, mL",
        required=False,
        least=0,
        most=1000,
        help_text="What your law allows of a single bottle; 0 where left empty.",
    )

    def clean_weights(self) -> list[float]:
        words = re.split(r"[\s;]+", self.cleaned_data["weights"].strip())
        try:
            weights = [float(parse_number(word)) for word in words]
        except UnitError as error:
            raise ValidationError(str(error)) from None
        if len(weights) < 2:
            raise ValidationError("Weigh at least two bottles; ten tell much more.")
        return weights


def fill(
    *,
    weights: list[float],
    tare: Decimal,
    tare_spread: Decimal | None,
    gravity: Decimal,
    label: Decimal,
    shortfall: Decimal | None,
    units: Units = METRIC,
) -> Answer:
    """Average fill against the label, and single bottles that are short."""
    if min(weights) <= float(tare):
        raise ValidationError({"tare": "A full bottle weighs less than the empty one."})
    density = float(gravity) * 0.998207
    found = filling.check_fill(
        weights,
        float(tare),
        (density, 0.0005),
        float(label),
        float(shortfall or 0),
        float(tare_spread or 0),
    )
    if found.shown_at_95:
        verdict = "the average reaches the label"
    elif found.average_not_below_label:
        verdict = "the average reaches the label, but so few bottles do not show it"
    else:
        verdict = "the average is below the label"
    rows = [
        ("average fill", units.fill(found.average_ml)),
        ("spread from bottle to bottle", units.fill(found.standard_deviation_ml)),
        ("average at least (95 %)", units.fill(found.lower_95_ml)),
        ("bottles under the label", f"{found.under_label} of {found.bottles}"),
        ("set the filler to", f"{units.fill(found.suggested_target_ml, 0)} on average"),
    ]
    short = ", ".join(str(number) for number in found.short)
    return Answer(
        headline=f"{units.fill(found.average_ml)} on average, {units.fill(float(label), 0)} on the "
        "label.",
        verdict=verdict,
        tables=(Table(f"{found.bottles} bottles", ("what", "value"), rows),),
        warnings=(
            *((f"Short by more than allowed: bottle {short}.",) if short else ()),
            "What counts as short is your weights and measures law's to say.",
        ),
        sources=(
            f"{filling.SOURCE_CONTENT}.",
            "Density of the drink ± 0.0005 kg/L (common practice); the interval is of the average.",
        ),
    )


def known_fill(lot: Lot) -> dict[str, Known]:
    detail = lot.detail
    assert isinstance(detail, BottlingLot)
    return {"label": Known(f"{detail.format.holds / 1000:g}", f"{detail.format}")}


class YieldForm(InUnits):
    batch = LotField(LotKind.BATCH, label="Batch")


def batch_yield(*, batch: Lot, units: Units = METRIC) -> Answer:
    """Where the litres went, by the records."""
    balance = mass_balance(batch)
    came_in = (balance.made + balance.added) / LITRE
    if not came_in:
        raise ValidationError({"batch": f"What {batch} amounts to is not written down yet."})
    filled, u_filled = filled_litres(batch)
    losses = [
        Loss(StockAdjustment.Reason(reason).label, -change / LITRE)
        for reason, change in balance.adjusted.items()
        if change < 0
    ]
    losses += [
        Loss(LotUse.Purpose(purpose).label, used / LITRE)
        for purpose, used in balance.used.items()
        if purpose != LotUse.Purpose.DRINK and used
    ]
    account = filling.yield_account((came_in, _VESSEL * came_in), (filled, u_filled), losses)
    rows = [
        ("in the batch", units.volume(account.litres_in, 2)),
        ("in bottles", units.volume(account.litres_filled, 2)),
        *((step, units.volume(litres, 2)) for step, litres in account.by_step.items()),
        ("unexplained", units.volume(account.unexplained_l, 2)),
    ]
    clear = "more than" if account.unexplained_is_clear else "no more than"
    return Answer(
        headline=f"{account.yield_share * 100:.1f} % of the batch is in bottles.",
        tables=(Table("Where the litres went", ("where", "volume"), rows),),
        warnings=(
            (
                f"The unexplained {units.volume(account.unexplained_l, 2)} (± "
                f"{units.volume(1.96 * account.standard_uncertainty_l, 2)}) is {clear} the "
                "measuring explains: vessels are taken as read to 1 % (common practice)."
            ),
        ),
    )


def filled_litres(batch: Lot) -> tuple[float, float]:
    """Litres of the batch in bottles, and their standard uncertainty.

    Bottles filled, rejects included, times their fill, shared by the drink each batch gave.
    """
    uses = (
        LotUse.objects.live()
        .filter(source=batch.pk, purpose=LotUse.Purpose.DRINK, into__kind=LotKind.BOTTLING)
        .select_related("into")
    )
    total = variance = 0.0
    for use in uses:
        lot = use.into.detail
        assert isinstance(lot, BottlingLot)
        drawn = sum(
            each.quantity for each in lot.uses_in.live() if each.purpose == LotUse.Purpose.DRINK
        )
        each_ml = (lot.fill or lot.format.holds) / 1000
        litres = ((lot.made or 0) + lot.rejects) * each_ml / 1000 * use.quantity / drawn
        total += litres
        variance += (0.005 * litres) ** 2
    return total, variance**0.5


CALCULATIONS = (
    Calculation(
        slug="fill",
        title="Net content of weighed bottles",
        group=GROUP,
        question="Do the bottles hold what the label says?",
        formula="Weight full less weight empty, over the drink's density, with the buoyancy of "
        "air; the average with a one-sided 95 % interval.",
        form=FillForm,
        work=fill,
        about=(LotKind.BOTTLING,),
        known=known_fill,
    ),
    Calculation(
        slug="yield",
        title="Yield and losses",
        group=GROUP,
        question="Where did the litres of this batch go?",
        formula="Litres in the batch, less what is in bottles, less each loss written down. "
        "Bottles are taken as filled to 0.5 % (common practice).",
        form=YieldForm,
        work=batch_yield,
        about=(LotKind.BATCH,),
        known=partial(known_lot, field="batch"),
    ),
)
