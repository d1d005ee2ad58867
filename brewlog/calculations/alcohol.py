"""Alcohol: estimated from what was measured, bounded, and looked ahead to the end of shelf life.

None of it is evidence. Each answer says so, and says what would be.
"""

from __future__ import annotations

import math
from decimal import Decimal

from brewlog.calculations import records
from brewlog.calculations.base import Answer, Calculation, CalculationForm, Keep, Known, known_lot
from brewlog.forms.fields import LotField, NumberField
from brewlog.models import LabResult, Lot, LotKind, Measurand
from brewlog.science import alcohol, alcohol_learning
from brewlog.science.alcohol_learning import LaboratoryPair
from brewlog.science.results import COVERAGE_95, Result
from brewlog.science.uncertainty import Measured

GROUP = "Alcohol"
NOT_EVIDENCE = (
    "This is an estimate. Only a laboratory result or a distillation can show that a drink keeps "
    "to an alcohol line."
)
DEGAS = "Drive the gas out of the sample first: it lifts the hydrometer and adds to the acidity."
# Standard uncertainty of sugar weighed into a batch, as a share (common practice).
_SUGAR_WEIGHED = 0.01
# A starter of usual strength brings little alcohol (common practice).
_STARTER_ALCOHOL: Measured = (0.05, 0.05)


def _u(typed: Decimal | None, measurand: Measurand) -> float:
    return float(typed) if typed is not None else records.DEFAULT_UNCERTAINTY[measurand]


def uncertainty_field(measurand: Measurand, unit: str) -> NumberField:
    """A field for the standard uncertainty of a reading, with the default it falls back to."""
    usual = records.DEFAULT_UNCERTAINTY[measurand]
    return NumberField(
        label=f"Its standard uncertainty, {unit}" if unit else "Its standard uncertainty",
        required=False,
        least=Decimal("0.000001"),
        most=10,
        places=6,
        help_text=f"{usual} where left empty (common practice).",
    )


class EstimateForm(CalculationForm):
    """Gravity and Brix of one sample; acidity and the sugar weighed in where they are known."""

    for_lot = LotField(
        LotKind.BATCH, LotKind.BOTTLING, label="Lot", required=False, help_text="To keep it there."
    )
    gravity = NumberField(
        label="Specific gravity 20/20", least=Decimal("0.98"), most=Decimal("1.13"), places=5
    )
    u_gravity = uncertainty_field(Measurand.SPECIFIC_GRAVITY, "")
    brix = NumberField(label="Brix by refractometer", least=0, most=30)
    u_brix = uncertainty_field(Measurand.BRIX, "°Bx")
    acidity = NumberField(label="Total acidity, g/L as acetic", required=False, least=0, most=40)
    u_acidity = uncertainty_field(Measurand.TOTAL_ACIDITY, "g/L")
    sugar = NumberField(label="Sugar weighed in, g/L of batch", required=False, least=0, most=300)


def estimate(
    *,
    for_lot: Lot | None,
    gravity: Decimal,
    u_gravity: Decimal | None,
    brix: Decimal,
    u_brix: Decimal | None,
    acidity: Decimal | None,
    u_acidity: Decimal | None,
    sugar: Decimal | None,
) -> Answer:
    """The best estimate the inputs allow; every way to it is shown beside."""
    sg = (float(gravity), _u(u_gravity, Measurand.SPECIFIC_GRAVITY))
    bx = (float(brix), _u(u_brix, Measurand.BRIX))
    ways: list[Result] = [alcohol.from_gravity_and_brix(sg, bx)]
    if acidity is not None:
        ta = (float(acidity), _u(u_acidity, Measurand.TOTAL_ACIDITY))
        ways.insert(0, alcohol.from_gravity_brix_and_acidity(sg, bx, ta))
        if sugar is not None:
            start = (float(sugar), _SUGAR_WEIGHED * float(sugar))
            ways.insert(
                0, alcohol.combined_estimate(sg, bx, ta, start, initial_abv=_STARTER_ALCOHOL)
            )
    best = ways[0]
    low, high = best.interval_95()
    inputs = f"SG {gravity} ± {sg[1]}, Brix {brix} ± {bx[1]}"
    if acidity is not None:
        inputs += f", acidity {acidity} g/L"
    if sugar is not None:
        inputs += f", sugar weighed in {sugar} g/L"
    return Answer(
        headline=f"About {best.value:.2f} % vol (between {low:.2f} and {high:.2f}).",
        results=tuple(ways),
        warnings=(NOT_EVIDENCE, DEGAS, *_disagreement(ways)),
        keep=_keep(for_lot, best, inputs),
    )


