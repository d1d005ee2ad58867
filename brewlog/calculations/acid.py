"""Acid: total acidity, the pH after pitching, and the starter a batch needs."""

from __future__ import annotations

from decimal import Decimal

from brewlog.calculations import records
from brewlog.calculations.base import (
    Answer,
    Calculation,
    CalculationForm,
    Known,
    keep_reading,
    known_lot,
)
from brewlog.forms.fields import LotField, NumberField
from brewlog.models import Batch, Checkpoint, Lot, LotKind, LotUse, Measurand
from brewlog.science import acidity

GROUP = "Acid"
ONLY_MEASURED = (
    "Only the pH measured in the mixture counts. This is a plan, with assumed tea and acids."
)


class TitrationForm(CalculationForm):
    for_lot = LotField(label="Lot", required=False, help_text="To keep it there as a reading.")
    titrant = NumberField(label="Sodium hydroxide used, mL", least=0, most=1000)
    strength = NumberField(label="Its strength, mol/L", least=Decimal("0.001"), most=2)
    sample = NumberField(label="Sample, mL", least=Decimal("0.1"), most=1000)


def titration(
    *, for_lot: Lot | None, titrant: Decimal, strength: Decimal, sample: Decimal
) -> Answer:
    """Total acidity, with burette and pipette as good as is usual."""
    found = acidity.titratable_acidity(
        float(titrant),
        float(strength),
        float(sample),
        u_titrant_ml=0.05,
        u_titrant_mol_per_l=0.005 * float(strength),
        u_sample_ml=0.01 * float(sample),
    )
    low, high = found.interval_95()
    return Answer(
        headline=f"{found.value:.2f} g/L as acetic acid (between {low:.2f} and {high:.2f}).",
        results=(found,),
        warnings=(
            "Drive the gas out first: carbon dioxide titrates as acid and can add 40 %.",
            "Sodium hydroxide burns eyes and skin: wear goggles and gloves.",
        ),
        keep=keep_reading(
            for_lot,
            Measurand.TOTAL_ACIDITY,
            f"{found.value:.2f}",
            f"{titrant:f} mL of {strength:f} mol/L sodium hydroxide on {sample:f} mL of sample, "
            f"± {found.standard_uncertainty:.2f} g/L (k = 1), "
            f"calculation {found.calculation_version}.",
        ),
    )


class _StarterAndTeaForm(CalculationForm):
    starter_ph = NumberField(label="pH of the starter", least=2, most=5, places=2)
    starter_acidity = NumberField(
        label="Total acidity of the starter, g/L as acetic",
        least=Decimal("0.5"),
        most=40,
        required=False,
        help_text="8 where left empty, and then much less certain (common practice).",
    )
    alkalinity = NumberField(
        label="Alkalinity of the water, mg/L as CaCO3",
        required=False,
        least=0,
        most=500,
        help_text="50 where left empty. The water works can tell.",
    )


class PitchedPhForm(_StarterAndTeaForm):
    share = NumberField(label="Starter, % of the volume", least=0, most=100)

    field_order = ["share"]


class StarterNeededForm(_StarterAndTeaForm):
    target = NumberField(label="pH to reach at once", least=2, most=7, places=2)
    least_share = NumberField(
        label="Never less starter than, %",
        required=False,
        least=0,
        most=100,
        help_text="What your own rules or authority ask for.",
    )

    field_order = ["target"]


# A usual sour starter, and how far such starters differ (common practice).
_USUAL_ACIDITY = (8.0, 2.0)
_CACO3_MG_PER_MMOL = 50.04


def _starter_acidity(typed: Decimal | None) -> tuple[float, float]:
    return (float(typed), 0.3) if typed is not None else _USUAL_ACIDITY


def usual_acidity(reading: Checkpoint | None) -> tuple[float, float]:
    """A starter's total acidity by a reading of it; as is usual where there is none."""
    if reading is None:
        return _USUAL_ACIDITY
    u, _ = records.instrument_uncertainty(reading.instrument, Measurand.TOTAL_ACIDITY)
    return float(reading.value), u


def _alkalinity(typed: Decimal | None) -> tuple[float, float]:
    if typed is None:
        return 1.0, 0.5
    return float(typed) / _CACO3_MG_PER_MMOL, 0.1


