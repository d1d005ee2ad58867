"""What the records already know: inputs of the calculations, each with where it comes from."""

from __future__ import annotations

from decimal import Decimal

from brewlog.calculations.base import LITRE, Known
from brewlog.models import (
    Batch,
    Checkpoint,
    Ingredient,
    IngredientLot,
    Instrument,
    Lot,
    LotKind,
    LotUse,
    Measurand,
)
from brewlog.science.sugar import sugar_g_per_l_from_brix
from brewlog.science.uncertainty import combined, from_resolution, from_stated_accuracy
from brewlog.trace import composition
from brewlog.units import show_quantity

# Standard uncertainties taken where the instrument or its data are not known (common practice).
DEFAULT_UNCERTAINTY = {
    Measurand.PH: 0.05,
    Measurand.TEMPERATURE: 0.5,
    Measurand.SPECIFIC_GRAVITY: 0.0005,
    Measurand.BRIX: 0.1,
    Measurand.TOTAL_ACIDITY: 0.2,
    Measurand.PRESSURE: 0.1,
    Measurand.FILL: 2.0,
    Measurand.ALCOHOL: 0.1,
}


def instrument_uncertainty(instrument: Instrument | None, measurand: str) -> tuple[float, str]:
    """Standard uncertainty of a reading in the measurand's unit, and where it comes from."""
    parts = []
    if instrument is not None and instrument.resolution:
        parts.append(from_resolution(float(instrument.resolution)))
    if instrument is not None and instrument.accuracy:
        parts.append(from_stated_accuracy(float(instrument.accuracy)))
    if parts:
        return combined(*parts), f"{instrument}: its resolution and stated accuracy"
    return DEFAULT_UNCERTAINTY[Measurand(measurand)], "a usual value; the instrument's is not known"


def latest_reading(lot: Lot, measurand: str) -> Checkpoint | None:
    """The newest live reading of that kind."""
    return _readings(lot, measurand).last()


def first_reading(lot: Lot, measurand: str) -> Checkpoint | None:
    """The oldest live reading of that kind."""
    return _readings(lot, measurand).first()


def _readings(lot: Lot, measurand: str):
    return (
        Checkpoint.objects.live()
        .filter(lot=lot.pk, measurand=measurand)
        .select_related("instrument")
        .order_by("happened_at", "id")
    )


def known_reading(reading: Checkpoint | None) -> Known | None:
    """A reading as an input, saying when and with what it was taken."""
    if reading is None:
        return None
    instrument = f" with {reading.instrument}" if reading.instrument else ""
    return Known(f"{reading.value.normalize():f}", f"reading of {reading.when}{instrument}")


def volume_of(lot: Lot) -> Known | None:
    """What the lot amounts to, by volume."""
    if lot.made is None:
        return None
    return Known(lot.made_text or show_quantity(lot.made, lot.dimension), "the lot's amount")


def sugar_g_per_l(lot: Lot) -> Decimal | None:
    """Sugar weighed into what the lot holds, in grams per litre; None where not written.

    Counts deliveries of kind sugar that are counted by mass; fruit and juice bring more.
    """
    if not lot.made or lot.dimension != "volume":
        return None
    entered = {part.facts.lot_id: part.entered for part in composition(lot).parts}
    sugar = IngredientLot.objects.filter(
        pk__in=entered, ingredient__kind=Ingredient.Kind.SUGAR, dimension="mass"
    )
    milligrams = sum(entered[pk] for pk in sugar.values_list("pk", flat=True))
    if not milligrams:
        return None
    return (Decimal(milligrams) / 1000 / (Decimal(lot.made) / LITRE)).quantize(Decimal("0.1"))


def starter_volume(batch: Batch) -> int:
    """Microlitres of starter written into the batch."""
    return sum(
        LotUse.objects.live()
        .filter(into=batch.pk, source__kind=LotKind.CULTURE)
        .values_list("quantity", flat=True)
    )


def brix_as_g_per_l(brix: Decimal) -> float:
    """Dissolved sugar in g/L of a reading in °Bx."""
    return float(sugar_g_per_l_from_brix(float(brix)))