def _disagreement(ways: list[Result]) -> tuple[str, ...]:
    """A warning where the first and the last way differ by more than both are unsure of."""
    one, other = ways[0], ways[-1]
    unsure = math.hypot(one.standard_uncertainty or 0, other.standard_uncertainty or 0)
    if abs(one.value - other.value) <= COVERAGE_95 * unsure:
        return ()
    return (
        (
            f"The ways to it disagree ({one.value:.2f} and {other.value:.2f} % vol) by more than "
            "their uncertainties: check the readings, the sugar written down and the temperature."
        ),
    )


def _keep(lot: Lot | None, result: Result, inputs: str) -> Keep | None:
    if lot is None or not result.standard_uncertainty:
        return None
    return Keep(
        entry="alcohol-estimate",
        label=f"Keep it as an estimate of {lot}",
        fields={
            "lot": lot.code,
            "method": result.quantity[:60],
            "inputs": inputs,
            "value": f"{max(result.value, 0):.3f}",
            "standard_uncertainty": f"{result.standard_uncertainty:.3f}",
            "calculation_version": f"{result.calculation_version}",
        },
    )


def known_estimate(lot: Lot) -> dict[str, Known]:
    known = known_lot(lot)
    for name, u_name, measurand in (
        ("gravity", "u_gravity", Measurand.SPECIFIC_GRAVITY),
        ("brix", "u_brix", Measurand.BRIX),
        ("acidity", "u_acidity", Measurand.TOTAL_ACIDITY),
    ):
        reading = records.latest_reading(lot, measurand)
        found = records.known_reading(reading)
        if found is None or reading is None:
            continue
        known[name] = found
        u, source = records.instrument_uncertainty(reading.instrument, measurand)
        known[u_name] = Known(f"{u:.5f}".rstrip("0"), source)
    weighed = records.sugar_g_per_l(lot)
    if weighed:
        known["sugar"] = Known(f"{weighed}", "sugar lots used")
    return known


class UpperFigureForm(CalculationForm):
    original = NumberField(
        label="Gravity before fermenting", least=1, most=Decimal("1.13"), places=5
    )
    final = NumberField(
        label="Gravity now, degassed", least=Decimal("0.98"), most=Decimal("1.13"), places=5
    )
    u_gravity = uncertainty_field(Measurand.SPECIFIC_GRAVITY, "")


def upper_figure(*, original: Decimal, final: Decimal, u_gravity: Decimal | None) -> Answer:
    """The gravity drop, told for what it is: an upper figure."""
    u = _u(u_gravity, Measurand.SPECIFIC_GRAVITY)
    found = alcohol.upper_figure_from_gravity_drop((float(original), u), (float(final), u))
    upper = found.step("upper figure at 95 %")
    return Answer(
        headline=f"Probably less than {upper:.2f} % vol: an upper figure, not an estimate.",
        results=(found,),
        warnings=(
            (
                "In live-culture drinks acid lifts the gravity again while alcohol falls: this "
                "way is worse than guessing the average."
            ),
            NOT_EVIDENCE,
        ),
    )


