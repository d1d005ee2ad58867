"""Scaling a recipe, making sweet tea, and bringing it to pitching temperature."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from scipy.optimize import brentq

from brewlog.science import sugar
from brewlog.science.errors import OutOfRange, check_range
from brewlog.science.results import COVERAGE_95, Result, Step
from brewlog.science.uncertainty import combined, propagate

CALCULATION_VERSION = "1"

SOURCE_HEAT = (
    "heat balance; heat capacity of sucrose solution from Bubnik and Kadlec, Sugar Technologists "
    "Manual (1995), as cited by Llano (2005) (read), on IAPWS-95 water; ice 333.55 kJ/kg and "
    "2.05 kJ/(kg K) (from memory)"
)
SOURCE_COOLING = "Newton's law of cooling: an exponential approach to the room's temperature"

LATENT_HEAT_OF_ICE_KJ_PER_KG = 333.55
ICE_HEAT_CAPACITY_KJ_PER_KG_K = 2.05
# Liquid water's enthalpy above 0 °C in kJ/kg, by powers of t/100 from the fifth down: fitted
# here to IAPWS-95 at 101.325 kPa, within 0.006 kJ/kg.
_WATER_ENTHALPY = (5.70594, -17.34752, 22.86733, -13.84188, 421.72678)
# A syrup much above this does not stay dissolved at room temperature.
MAX_SYRUP_BRIX = 67.0


@dataclass(frozen=True)
class ScaledRecipe:
    """Amounts for one batch; `bound_by` names what set the size."""

    volume_l: float
    amounts: dict[str, float]
    bound_by: str


@dataclass(frozen=True)
class Liquid:
    """A weight of water or sweet tea at one temperature; `brix` 0 is water."""

    mass_kg: float
    temperature_c: float
    brix: float = 0.0


@dataclass(frozen=True)
class TopUp:
    """Hot concentrate and what it is topped up with, by weight and (at 20 °C) by volume."""

    concentrate_kg: float
    concentrate_l: float
    concentrate_brix: float
    concentrate_temperature_c: float
    cold_water_kg: float
    ice_kg: float
    final_temperature_c: float
    final_volume_l: float


def scale_recipe(per_litre: Mapping[str, float], volume_l: float) -> ScaledRecipe:
    """Amounts for a batch of `volume_l` (> 0 L), each in its own unit per litre. Exact."""
    check_range("batch volume", volume_l, 1e-6, math.inf, "L")
    _check_amounts(per_litre)
    amounts = {name: amount * volume_l for name, amount in per_litre.items()}
    return ScaledRecipe(volume_l, amounts, "volume")


def largest_batch(
    per_litre: Mapping[str, float],
    on_hand: Mapping[str, float],
    vessel_l: float | None = None,
    headspace_fraction: float = 0.0,
) -> ScaledRecipe:
    """The largest batch that what is on hand, and the vessel, allow.

    `on_hand` names some of the recipe's ingredients, in the recipe's units (>= 0), such as
    the sugar left; ingredients not named are taken as plentiful. The vessel is filled to
    `1 - headspace_fraction` (0 to 0.9). At least one limit must be given. Raises OutOfRange,
    or KeyError for an ingredient the recipe does not hold. Exact.
    """
    _check_amounts(per_litre)
    _check_amounts(on_hand)
    check_range("headspace", headspace_fraction, 0.0, 0.9)
    limits = {
        name: amount / per_litre[name] for name, amount in on_hand.items() if per_litre[name] > 0.0
    }
    if vessel_l is not None:
        check_range("vessel volume", vessel_l, 1e-6, math.inf, "L")
        limits["vessel"] = vessel_l * (1.0 - headspace_fraction)
    if not limits:
        raise ValueError("Name an amount on hand or a vessel to size the batch by.")
    bound_by = min(limits, key=lambda name: limits[name])
    volume_l = limits[bound_by]
    amounts = {name: amount * volume_l for name, amount in per_litre.items()}
    return ScaledRecipe(volume_l, amounts, bound_by)


def mixing_temperature(
    liquids: Sequence[Liquid], ice_kg: float = 0.0, ice_temperature_c: float = 0.0
) -> Result:
    """Temperature in °C of liquids (and ice) poured together, without losses.

    Masses >= 0 kg in total > 0, liquids 0 to 100 °C and 0 to 80 °Bx, ice -40 to 0 °C. The
    vessel's own heat and evaporation are left out. Raises OutOfRange where a value is out of
    range or the ice would not all melt. Accuracy 0.1 K. Source: `SOURCE_HEAT`.
    """
    for liquid in liquids:
        _check_liquid(liquid)
    check_range("ice", ice_kg, 0.0, math.inf, "kg")
    check_range("ice temperature", ice_temperature_c, -40.0, 0.0, "°C")
    total_kg = sum(liquid.mass_kg for liquid in liquids) + ice_kg
    check_range("mass mixed", total_kg, 1e-9, math.inf, "kg")
    brix = sum(liquid.mass_kg * liquid.brix for liquid in liquids) / total_kg
    heat_kj = _heat(liquids, ice_kg, ice_temperature_c)
    if heat_kj < 0.0:
        most = ice_kg * (1.0 + heat_kj / (ice_kg * LATENT_HEAT_OF_ICE_KJ_PER_KG))
        raise OutOfRange("ice", ice_kg, 0.0, max(most, 0.0), "kg")
    temperature_c = _temperature_of(heat_kj / total_kg, brix)
    return Result(
        quantity="temperature after mixing",
        value=temperature_c,
        unit="°C",
        standard_uncertainty=0.1,
        method="heat given by the warm = heat taken by the cold, with heat capacity by sugar",
        source=SOURCE_HEAT,
        steps=(
            Step("total mass", total_kg, "kg"),
            Step("heat above water at 0 °C", heat_kj, "kJ"),
            Step("Brix of the mixture", brix, "°Bx"),
        ),
        supports="planning how hot or cold a mixture will be",
        cannot_support="the record that the batch was cool enough: measure it",
        calculation_version=CALCULATION_VERSION,
    )


def largest_concentrate(
    final_volume_l: float,
    sugar_g_per_l: float,
    concentrate_temperature_c: float,
    cold_water_c: float,
    limit_c: float,
    ice_kg: float = 0.0,
) -> TopUp:
    """The most hot concentrate that cold water (and ice) still brings to `limit_c` or below.

    All the sugar of the final volume (L at 20 °C, > 0; 0 to 500 g/L) is in the concentrate,
    which is no stronger than 67 °Bx. Temperatures 0 to 100 °C; ice at 0 °C. Raises OutOfRange
    where even the strongest concentrate ends above the limit. Source: `SOURCE_HEAT`.
    """
    sugar_kg, total_kg = _sugar_and_total(final_volume_l, sugar_g_per_l)
    least = sugar_kg / (MAX_SYRUP_BRIX / 100.0)
    most = total_kg - ice_kg
    check_range("ice", ice_kg, 0.0, total_kg - least, "kg")

    def outcome(concentrate_kg: float) -> float:
        return _topped_up(
            concentrate_kg, concentrate_temperature_c, sugar_kg, total_kg, cold_water_c, ice_kg
        )

    if outcome(least) > limit_c:
        raise OutOfRange("pitching limit", limit_c, outcome(least), 100.0, "°C")
    if outcome(most) <= limit_c:
        concentrate_kg = most
    else:
        concentrate_kg = float(brentq(lambda m: outcome(m) - limit_c, least, most, xtol=1e-9))
    return _top_up(
        concentrate_kg, concentrate_temperature_c, sugar_kg, total_kg, cold_water_c, ice_kg
    )


def hottest_concentrate(
    final_volume_l: float,
    sugar_g_per_l: float,
    concentrate_l: float,
    cold_water_c: float,
    limit_c: float,
    ice_kg: float = 0.0,
) -> TopUp:
    """The highest temperature at which `concentrate_l` (at 20 °C) may be topped up.

    Ranges, units and source as `largest_concentrate`; the answer is cut at 100 °C. Raises
    OutOfRange where no temperature above freezing would do.
    """
    sugar_kg, total_kg = _sugar_and_total(final_volume_l, sugar_g_per_l)
    check_range("concentrate volume", concentrate_l, 1e-6, final_volume_l, "L")
    grams_per_l = 1000.0 * sugar_kg / concentrate_l
    brix = sugar.brix_from_sugar_g_per_l(min(grams_per_l, 1100.0))
    check_range("concentrate", brix, 0.0, MAX_SYRUP_BRIX, "°Bx")
    concentrate_kg = concentrate_l * _kg_per_l(brix)
    # What is left for ice beside the concentrate; the cold water is the rest.
    check_range("ice", ice_kg, 0.0, max(total_kg - concentrate_kg, 0.0), "kg")

    def outcome(temperature_c: float) -> float:
        return _topped_up(concentrate_kg, temperature_c, sugar_kg, total_kg, cold_water_c, ice_kg)

    if outcome(0.0) > limit_c:
        raise OutOfRange("pitching limit", limit_c, outcome(0.0), 100.0, "°C")
    if outcome(100.0) <= limit_c:
        hottest = 100.0
    else:
        hottest = float(brentq(lambda t: outcome(t) - limit_c, 0.0, 100.0, xtol=1e-9))
    return _top_up(concentrate_kg, hottest, sugar_kg, total_kg, cold_water_c, ice_kg)


def expected_brix(
    sugar_kg: float,
    final_volume_l: float,
    starter_l: float = 0.0,
    starter_brix: float = 0.0,
    u_sugar_kg: float = 0.0,
    u_final_volume_l: float = 0.0,
) -> Result:
    """°Brix a refractometer should show in sweet tea made up to `final_volume_l` at 20 °C.

    Sugar >= 0 kg, volume > 0 L including the starter (0 L to the whole; its own 0 to 30 °Bx).
    Tea solids, about 2 g/L or 0.2 °Bx, are not counted. Raises OutOfRange. Source: mass
    balance with ICUMSA densities.
    """
    check_range("sugar", sugar_kg, 0.0, math.inf, "kg")
    check_range("final volume", final_volume_l, 1e-6, math.inf, "L")
    check_range("starter", starter_l, 0.0, final_volume_l, "L")
    starter_g = starter_l * sugar.sugar_g_per_l_from_brix(starter_brix)

    def brix_of(added_kg: float, volume_l: float) -> float:
        return sugar.brix_from_sugar_g_per_l((1000.0 * added_kg + starter_g) / volume_l)

    brix, u = propagate(brix_of, (sugar_kg, u_sugar_kg), (final_volume_l, u_final_volume_l))
    return Result(
        quantity="expected Brix",
        value=brix,
        unit="°Bx",
        standard_uncertainty=u,
        method="sugar weighed in, over the volume made up",
        source=sugar.SOURCE_DENSITY,
        steps=(
            Step("sugar from the starter", starter_g, "g"),
            Step("sugar in all", (1000.0 * sugar_kg + starter_g) / final_volume_l, "g/L"),
            Step("specific gravity 20/20", sugar.specific_gravity_from_brix(brix)),
        ),
        supports="checking that sugar and volume went in as written",
        cannot_support="the sugar content on a label",
        calculation_version=CALCULATION_VERSION,
    )


def compare_brix(expected: Result, reading_brix: float, u_reading_brix: float) -> Result:
    """Reading minus expectation in °Brix, with whether the two agree at 95 %.

    The step "agrees" is 1 or 0. Reading -1 to 80 °Bx, its uncertainty > 0. Raises OutOfRange.
    """
    check_range("reading", reading_brix, -1.0, sugar.MAX_MASS_PERCENT, "°Bx")
    check_range("uncertainty of the reading", u_reading_brix, 1e-9, 10.0, "°Bx")
    u = combined(u_reading_brix, expected.standard_uncertainty or 0.0)
    difference = reading_brix - expected.value
    agrees = abs(difference) <= COVERAGE_95 * u
    return Result(
        quantity="reading minus expected Brix",
        value=difference,
        unit="°Bx",
        standard_uncertainty=u,
        method="difference against 1.96 combined standard uncertainties",
        source="JCGM 100:2008 (from memory)",
        steps=(
            Step("expected", expected.value, "°Bx"),
            Step("reading", reading_brix, "°Bx"),
            Step("agrees", float(agrees)),
        ),
        supports="noticing a wrong weight, volume or reading, or sugar not yet dissolved",
        cannot_support="saying which of them it was",
        calculation_version=CALCULATION_VERSION,
    )


def cooling_constant_per_h(
    first_c: float, second_c: float, hours_between: float, room_c: float
) -> float:
    """Newton's cooling constant k in 1/h from two readings of one vessel left alone.

    Readings 0 to 100 °C, cooling towards the room, hours_between > 0. Raises OutOfRange where
    the second reading does not lie between the first and the room. Source: `SOURCE_COOLING`.
    """
    check_range("first reading", first_c, 0.0, 100.0, "°C")
    check_range("room temperature", room_c, -20.0, 50.0, "°C")
    check_range("time between readings", hours_between, 1e-6, math.inf, "h")
    if not room_c < second_c < first_c:
        raise OutOfRange("second reading", second_c, room_c, first_c, "°C")
    return math.log((first_c - room_c) / (second_c - room_c)) / hours_between


def hours_to_cool(
    first_c: float,
    second_c: float,
    hours_between: float,
    room_c: float,
    target_c: float,
    u_reading_c: float = 0.5,
) -> Result:
    """Hours from the second reading until the vessel reaches `target_c`.

    Ranges as `cooling_constant_per_h`; `u_reading_c` is the thermometer's standard
    uncertainty, also taken for the room. Raises OutOfRange where the target is not above the
    room's temperature, which is then never reached, or not below the second reading.
    """
    constant = cooling_constant_per_h(first_c, second_c, hours_between, room_c)
    if not room_c < target_c <= second_c:
        raise OutOfRange("target temperature", target_c, room_c, second_c, "°C")

    def hours(a: float, b: float, room: float) -> float:
        k = math.log((a - room) / (b - room)) / hours_between
        return math.log((b - room) / (target_c - room)) / k

    value, u = propagate(
        hours, (first_c, u_reading_c), (second_c, u_reading_c), (room_c, u_reading_c)
    )
    return Result(
        quantity="time to cool",
        value=value,
        unit="h",
        standard_uncertainty=u,
        method="exponential approach to the room's temperature through two readings",
        source=SOURCE_COOLING,
        steps=(Step("cooling constant", constant, "1/h"),),
        supports="planning when to look again",
        cannot_support="the record of when the limit was reached: take a reading",
        calculation_version=CALCULATION_VERSION,
        lowest=0.0,
    )


def _check_amounts(amounts: Mapping[str, float]) -> None:
    for name, amount in amounts.items():
        check_range(name, amount, 0.0, math.inf)


def _check_liquid(liquid: Liquid) -> None:
    check_range("mass", liquid.mass_kg, 0.0, math.inf, "kg")
    check_range("temperature", liquid.temperature_c, 0.0, 100.0, "°C")
    check_range("sucrose content", liquid.brix, 0.0, sugar.MAX_MASS_PERCENT, "°Bx")


def enthalpy_kj_per_kg(brix: float, temperature_c: float) -> float:
    """kJ/kg above liquid water at 0 °C of a sucrose solution, ranges unchecked: for solvers.

    IAPWS-95 water, plus the sugar's term at full purity, integrated from the specific heat
    cp = 4.1868 - 0.0297 DS + 0.0046 DS + 7.5e-5 DS t of Bubnik and Kadlec 1995 (read as cited
    in Llano 2005); about 1 %.
    """
    t = temperature_c
    x = t / 100.0
    water = 0.0
    for coefficient in _WATER_ENTHALPY:
        water = (water + coefficient) * x
    return water + brix * t * (-0.0297 + 0.0046 + 3.75e-5 * t)


def _temperature_of(kj_per_kg: float, brix: float) -> float:
    return float(brentq(lambda t: enthalpy_kj_per_kg(brix, t) - kj_per_kg, -1.0, 101.0, xtol=1e-10))


def _heat(liquids: Sequence[Liquid], ice_kg: float, ice_temperature_c: float) -> float:
    warm = sum(part.mass_kg * enthalpy_kj_per_kg(part.brix, part.temperature_c) for part in liquids)
    per_kg_ice = ICE_HEAT_CAPACITY_KJ_PER_KG_K * ice_temperature_c - LATENT_HEAT_OF_ICE_KJ_PER_KG
    return warm + ice_kg * per_kg_ice


def _kg_per_l(brix: float) -> float:
    return sugar.sucrose_solution_density_kg_per_m3(brix, 20.0) / 1000.0


def _sugar_and_total(final_volume_l: float, sugar_g_per_l: float) -> tuple[float, float]:
    check_range("final volume", final_volume_l, 1e-6, math.inf, "L")
    check_range("sugar", sugar_g_per_l, 0.0, 500.0, "g/L")
    brix = sugar.brix_from_sugar_g_per_l(sugar_g_per_l)
    return sugar_g_per_l * final_volume_l / 1000.0, final_volume_l * _kg_per_l(brix)


def _poured(
    concentrate_kg: float,
    concentrate_c: float,
    sugar_kg: float,
    total_kg: float,
    cold_c: float,
    ice_kg: float,
) -> tuple[Liquid, Liquid]:
    brix = 100.0 * sugar_kg / concentrate_kg if concentrate_kg > 0.0 else 0.0
    cold_kg = max(total_kg - concentrate_kg - ice_kg, 0.0)
    liquids = (Liquid(concentrate_kg, concentrate_c, brix), Liquid(cold_kg, cold_c))
    for liquid in liquids:
        _check_liquid(liquid)
    return liquids


def _topped_up(
    concentrate_kg: float,
    concentrate_c: float,
    sugar_kg: float,
    total_kg: float,
    cold_c: float,
    ice_kg: float,
) -> float:
    """Final temperature for the solvers; 0 °C while some ice is left over."""
    liquids = _poured(concentrate_kg, concentrate_c, sugar_kg, total_kg, cold_c, ice_kg)
    heat_kj = max(_heat(liquids, ice_kg, 0.0), 0.0)
    return _temperature_of(heat_kj / total_kg, 100.0 * sugar_kg / total_kg)


def _top_up(
    concentrate_kg: float,
    concentrate_c: float,
    sugar_kg: float,
    total_kg: float,
    cold_c: float,
    ice_kg: float,
) -> TopUp:
    liquids = _poured(concentrate_kg, concentrate_c, sugar_kg, total_kg, cold_c, ice_kg)
    concentrate = liquids[0]
    return TopUp(
        concentrate_kg=concentrate_kg,
        concentrate_l=concentrate_kg / _kg_per_l(concentrate.brix),
        concentrate_brix=concentrate.brix,
        concentrate_temperature_c=concentrate_c,
        cold_water_kg=total_kg - concentrate_kg - ice_kg,
        ice_kg=ice_kg,
        final_temperature_c=mixing_temperature(liquids, ice_kg).value,
        final_volume_l=total_kg / _kg_per_l(100.0 * sugar_kg / total_kg),
    )
