"""Carbonation: sugar for the sparkle, pressure in the bottle, and whether the bottle takes it."""

from __future__ import annotations

from decimal import Decimal

from brewlog.calculations import records
from brewlog.calculations.base import (
    METRIC,
    Answer,
    Calculation,
    DegreesField,
    InUnits,
    Known,
    Table,
    Units,
)
from brewlog.forms.fields import ChoiceField, NamedField, NumberField
from brewlog.models import BottlingLot, Checkpoint, Format, Lot, LotKind, LotUse, Measurand
from brewlog.science import bottle_pressure, carbonation, stoichiometry
from brewlog.science.bottle_pressure import Bottle, BottleKind, Judgement
from brewlog.science.carbonation import Fermentable

GROUP = "Carbonation and bottles"
CAUTION = "Bottles burst. " + " ".join(bottle_pressure.CAUTIONS[:3])


class PrimingForm(InUnits):
    target = NumberField(label="Carbonation wanted, vols CO2", least=0, most=6)
    warmest = DegreesField(
        label="Warmest the drink has been since it was lively",
        least=0,
        most=40,
        help_text="It sets what is left in it.",
    )
    kind = ChoiceField(
        label="Sugar",
        choices=[(each.value, each.value) for each in Fermentable],
        initial=next(iter(Fermentable)).value,
    )
    fermenting = NumberField(
        label="Sugar already in it that will ferment, g/L",
        required=False,
        least=0,
        most=150,
        help_text="From the drink, fruit or juice. In live drinks it is seldom nothing.",
    )


def priming(
    *,
    target: Decimal,
    warmest: Decimal,
    kind: str,
    fermenting: Decimal | None,
    units: Units = METRIC,
) -> Answer:
    """Sugar to add per litre, with the alcohol it makes beside it."""
    left = carbonation.residual_volumes(float(warmest))
    found = carbonation.priming_sugar(
        (float(target), 0.05),
        (float(left), 0.15),
        Fermentable(kind),
        (float(fermenting or 0), 0.2 * float(fermenting or 0)),
    )
    added = found.step("alcohol added")
    return Answer(
        headline=f"{units.strength(found.value)} of {kind}. The sparkle adds {added:.2f} % vol of "
        "alcohol.",
        results=(found,),
        warnings=(
            (
                "Sugar already in a living drink goes on fermenting too: see what the bottle may "
                "come to if all of it does."
            ),
        ),
    )


class AdditionForm(InUnits):
    amount = NumberField(label="Addition, mL per litre of drink", least=0, most=1000)
    by = ChoiceField(
        label="Its sugar is known by",
        choices=[("brix", "Brix"), ("label", "its label, g/100 mL")],
        initial="brix",
    )
    sugar = NumberField(label="Brix, or sugar in g/100 mL", least=0, most=100)


def addition(*, amount: Decimal, by: str, sugar: Decimal, units: Units = METRIC) -> Answer:
    """What fruit or juice brings: sugar, sparkle and alcohol."""
    ml = (float(amount), 0.02 * float(amount))
    strength = (float(sugar), 0.03 * float(sugar) + 0.1)
    work = carbonation.addition_by_brix if by == "brix" else carbonation.addition_by_label
    found = work(ml, strength)
    volumes = found.step("carbonation if all of it ferments")
    alcohol = found.step("alcohol if all of it ferments")
    return Answer(
        headline=f"It brings {units.strength(found.value)} of sugar: up to {volumes:.1f} vols CO2 "
        f"and {alcohol:.2f} % vol of alcohol.",
        results=(found,),
        warnings=("Check the pH after flavouring: fruit can lift it.",),
    )


class PressureForm(InUnits):
    """The bottle, what ferments in it, and how warm it may get."""

    format = NamedField(Format, label="Bottle")
    sugar = NumberField(label="Sugar left, g/L", least=0, most=80)
    u_sugar = NumberField(
        label="Its standard uncertainty, g/L",
        required=False,
        least=0,
        most=20,
        help_text="3 where left empty (common practice).",
    )
    co2 = NumberField(
        label="CO2 in it now, vols", required=False, least=0, most=6, help_text="0.5 where empty."
    )
    temperature = DegreesField(label="As warm as it may get", least=0, most=40)
    headspace = NumberField(
        label="Headspace, % of the drink",
        required=False,
        least=0,
        most=100,
        help_text="5 where empty.",
    )
    safety = NumberField(
        label="Safety factor on the rating",
        required=False,
        least=1,
        most=10,
        help_text="2 where left empty (common practice).",
    )


