"""Pressure in a closed bottle, and whether its rating allows it.

No word here says that a bottle can be trusted. A pressure is below the rating by calculation,
or close, or too high; and bottles of unknown strength have no rating to be below of.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from scipy.optimize import brentq

from brewlog.science import stoichiometry
from brewlog.science.carbonation import (
    ATMOSPHERE_KPA,
    CO2_G_PER_L_PER_VOLUME,
    GAS_CONSTANT,
    MAX_PRESSURE_BAR,
    SOURCE_SOLUBILITY,
    U_SOLUBILITY,
    co2_compressibility,
    dissolved_co2_g_per_l,
)
from brewlog.science.errors import OutOfRange, check_range
from brewlog.science.results import ONE_SIDED_95, Result, Step
from brewlog.science.uncertainty import Measured, propagate
from brewlog.science.water import ZERO_CELSIUS_K, water_vapour_pressure_kpa

CALCULATION_VERSION = "1"

SOURCE = f"mass balance of CO2 between drink and headspace; {SOURCE_SOLUBILITY}"

DEFAULT_SAFETY_FACTOR = 2.0

CAUTIONS = (
    "Wear gloves and eye protection when handling bottles that are still fermenting.",
    "Keep conditioning bottles in a closed, shielded crate, away from people.",
    "Chill a bottle well before opening it; pressure falls as it grows cold.",
    "Open one bottle of every lot on the way, and note what it did.",
    "Carbon dioxide from vessels, tanks and cylinders gathers low and kills without warning.",
    "Air the room, carry a CO2 alarm, and never put your head into a tank.",
)


class BottleKind(StrEnum):
    """What is known of a bottle's strength."""

    RATED = "new, with a pressure rating from its maker"
    REUSED = "reused"
    DECORATIVE = "decorative, or a jar"
    UNKNOWN = "unknown"


class Verdict(StrEnum):
    """What the calculated pressure means for a bottle."""

    BELOW_RATING = "below the rating by calculation"
    CLOSE = "close: chill and check"
    TOO_HIGH = "do not keep warm"


@dataclass(frozen=True)
class Bottle:
    """A bottle's kind and, if its maker states one, its rated gauge pressure in bar."""

    kind: BottleKind
    rated_gauge_bar: float | None = None


@dataclass(frozen=True)
class Judgement:
    """The verdict on a pressure in a bottle, with the figures it rests on."""

    verdict: Verdict
    reason: str
    gauge_bar: float
    upper_gauge_bar: float
    allowed_gauge_bar: float | None
    rated_gauge_bar: float | None
    safety_factor: float
    cautions: tuple[str, ...] = CAUTIONS
    calculation_version: str = CALCULATION_VERSION


def bottle_pressure(
    co2_g_per_l: Measured,
    temperature_c: Measured,
    headspace_ratio: Measured = (0.05, 0.01),
    filled_at_c: float = 20.0,
    air_trapped: bool = True,
    sugar_g_per_l: float = 0.0,
) -> Result:
    """Gauge pressure in bar in a closed bottle holding that much CO2 per litre of drink in all.

    CO2 0 to 40 g/L, bottle and filling at 0 to 40 °C, headspace 0 to 1 per volume of drink,
    sugar 0 to 150 g/L. `air_trapped`: capped on air at `filled_at_c`; otherwise the headspace
    was purged with CO2. Never below -1. Raises OutOfRange, also beyond 40 bar of CO2, which no
    bottle holds. 3 %. Source: `SOURCE`.
    """
    check_range("CO2 in all", co2_g_per_l[0], 0.0, 40.0, "g/L")
    check_range("bottle temperature", temperature_c[0], 0.0, 40.0, "°C")
    check_range("headspace", headspace_ratio[0], 0.0, 1.0, "of the drink")
    check_range("filling temperature", filled_at_c, 0.0, 40.0, "°C")

    def gauge(total: float, temperature: float, headspace: float, solubility: float) -> float:
        co2_bar = _co2_bar(total, temperature, headspace, sugar_g_per_l, solubility)
        return co2_bar + _other_bar(temperature, filled_at_c, air_trapped)

    value, u = propagate(gauge, co2_g_per_l, temperature_c, headspace_ratio, (1.0, U_SOLUBILITY))
    co2_bar = _co2_bar(co2_g_per_l[0], temperature_c[0], headspace_ratio[0], sugar_g_per_l, 1.0)
    dissolved = dissolved_co2_g_per_l(temperature_c[0], co2_bar, sugar_g_per_l)
    return Result(
        quantity="gauge pressure in the bottle",
        value=value,
        unit="bar",
        standard_uncertainty=u,
        method="CO2 shared between drink and headspace, plus trapped air and vapour",
        source=SOURCE,
        steps=(
            Step("CO2 in all", co2_g_per_l[0], "g/L"),
            Step("pressure of the CO2", co2_bar, "bar absolute"),
            Step("dissolved CO2", dissolved, "g/L"),
            Step("dissolved CO2 in volumes", dissolved / CO2_G_PER_L_PER_VOLUME, "volumes"),
            Step("vapour", water_vapour_pressure_kpa(temperature_c[0]) / 100.0, "bar"),
            Step("trapped air", _air_bar(temperature_c[0], filled_at_c, air_trapped), "bar"),
        ),
        supports="comparing with the bottle's rating by calculation",
        cannot_support="that a bottle will hold: glass is weakened by every scratch",
        calculation_version=CALCULATION_VERSION,
        lowest=-1.0,
    )