def known_upper(lot: Lot) -> dict[str, Known]:
    first = records.first_reading(lot, Measurand.SPECIFIC_GRAVITY)
    last = records.latest_reading(lot, Measurand.SPECIFIC_GRAVITY)
    if first is None or last is None or first.pk == last.pk:
        return {}
    found = {"original": records.known_reading(first), "final": records.known_reading(last)}
    return {name: each for name, each in found.items() if each is not None}


class ShelfLifeForm(CalculationForm):
    now = NumberField(label="Alcohol now, % vol", least=0, most=20)
    u_now = NumberField(
        label="Its standard uncertainty, % vol",
        required=False,
        least=0,
        most=5,
        help_text="0.25 where left empty: an estimate with hobby instruments.",
    )
    sugar = NumberField(label="Sugar left, g/L", least=0, most=300)
    u_sugar = NumberField(
        label="Its standard uncertainty, g/L",
        required=False,
        least=0,
        most=50,
        help_text="3 where left empty (common practice).",
    )
    fraction = NumberField(
        label="Share of it that ferments, %",
        required=False,
        least=0,
        most=100,
        help_text="50 where left empty; all of it is shown as well.",
    )


def shelf_life(
    *,
    now: Decimal,
    u_now: Decimal | None,
    sugar: Decimal,
    u_sugar: Decimal | None,
    fraction: Decimal | None,
) -> Answer:
    """What the bottle may come to, kept warm long enough."""
    share = float(fraction if fraction is not None else 50) / 100
    found = alcohol.potential_alcohol(
        (float(now), float(u_now if u_now is not None else Decimal("0.25"))),
        (float(sugar), float(u_sugar if u_sugar is not None else 3)),
        share,
    )
    partly = found.step("at the stated fraction")
    return Answer(
        headline=f"Up to {found.value:.2f} % vol if all the sugar ferments; {partly:.2f} % vol if "
        f"{share * 100:.0f} % of it does.",
        results=(found,),
        warnings=(
            NOT_EVIDENCE,
            (
                "Keeping it cold slows this and does not stop it; where it is sold you may "
                "answer for it all the same."
            ),
        ),
    )


def known_shelf_life(lot: Lot) -> dict[str, Known]:
    known: dict[str, Known] = {}
    lab = LabResult.objects.live().filter(lot=lot.pk, measurand=Measurand.ALCOHOL).last()
    if lab is not None:
        known["now"] = Known(f"{lab.value.normalize():f}", f"{lab.laboratory}, {lab.when}")
        if lab.standard_uncertainty is not None:
            u = f"{lab.standard_uncertainty.normalize():f}"
            known["u_now"] = Known(u, f"{lab.laboratory}")
    estimate_kept = lot.alcohol_estimates.live().last()  # type: ignore[attr-defined]
    if "now" not in known and estimate_kept is not None:
        source = f"estimate of {estimate_kept.when}"
        known["now"] = Known(f"{estimate_kept.value.normalize():f}", source)
        known["u_now"] = Known(f"{estimate_kept.standard_uncertainty.normalize():f}", source)
    return known


class LearnedForm(CalculationForm):
    for_lot = LotField(LotKind.BATCH, label="Batch", help_text="Its recipe's results are used.")
    gone = NumberField(label="Sugar gone, g/L", least=0, most=300)
    u_gone = NumberField(
        label="Its standard uncertainty, g/L",
        required=False,
        least=0,
        most=50,
        help_text="3 where left empty (common practice).",
    )


def learned(*, for_lot: Lot, gone: Decimal, u_gone: Decimal | None) -> Answer:
    """From sugar gone to alcohol, by the recipe's own laboratory results once there are five."""
    pairs = recipe_pairs(for_lot)
    found = alcohol_learning.from_sugar_gone(
        (float(gone), float(u_gone if u_gone is not None else 3)), pairs
    )
    low, high = found.interval_95()
    return Answer(
        headline=f"About {found.value:.2f} % vol (between {low:.2f} and {high:.2f}), by "
        f"{found.method}.",
        results=(found,),
        warnings=(NOT_EVIDENCE,),
        keep=_keep(for_lot, found, f"sugar gone {gone} g/L, {len(pairs)} laboratory results"),
    )