def pressure(
    *,
    format: Format,
    sugar: Decimal,
    u_sugar: Decimal | None,
    co2: Decimal | None,
    temperature: Decimal,
    headspace: Decimal | None,
    safety: Decimal | None,
    units: Units = METRIC,
) -> Answer:
    """The pressure if all of it ferments warm, against the bottle's rating."""
    now = carbonation.co2_g_per_l_from_volumes(float(co2 if co2 is not None else Decimal("0.5")))
    found = bottle_pressure.pressure_if_all_ferments(
        (float(sugar), float(u_sugar if u_sugar is not None else 3)),
        (float(temperature), 1.0),
        (float(now), 0.4),
        (float(headspace if headspace is not None else 5) / 100, 0.01),
    )
    judged = bottle_pressure.judge(found, bottle_of(format), float(safety or 2))
    made = float(sugar) * stoichiometry.CO2_PER_HEXOSE
    alcohol = carbonation.alcohol_from_carbonation(
        float(carbonation.volumes_from_co2_g_per_l(made))
    )
    rows = [
        ("pressure by calculation", units.pressure(judged.gauge_bar)),
        ("its upper end (95 %)", units.pressure(judged.upper_gauge_bar)),
        ("rated", _bar(judged.rated_gauge_bar, units)),
        ("rated over the safety factor", _bar(judged.allowed_gauge_bar, units)),
        ("alcohol the sugar adds", f"{alcohol:.2f} % vol"),
    ]
    return Answer(
        headline=f"{units.pressure(judged.gauge_bar)} at {units.temperature(float(temperature))} "
        "if all the sugar left ferments.",
        verdict=str(judged.verdict),
        results=(found,),
        tables=(Table("Against the bottle", ("what", "value"), rows),),
        # The first three stand above the form already.
        warnings=(judged.reason, *judged.cautions[3:]),
    )


def _bar(value: float | None, units: Units) -> str:
    return "not known" if value is None else units.pressure(value)


def bottle_of(format: Format) -> Bottle:
    """What is known of a format's strength. A reused one has no rating to lean on."""
    if format.is_reused:
        kind = BottleKind.REUSED
    else:
        kind = {
            Format.Rating.RATED.value: BottleKind.RATED,
            Format.Rating.DECORATIVE.value: BottleKind.DECORATIVE,
        }.get(format.rating, BottleKind.UNKNOWN)
    return Bottle(kind, float(format.rated_bar) if format.rated_bar is not None else None)


def judge_brix(reading: Checkpoint, bottle: Bottle, temperature_c: float) -> Judgement:
    """Bottles of a drink if all the sugar by this Brix reading ferments in them.

    Acid counts as sugar in a Brix reading, so this is an upper figure. Raises `OutOfRange`.
    """
    sugar = records.brix_as_g_per_l(reading.value)
    u, _ = records.instrument_uncertainty(reading.instrument, Measurand.BRIX)
    found = bottle_pressure.pressure_if_all_ferments((sugar, 10 * u + 1), (temperature_c, 1.0))
    return bottle_pressure.judge(found, bottle)


def brix_of_bottles(lot: Lot) -> Checkpoint | None:
    """The newest Brix reading of the bottles; else of the batches they were filled from."""
    own = records.latest_reading(lot, Measurand.BRIX)
    if own is not None:
        return own
    drawn = LotUse.objects.live().filter(into=lot.pk, purpose=LotUse.Purpose.DRINK)
    return (
        Checkpoint.objects.live()
        .filter(lot__in=drawn.values("source"), measurand=Measurand.BRIX)
        .select_related("instrument", "lot")
        .order_by("happened_at", "id")
        .last()
    )