def pressure_if_all_ferments(
    remaining_sugar_g_per_l: Measured,
    temperature_c: Measured,
    co2_now_g_per_l: Measured = (1.0, 0.5),
    headspace_ratio: Measured = (0.05, 0.01),
    filled_at_c: float = 20.0,
    air_trapped: bool = True,
) -> Result:
    """Gauge pressure in bar if all the sugar left ferments in the closed, warm bottle.

    Sugar as hexose 0 to 80 g/L; the rest as `bottle_pressure`. Raises OutOfRange. The bound a
    bottle left in a warm van may come to.
    """
    check_range("remaining sugar", remaining_sugar_g_per_l[0], 0.0, 80.0, "g/L")
    check_range("CO2 now", co2_now_g_per_l[0], 0.0, 20.0, "g/L")
    made = remaining_sugar_g_per_l[0] * stoichiometry.CO2_PER_HEXOSE
    u_made = remaining_sugar_g_per_l[1] * stoichiometry.CO2_PER_HEXOSE
    total = (co2_now_g_per_l[0] + made, math.hypot(co2_now_g_per_l[1], u_made))
    return bottle_pressure(total, temperature_c, headspace_ratio, filled_at_c, air_trapped)


def judge(
    pressure: Result, bottle: Bottle, safety_factor: float = DEFAULT_SAFETY_FACTOR
) -> Judgement:
    """Compare a calculated pressure, at its one-sided 95 % upper end, with a bottle's rating.

    Below the rating by calculation: not above the rating over `safety_factor` (1 to 10).
    Close: above that, but not above the rating. Unknown, decorative and reused bottles, and
    bottles without a rating, never pass. Raises OutOfRange.
    """
    check_range("safety factor", safety_factor, 1.0, 10.0)
    upper = pressure.value + ONE_SIDED_95 * (pressure.standard_uncertainty or 0.0)
    rated = bottle.rated_gauge_bar
    if bottle.kind is not BottleKind.RATED or rated is None:
        kind = bottle.kind.value if bottle.kind is not BottleKind.RATED else "without a rating"
        reason = f"The bottle is {kind}: there is no rating to compare with."
        return Judgement(
            Verdict.TOO_HIGH, reason, pressure.value, upper, None, rated, safety_factor
        )
    check_range("rated pressure", rated, 0.0, 50.0, "bar")
    allowed = rated / safety_factor
    if upper <= allowed:
        verdict, compared = Verdict.BELOW_RATING, "not above the rating over the safety factor"
    elif upper <= rated:
        verdict, compared = Verdict.CLOSE, "above the rating over the safety factor"
    else:
        verdict, compared = Verdict.TOO_HIGH, "above the rating itself"
    reason = (
        f"{upper:.1f} bar at the upper end is {compared} "
        f"({rated:.1f} bar rated, {allowed:.1f} bar allowed)."
    )
    return Judgement(verdict, reason, pressure.value, upper, allowed, rated, safety_factor)


def _air_bar(temperature_c: float, filled_at_c: float, air_trapped: bool) -> float:
    if not air_trapped:
        return 0.0
    dry_kpa = ATMOSPHERE_KPA - water_vapour_pressure_kpa(filled_at_c)
    return dry_kpa / 100.0 * (temperature_c + ZERO_CELSIUS_K) / (filled_at_c + ZERO_CELSIUS_K)


def _other_bar(temperature_c: float, filled_at_c: float, air_trapped: bool) -> float:
    """Trapped air and vapour, less the atmosphere outside, bar."""
    vapour_kpa = water_vapour_pressure_kpa(temperature_c)
    air = _air_bar(temperature_c, filled_at_c, air_trapped)
    return air + (vapour_kpa - ATMOSPHERE_KPA) / 100.0


def _co2_bar(
    total_g_per_l: float, temperature_c: float, headspace: float, sugar: float, solubility: float
) -> float:
    """Absolute pressure of CO2 that shares the total between drink and headspace."""
    rt = GAS_CONSTANT * (temperature_c + ZERO_CELSIUS_K)

    def surplus(co2_bar: float) -> float:
        dissolved = solubility * dissolved_co2_g_per_l(temperature_c, co2_bar, sugar)
        # bar over J/mol is 100 mol/L.
        gas = headspace * 100.0 * co2_bar / (co2_compressibility(temperature_c, co2_bar) * rt)
        return dissolved + gas * stoichiometry.CARBON_DIOXIDE - total_g_per_l

    if surplus(MAX_PRESSURE_BAR) < 0.0:
        most = total_g_per_l + surplus(MAX_PRESSURE_BAR)
        raise OutOfRange("CO2 in all", total_g_per_l, 0.0, most, "g/L")
    return float(brentq(surplus, 0.0, MAX_PRESSURE_BAR, xtol=1e-9))