def recipe_pairs(lot: Lot) -> list[LaboratoryPair]:
    """Sugar gone and laboratory alcohol of every batch of the recipe that has both.

    Sugar gone is the fall of Brix from the first to the last reading, in g/L.
    """
    recipe = getattr(lot.detail, "recipe", None)
    if recipe is None:
        return []
    results = (
        LabResult.objects.live()
        .filter(measurand=Measurand.ALCOHOL, lot__as_batch__recipe__recipe=recipe.recipe_id)
        .select_related("lot")
        .order_by("id")
    )
    pairs = []
    for result in results:
        gone = sugar_gone(result.lot)
        if gone is not None:
            pairs.append(LaboratoryPair(gone, float(result.value)))
    return pairs


def sugar_gone(lot: Lot) -> float | None:
    """The fall of Brix over the lot's readings as g/L; None with fewer than two, or a rise."""
    first = records.first_reading(lot, Measurand.BRIX)
    last = records.latest_reading(lot, Measurand.BRIX)
    if first is None or last is None or first.pk == last.pk or last.value > first.value:
        return None
    return records.brix_as_g_per_l(first.value) - records.brix_as_g_per_l(last.value)


def known_learned(lot: Lot) -> dict[str, Known]:
    known = known_lot(lot)
    gone = sugar_gone(lot)
    if gone is not None:
        known["gone"] = Known(f"{gone:.1f}", "the fall of its Brix readings")
    return known


CALCULATIONS = (
    Calculation(
        slug="alcohol",
        title="Alcohol from gravity and Brix",
        group=GROUP,
        question="How much alcohol is in it, as far as a hydrometer and a refractometer can tell?",
        formula="Sugar and acid make a drink denser, alcohol makes it lighter; all of them bend "
        "light. Two readings part sugar from alcohol; acidity and the sugar weighed in "
        "sharpen it.",
        form=EstimateForm,
        work=estimate,
        about=(LotKind.BATCH, LotKind.BOTTLING),
        known=known_estimate,
        see_also=("alcohol-learned", "alcohol-shelf-life", "alcohol-upper"),
    ),
    Calculation(
        slug="alcohol-learned",
        title="Alcohol by your own laboratory results",
        group=GROUP,
        question="What do this recipe's laboratory results say about a batch like this?",
        formula="A straight line through sugar gone and laboratory alcohol of the recipe's earlier "
        "batches, with the interval one more batch falls in. Fewer than five results: a "
        "general expectation, which is wide.",
        form=LearnedForm,
        work=learned,
        about=(LotKind.BATCH,),
        known=known_learned,
        see_also=("alcohol",),
    ),
    Calculation(
        slug="alcohol-shelf-life",
        title="Alcohol at the end of shelf life",
        group=GROUP,
        question="How much alcohol may the bottle hold when it is old?",
        formula="Alcohol now, plus 0.511 g of alcohol for each gram of sugar left that ferments.",
        form=ShelfLifeForm,
        work=shelf_life,
        about=(LotKind.BATCH, LotKind.BOTTLING),
        known=known_shelf_life,
        see_also=("alcohol",),
    ),
    Calculation(
        slug="alcohol-upper",
        title="Upper figure from the gravity drop",
        group=GROUP,
        question="What is the most alcohol the fall in gravity allows?",
        formula="Balling: as if all the gravity lost had become alcohol, which here it has not.",
        form=UpperFigureForm,
        work=upper_figure,
        about=(LotKind.BATCH, LotKind.BOTTLING),
        known=known_upper,
        see_also=("alcohol",),
    ),
)