def known_pressure(lot: Lot) -> dict[str, Known]:
    detail = lot.detail
    assert isinstance(detail, BottlingLot)
    known = {"format": Known(detail.format.name, "the lot's bottle")}
    reading = brix_of_bottles(lot)
    if reading is not None:
        grams = records.brix_as_g_per_l(reading.value)
        source = f"Brix {reading.value_text}, {reading.when}"
        if reading.lot_id != lot.pk:
            source += f", of {reading.lot} before flavouring"
        known["sugar"] = Known(f"{grams:.1f}", source)
    if detail.conditioning_temperature is not None:
        known["temperature"] = Known(f"{detail.conditioning_temperature} C", "kept warm at")
    return known


class GaugeForm(InUnits):
    volumes = NumberField(label="Carbonation, vols CO2", least=0, most=10)
    temperature = DegreesField(label="Temperature", least=0, most=40)
    sugar = NumberField(label="Sugar in it, g/L", required=False, least=0, most=150)


def gauge(
    *, volumes: Decimal, temperature: Decimal, sugar: Decimal | None, units: Units = METRIC
) -> Answer:
    """Carbonation as gauge pressure: for kegs and for reading a gauge on a bottle."""
    bar = carbonation.equilibrium_gauge_bar(float(volumes), float(temperature), float(sugar or 0))
    rows = [
        ("gauge pressure", f"{bar:.2f} bar", f"{bar * 14.5038:.1f} psi"),
        (
            "CO2",
            f"{carbonation.co2_g_per_l_from_volumes(float(volumes)):.2f} g/L",
            f"{float(volumes):g} vols",
        ),
        (
            "alcohol, if fermented in the bottle",
            f"{carbonation.alcohol_from_carbonation(float(volumes)):.2f} % vol",
            "",
        ),
    ]
    return Answer(
        headline=f"{units.pressure(bar, 2)} on the gauge at "
        f"{units.temperature(float(temperature))}.",
        tables=(Table("The same carbonation", ("as", "value", ""), rows),),
        warnings=(
            (
                "A volume is counted as 1.9768 g/L (gas at 0 °C and 1 atm, as it really is); the "
                "trade also rounds it to 2."
            ),
            bottle_pressure.CAUTIONS[4],
        ),
        sources=(f"{carbonation.SOURCE_SOLUBILITY}; good to 3 %.",),
    )


CALCULATIONS = (
    Calculation(
        slug="priming",
        title="Sugar for the sparkle",
        group=GROUP,
        question="How much sugar gives this sparkle, and what alcohol does it add?",
        formula="Carbonation wanted less what is still in the drink, less what the sugar already "
        "there will make, over the CO2 a gram of sugar gives.",
        form=PrimingForm,
        work=priming,
        caution=CAUTION,
        see_also=("bottle-pressure", "fruit-sugar"),
    ),
    Calculation(
        slug="fruit-sugar",
        title="Sugar that fruit or juice brings",
        group=GROUP,
        question="What do fruit and juice add in sugar, sparkle and alcohol?",
        formula="Share of the drink times the sugar in the addition. Addition ± 2 %, its sugar "
        "± 3 % and 0.1 (common practice).",
        form=AdditionForm,
        work=addition,
        see_also=("priming", "bottle-pressure"),
    ),
    Calculation(
        slug="bottle-pressure",
        title="Pressure in the bottle",
        group=GROUP,
        question="If all the sugar left ferments warm, does the bottle's rating allow it?",
        formula="CO2 in the drink now and from the sugar, shared between drink and headspace, "
        "with trapped air and vapour; its upper end against the rating over the safety factor.",
        form=PressureForm,
        work=pressure,
        about=(LotKind.BOTTLING,),
        known=known_pressure,
        caution=CAUTION,
        see_also=("priming",),
    ),
    Calculation(
        slug="gauge",
        title="Carbonation as gauge pressure",
        group=GROUP,
        question="What should the gauge show at this temperature?",
        formula="Solubility of CO2 at the temperature (Weiss 1974), real gas, plus water vapour, "
        "less the air outside at sea level.",
        form=GaugeForm,
        work=gauge,
        see_also=("priming",),
    ),
)
