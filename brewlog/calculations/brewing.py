"""Sweet tea: how much of what, how hot, how long to cool, and whether the sugar is in it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError

from brewlog.calculations import records
from brewlog.calculations.base import (
    METRIC,
    Answer,
    Calculation,
    CalculationForm,
    DegreesField,
    InUnits,
    Known,
    Table,
    Units,
    kilograms,
    litres,
)
from brewlog.domain.recipes import scale
from brewlog.forms.fields import NamedField, NumberField, QuantityField
from brewlog.forms.recipes import RecipeVersionField
from brewlog.models import Batch, Brew, Ingredient, Lot, LotKind, Measurand, Vessel
from brewlog.science import mixing
from brewlog.science.results import Result
from brewlog.units import Dimension, Quantity, show_quantity

GROUP = "Sweet tea"
HOT = "Hot water and hot sugar burn. Pour concentrate into cold water, not water into it."


class ScaleForm(InUnits):
    recipe = RecipeVersionField(label="Recipe version")
    volume = QuantityField(Dimension.VOLUME, label="Volume wanted", required=False)
    ingredient = NamedField(Ingredient, label="Ingredient that is short", required=False)
    there = QuantityField(label="How much of it there is", required=False)
    vessel = NamedField(Vessel, label="Vessel", required=False)
    headspace = NumberField(
        label="Headspace, %", required=False, least=0, most=50, help_text="10 where left empty."
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not any(cleaned.get(name) for name in ("volume", "there", "vessel")):
            raise ValidationError(
                "Say what sets the size: a volume, an ingredient that is short, or a vessel."
            )
        if bool(cleaned.get("there")) != bool(cleaned.get("ingredient")):
            self.add_error("there", "Name the ingredient and how much of it there is.")
        return cleaned


def scale_recipe(
    *,
    recipe: Any,
    volume: Quantity | None,
    ingredient: Ingredient | None,
    there: Quantity | None,
    vessel: Vessel | None,
    headspace: Decimal | None,
    units: Units = METRIC,
) -> Answer:
    """The largest batch within everything that was named, and what it takes."""
    lines = list(recipe.lines.live().select_related("ingredient"))
    per_litre = {str(line.pk): float(line.per_litre) for line in lines}
    on_hand = {}
    if ingredient is not None and there is not None:
        short = [line for line in lines if line.ingredient_id == ingredient.pk]
        if not short:
            raise ValidationError({"ingredient": f"{recipe} takes no {ingredient}."})
        if there.dimension != ingredient.dimension:
            raise ValidationError({"there": f"Write {ingredient} by {ingredient.dimension}."})
        on_hand[str(short[0].pk)] = float(there.canonical)
    room = [litres(volume)] if volume else []
    if vessel is not None:
        if vessel.capacity is None:
            raise ValidationError({"vessel": f"What {vessel} holds is not written down."})
        share = float(headspace if headspace is not None else 10) / 100
        room.append(vessel.capacity / 1e6 * (1 - share))
    batch = mixing.largest_batch(per_litre, on_hand, min(room) if room else None)
    size = Quantity(round(batch.volume_l * 1e6), Dimension.VOLUME, "")
    rows = [
        (line.name, show_quantity(line.amount, line.line.dimension, units.system))
        for line in scale(recipe, size)
    ]
    bound = str(ingredient) if batch.bound_by != "vessel" else "the volume or vessel"
    return Answer(
        headline=f"{show_quantity(size.canonical, Dimension.VOLUME, units.system)} of {recipe}, "
        f"bound by {bound}.",
        sources=("Proportion to the volume; exact, rounded to what a scale shows.",),
        tables=(Table("What it takes", ("ingredient", "amount"), rows, comes_first=True),),
    )


class TopUpForm(InUnits):
    volume = QuantityField(Dimension.VOLUME, label="Volume to end with")
    sugar = NumberField(label="Sugar in it, g/L", least=0, most=500)
    concentrate_temperature = DegreesField(
        label="Temperature of the concentrate", least=0, most=100
    )
    water_temperature = DegreesField(label="Temperature of the cold water", least=0, most=100)
    limit = DegreesField(label="Not warmer than, at pitching", least=0, most=100)
    ice = QuantityField(Dimension.MASS, label="Ice", required=False)


def top_up(
    *,
    volume: Quantity,
    sugar: Decimal,
    concentrate_temperature: Decimal,
    water_temperature: Decimal,
    limit: Decimal,
    ice: Quantity | None,
    units: Units = METRIC,
) -> Answer:
    """The most hot concentrate that cold water still brings down to the limit."""
    plan = mixing.largest_concentrate(
        litres(volume),
        float(sugar),
        float(concentrate_temperature),
        float(water_temperature),
        float(limit),
        kilograms(ice) if ice else 0.0,
    )
    return Answer(
        headline=f"At most {units.volume(plan.concentrate_l)} of concentrate, topped up with "
        f"{units.volume(plan.cold_water_kg)} of cold water, ends at "
        f"{units.temperature(plan.final_temperature_c, 1)}.",
        results=(_mixed(plan, water_temperature),),
        tables=(_poured_table(plan, units),),
        warnings=(MEASURE_FIRST,),
    )


MEASURE_FIRST = (
    "Measure the mixture before adding starter: the vessel's own warmth and stirring are not in "
    "this."
)


def _mixed(plan: mixing.TopUp, water_temperature: Decimal) -> Result:
    liquids = [
        mixing.Liquid(plan.concentrate_kg, plan.concentrate_temperature_c, plan.concentrate_brix),
        mixing.Liquid(max(plan.cold_water_kg, 0.0), float(water_temperature)),
    ]
    return mixing.mixing_temperature(liquids, plan.ice_kg)


def _poured_table(plan: mixing.TopUp, units: Units) -> Table:
    rows = [
        ("hot concentrate", units.volume(plan.concentrate_l), units.mass(plan.concentrate_kg)),
        ("of it, its strength", f"{plan.concentrate_brix:.1f} °Bx", ""),
        ("cold water", units.volume(plan.cold_water_kg), units.mass(plan.cold_water_kg)),
        ("ice", "", units.mass(plan.ice_kg)),
    ]
    return Table("Pour together", ("what", "volume", "weight"), rows, comes_first=True)


class HottestForm(InUnits):
    volume = QuantityField(Dimension.VOLUME, label="Volume to end with")
    sugar = NumberField(label="Sugar in it, g/L", least=0, most=500)
    concentrate = QuantityField(
        Dimension.VOLUME,
        label="Concentrate there is",
        help_text="All the sugar and tea, before it is topped up.",
    )
    water_temperature = DegreesField(label="Temperature of the cold water", least=0, most=100)
    limit = DegreesField(label="Not warmer than, at pitching", least=0, most=100)
    ice = QuantityField(Dimension.MASS, label="Ice", required=False)
    now = DegreesField(
        label="Temperature of the concentrate now", required=False, least=0, most=100
    )


def hottest(
    *,
    volume: Quantity,
    sugar: Decimal,
    concentrate: Quantity,
    water_temperature: Decimal,
    limit: Decimal,
    ice: Quantity | None,
    now: Decimal | None,
    units: Units = METRIC,
) -> Answer:
    """How hot the concentrate may still be when it is topped up; beside how hot it is now."""
    plan = mixing.hottest_concentrate(
        litres(volume),
        float(sugar),
        litres(concentrate),
        float(water_temperature),
        float(limit),
        kilograms(ice) if ice else 0.0,
    )
    top = plan.concentrate_temperature_c
    poured = (
        f"topped up with {units.volume(max(plan.cold_water_kg, 0.0))} of cold water it ends at "
        f"{units.temperature(plan.final_temperature_c, 1)}."
    )
    may_boil = top >= 100
    headline = (
        f"Even boiling it is not too hot: {poured}"
        if may_boil
        else f"Not hotter than {units.temperature(top, 1)}: {poured}"
    )
    verdict = ""
    if now is not None:
        verdict = "cool enough to top up" if may_boil or now <= top else "too hot, cool it first"
    return Answer(
        headline=headline,
        verdict=verdict,
        results=(_mixed(plan, water_temperature),),
        tables=(_poured_table(plan, units),),
        warnings=(MEASURE_FIRST,),
    )


def known_hottest(lot: Lot) -> dict[str, Known]:
    known = known_top_up(lot)
    last = (
        lot.steps.live()  # type: ignore[attr-defined]
        .filter(temperature__isnull=False)
        .order_by("happened_at", "id")
        .last()
    )
    if last is not None:
        words = f"{last.get_kind_display()}, {last.when}"
        known["now"] = Known(f"{last.temperature} C", words)
    return known


class CoolingForm(InUnits):
    first = DegreesField(label="First reading", least=0, most=100)
    second = DegreesField(label="Second reading", least=0, most=100)
    hours = NumberField(label="Hours between them", least=0, most=100)
    room = DegreesField(label="Room or bath temperature", least=-20, most=50)
    target = DegreesField(
        label="Cool to",
        least=0,
        most=100,
        help_text="Warmer than the room, and not above the second reading.",
    )


def cooling(
    *,
    first: Decimal,
    second: Decimal,
    hours: Decimal,
    room: Decimal,
    target: Decimal,
    units: Units = METRIC,
) -> Answer:
    """When the vessel will be cool enough, from two readings of it."""
    found = mixing.hours_to_cool(
        float(first), float(second), float(hours), float(room), float(target)
    )
    low, high = found.interval_95()
    return Answer(
        headline=f"About {found.value:.1f} h after the second reading (between {low:.1f} h and "
        f"{high:.1f} h).",
        results=(found,),
        warnings=(
            (
                f"Sweet tea between {units.temperature(5)} and {units.temperature(57)} feeds what "
                "you do not want. Cool it fast and add starter promptly."
            ),
        ),
    )


def known_cooling(lot: Lot) -> dict[str, Known]:
    steps = list(
        lot.steps.live().filter(temperature__isnull=False).order_by("happened_at", "id")  # type: ignore[attr-defined]
    )
    if len(steps) < 2:
        return {}
    earlier, later = steps[-2:]
    hours = (later.happened_at - earlier.happened_at).total_seconds() / 3600
    known = {
        "first": Known(f"{earlier.temperature} C", f"{earlier.get_kind_display()}, {earlier.when}"),
        "second": Known(f"{later.temperature} C", f"{later.get_kind_display()}, {later.when}"),
        "hours": Known(f"{hours:.2f}", "between the two"),
    }
    recipe = lot.detail.recipe  # type: ignore[attr-defined]
    if recipe and recipe.pitch_temperature is not None:
        known["target"] = Known(f"{recipe.pitch_temperature} C", f"{recipe}")
    return known


class BrixForm(CalculationForm):
    sugar = QuantityField(Dimension.MASS, label="Sugar weighed in")
    volume = QuantityField(Dimension.VOLUME, label="Volume made up to")
    starter = QuantityField(Dimension.VOLUME, label="Starter in it", required=False)
    starter_brix = NumberField(label="Brix of the starter", required=False, least=0, most=30)
    reading = NumberField(label="Brix read", required=False, least=-1, most=80)
    reading_uncertainty = NumberField(
        label="Standard uncertainty of the reading, °Bx",
        required=False,
        least=Decimal("0.0001"),
        most=10,
        help_text="0.1 where left empty (common practice).",
    )


def brix(
    *,
    sugar: Quantity,
    volume: Quantity,
    starter: Quantity | None,
    starter_brix: Decimal | None,
    reading: Decimal | None,
    reading_uncertainty: Decimal | None,
) -> Answer:
    """What the refractometer should show, and whether it does."""
    expected = mixing.expected_brix(
        kilograms(sugar),
        litres(volume),
        litres(starter) if starter else 0.0,
        float(starter_brix or 0),
        u_sugar_kg=0.005 * kilograms(sugar),
        u_final_volume_l=0.01 * litres(volume),
    )
    low, high = expected.interval_95()
    headline = f"Expect {expected.value:.2f} °Bx (between {low:.2f} and {high:.2f})."
    if reading is None:
        return Answer(headline=headline, results=(expected,))
    u_reading = float(reading_uncertainty or records.DEFAULT_UNCERTAINTY[Measurand.BRIX])
    compared = mixing.compare_brix(expected, float(reading), u_reading)
    agrees = bool(compared.step("agrees"))
    return Answer(
        headline=headline,
        verdict="agrees" if agrees else "does not agree",
        results=(expected, compared),
        warnings=()
        if agrees
        else (
            (
                "Is all the sugar dissolved and stirred in? Check the weights, the volume and the "
                "refractometer's zero before going on."
            ),
        ),
    )


def known_brix(lot: Lot) -> dict[str, Known]:
    known: dict[str, Known] = {}
    volume = records.volume_of(lot)
    sugar = records.sugar_g_per_l(lot)
    if volume and sugar and lot.made:
        weighed = show_quantity(round(sugar * lot.made / 1000), Dimension.MASS)
        known["sugar"] = Known(weighed, "sugar lots used")
        known["volume"] = volume
    reading = records.first_reading(lot, Measurand.BRIX)
    if reading is not None:
        known["reading"] = Known(f"{reading.value.normalize():f}", f"reading of {reading.when}")
        u, _ = records.instrument_uncertainty(reading.instrument, Measurand.BRIX)
        known["reading_uncertainty"] = Known(f"{u:.3f}", f"{reading.instrument or 'a usual value'}")
    return known


def known_scale(lot: Lot) -> dict[str, Known]:
    detail = lot.detail
    assert isinstance(detail, Batch | Brew)
    known = {}
    if detail.recipe:
        known["recipe"] = Known(str(detail.recipe), f"{lot}")
    if detail.planned_text:
        known["volume"] = Known(detail.planned_text, "planned volume")
    return known


def known_top_up(lot: Lot) -> dict[str, Known]:
    known = {}
    detail = lot.detail
    assert isinstance(detail, Batch | Brew)
    if detail.planned_text:
        known["volume"] = Known(detail.planned_text, "planned volume")
    if detail.recipe is None:
        return known
    if detail.recipe.pitch_temperature is not None:
        known["limit"] = Known(f"{detail.recipe.pitch_temperature} C", f"{detail.recipe}")
    sugar = [line for line in detail.recipe.lines.live() if line.role == "sugar"]
    if sugar and all(line.dimension == "mass" for line in sugar):
        grams = sum(line.per_litre for line in sugar) / 1000
        known["sugar"] = Known(f"{grams:g}", f"{detail.recipe}")
    return known


CALCULATIONS = (
    Calculation(
        slug="scale",
        title="Scale a recipe",
        group=GROUP,
        question="How much of everything does this volume take, or how far does this sugar go?",
        formula="Each amount per litre times the volume; the smallest of the limits sets the "
        "volume.",
        form=ScaleForm,
        work=scale_recipe,
        about=(LotKind.BATCH, LotKind.BREW),
        known=known_scale,
    ),
    Calculation(
        slug="top-up",
        title="Concentrate and cold water",
        group=GROUP,
        question="How much hot concentrate can be topped up and still be cool enough to pitch?",
        formula="Heat given by the concentrate equals heat taken by water and ice; sugar water "
        "takes less heat than water.",
        form=TopUpForm,
        work=top_up,
        about=(LotKind.BATCH, LotKind.BREW),
        known=known_top_up,
        caution=HOT,
        see_also=("hottest-concentrate",),
    ),
    Calculation(
        slug="hottest-concentrate",
        title="How hot a concentrate may be",
        group=GROUP,
        question="How hot may this concentrate be and still be cool enough for starter once it is "
        "topped up with cold water?",
        formula="Heat given by the concentrate equals heat taken by water and ice; sugar water "
        "takes less heat than water. Found for the warmest the mixture may be.",
        form=HottestForm,
        work=hottest,
        about=(LotKind.BATCH, LotKind.BREW),
        known=known_hottest,
        caution=HOT,
        see_also=("top-up", "cooling"),
    ),
    Calculation(
        slug="cooling",
        title="Time to cool",
        group=GROUP,
        question="When will this vessel be cool enough for starter?",
        formula="The difference to the room shrinks by the same share every hour.",
        form=CoolingForm,
        work=cooling,
        about=(LotKind.BATCH, LotKind.BREW),
        known=known_cooling,
        see_also=("hottest-concentrate",),
    ),
    Calculation(
        slug="brix",
        title="Brix of the sweet tea",
        group=GROUP,
        question="Does the refractometer show the sugar that was weighed in?",
        formula="Sugar weighed in over the volume made up, turned into Brix by the density of "
        "sugar solutions. Weights are taken as good to 0.5 %, volumes to 1 % (common practice).",
        form=BrixForm,
        work=brix,
        about=(LotKind.BATCH, LotKind.BREW),
        known=known_brix,
    ),
)