def pitched_ph(
    *,
    share: Decimal,
    starter_ph: Decimal,
    starter_acidity: Decimal | None,
    alkalinity: Decimal | None,
) -> Answer:
    """The pH to expect once the starter is in."""
    fraction = float(share) / 100
    found = acidity.ph_after_pitching(
        (float(starter_ph), records.DEFAULT_UNCERTAINTY[Measurand.PH]),
        _starter_acidity(starter_acidity),
        (fraction, 0.02 * fraction),
        _alkalinity(alkalinity),
    )
    low, high = found.interval_95()
    return Answer(
        headline=f"Expect pH {found.value:.2f} (between {low:.2f} and {high:.2f}).",
        results=(found,),
        warnings=(ONLY_MEASURED,),
    )


def starter_needed(
    *,
    target: Decimal,
    starter_ph: Decimal,
    starter_acidity: Decimal | None,
    alkalinity: Decimal | None,
    least_share: Decimal | None,
) -> Answer:
    """The share of starter that reaches the pH, never below the minimum that binds."""
    found = acidity.starter_needed(
        (float(starter_ph), records.DEFAULT_UNCERTAINTY[Measurand.PH]),
        _starter_acidity(starter_acidity),
        float(target),
        _alkalinity(alkalinity),
        least_share=float(least_share or 0) / 100,
    )
    low, high = found.interval_95()
    return Answer(
        headline=f"{found.value * 100:.1f} % starter (between {low * 100:.1f} % and "
        f"{high * 100:.1f} %): {found.value * 1000:.0f} mL in each litre of batch.",
        results=(found,),
        warnings=(ONLY_MEASURED,),
    )


def known_starter(lot: Lot) -> dict[str, Known]:
    """The starter written into a batch: its pH and its acidity."""
    use = (
        LotUse.objects.live()
        .filter(into=lot.pk, source__kind=LotKind.CULTURE)
        .select_related("source")
        .order_by("-quantity")
        .first()
    )
    if use is None:
        return {}
    known: dict[str, Known] = {}
    for name, measurand in (
        ("starter_ph", Measurand.PH),
        ("starter_acidity", Measurand.TOTAL_ACIDITY),
    ):
        found = records.known_reading(records.latest_reading(use.source, measurand))
        if found:
            known[name] = Known(found.text, f"{use.source}, {found.source}")
    return known


def known_pitch(lot: Lot) -> dict[str, Known]:
    """The starter written into a batch: its pH, its acidity, its share."""
    known, batch = known_starter(lot), lot.detail
    if isinstance(batch, Batch) and batch.made and (starter := records.starter_volume(batch)):
        share = 100 * starter / batch.made
        known["share"] = Known(f"{share:.1f}", "starter written into the batch")
    return known


CALCULATIONS = (
    Calculation(
        slug="titration",
        title="Total acidity",
        group=GROUP,
        question="How much acid is in it?",
        formula="mL of sodium hydroxide × its strength × 60.052 ÷ mL of sample, to pH 8.1. "
        "Burette ± 0.05 mL, strength ± 0.5 %, sample ± 1 % (common practice, standard "
        "uncertainties).",
        form=TitrationForm,
        work=titration,
        about=(LotKind.CULTURE, LotKind.BATCH, LotKind.BOTTLING),
        known=known_lot,
    ),
    Calculation(
        slug="pitched-ph",
        title="pH after adding starter",
        group=GROUP,
        question="Will this much starter make the tea sour enough at once?",
        formula="Charges of all acids and bases balance at one pH; starter and tea bring theirs in "
        "proportion to their volumes.",
        form=PitchedPhForm,
        work=pitched_ph,
        about=(LotKind.BATCH,),
        known=known_pitch,
    ),
    Calculation(
        slug="starter-needed",
        title="Starter needed",
        group=GROUP,
        question="How much of this starter reaches a pH at once?",
        formula="The charge balance of starter and tea, solved for the share of starter; never "
        "below the least that binds.",
        form=StarterNeededForm,
        work=starter_needed,
        about=(LotKind.BATCH,),
        known=known_starter,
    ),
)
