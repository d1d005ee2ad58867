"""Sucrose solutions: density, and Brix or Plato against specific gravity and g/L.

Degrees Brix and degrees Plato are both the mass percent of sucrose in a pure solution; they
are one scale here.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Any

import numpy as np

from brewlog.science.errors import Array, Number, check_range
from brewlog.science.water import water_density_kg_per_m3

CALCULATION_VERSION = "1"

SOURCE_DENSITY = (
    "ICUMSA SPS-4 sucrose density polynomial (Emmerich), as printed in Bubnik and Kadlec, "
    "Sugar Technologists Manual (1995), and Llano (2005); read"
)

MAX_MASS_PERCENT = 80.0
SIXTY_FAHRENHEIT_C = (60.0 - 32.0) / 1.8
AIR_DENSITY_KG_PER_M3 = 1.2
# A drained ferment holds alcohol and can read a little lighter than water; the polynomial
# runs smoothly that far below zero sucrose.
_LOWEST_EQUIVALENT_PERCENT = -3.0

# c[k][i] multiplies ((t - 20)/100)^k * w^(i+1), kg/m3.
_EXCESS = (
    (385.1761, 135.3705, 40.9299, -3.9643, 13.4853, -17.2890),
    (-46.2720, -7.1720, 1.1597, 5.1126, 17.5254),
    (59.7712, 7.2491, 12.3630, -35.4791),
    (-47.2207, -21.6977, 27.6301),
    (18.3184, 12.3081),
)


class GravityScale(StrEnum):
    """How a specific gravity is defined; a printed "1.040" means little without it."""

    TRUE_20_20 = "SG 20/20 °C, true (in vacuum)"
    APPARENT_20_20 = "SG 20/20 °C, apparent (weighed in air)"
    TRUE_60_60_F = "SG 60/60 °F, true (in vacuum)"


def sucrose_solution_density_kg_per_m3(mass_percent: Number, temperature_c: Number) -> Number:
    """Density of a sucrose solution in kg/m3: 0 to 80 % by mass, 0 to 80 °C.

    Expected accuracy 0.05 kg/m3 (up to 0.08 against the older NBS table at 30 %). Takes
    numbers or arrays. Raises OutOfRange. Source: ICUMSA SPS-4, read in two printed copies.
    """
    check_range("sucrose content", mass_percent, 0.0, MAX_MASS_PERCENT, "% by mass")
    check_range("temperature", temperature_c, 0.0, 80.0, "°C")
    return solution_density(mass_percent, temperature_c)


def specific_gravity_from_brix(
    brix: Number, scale: GravityScale = GravityScale.TRUE_20_20
) -> Number:
    """Specific gravity on `scale` of a sucrose solution of 0 to 80 °Brix (= °Plato).

    Expected accuracy 3e-5 to 15 °Bx. Takes a number or an array. Raises OutOfRange. Source:
    the ratio of ICUMSA SPS-4 densities (read); air of 1.2 kg/m3 for the apparent scale.
    """
    check_range("sucrose content", brix, 0.0, MAX_MASS_PERCENT, "°Bx")
    return _gravity(brix, scale)


def brix_from_specific_gravity(
    specific_gravity: Number, scale: GravityScale = GravityScale.TRUE_20_20
) -> Number:
    """°Brix (= °Plato) of the sucrose solution with that specific gravity, 0.99 to 1.41.

    Gravities below 1 return the slightly negative Brix that the scale runs on to, as a drink
    with alcohol reads. Takes a number or an array. Raises OutOfRange. Source: inverse of
    `specific_gravity_from_brix`.
    """
    check_range("specific gravity", specific_gravity, 0.99, 1.41)
    air, temperature_c = _scale(scale)
    water = water_density_kg_per_m3(temperature_c)
    rise = (specific_gravity - 1.0) * (water - air)
    return mass_percent_from_density_rise(rise, temperature_c)


def convert_specific_gravity(
    specific_gravity: Number, from_scale: GravityScale, to_scale: GravityScale
) -> Number:
    """The same solution's specific gravity on another scale (0.99 to 1.41, as for sucrose)."""
    return _gravity(brix_from_specific_gravity(specific_gravity, from_scale), to_scale)


def sugar_g_per_l_from_brix(brix: Number, temperature_c: Number | float = 20.0) -> Number:
    """Grams of sucrose per litre of a solution of 0 to 80 °Brix, the litre at 0 to 80 °C.

    Takes a number or an array. Raises OutOfRange. Source: mass percent times ICUMSA density.
    """
    check_range("sucrose content", brix, 0.0, MAX_MASS_PERCENT, "°Bx")
    check_range("temperature", temperature_c, 0.0, 80.0, "°C")
    return brix / 100.0 * solution_density(brix, temperature_c)


def brix_from_sugar_g_per_l(sugar_g_per_l: Number, temperature_c: Number | float = 20.0) -> Number:
    """°Brix of a solution holding 0 to 1100 g sucrose per litre, the litre at 0 to 80 °C.

    Takes a number or an array. Raises OutOfRange. Inverse of `sugar_g_per_l_from_brix`.
    """
    check_range("sugar", sugar_g_per_l, 0.0, 1100.0, "g/L")
    check_range("temperature", temperature_c, 0.0, 80.0, "°C")
    brix = sugar_g_per_l / 10.0
    for _ in range(_MAX_STEPS):
        density = solution_density(brix, temperature_c)
        slope = (density + brix * _density_slope(brix)) / 100.0
        step = (sugar_g_per_l - brix * density / 100.0) / slope
        brix = brix + step
        if _settled(step):
            break
    return brix


def solution_density(mass_percent: Number, temperature_c: Number | float) -> Number:
    """ICUMSA density in kg/m3, ranges unchecked: for solvers, which pass through any value."""
    density: Number = _icumsa_water(temperature_c) + density_rise(mass_percent, temperature_c)
    return density


def density_rise(mass_percent: Number, temperature_c: Number | float) -> Number:
    """By how much sucrose makes water denser, kg/m3 (ICUMSA SPS-4); ranges unchecked."""
    w = mass_percent / 100.0
    tau: Any = (temperature_c - 20.0) / 100.0
    rise = _row(_EXCESS[-1], w)
    for coefficients in reversed(_EXCESS[:-1]):
        rise = rise * tau + _row(coefficients, w)
    return rise


def mass_percent_from_density_rise(rise_kg_per_m3: Number, temperature_c: Number | float) -> Number:
    """Sucrose mass percent that makes water denser by so much: the inverse, by Newton.

    Raises OutOfRange where the answer lies below -3 % or above 80 %.
    """
    percent = rise_kg_per_m3 / 4.5
    for _ in range(_MAX_STEPS):
        miss = rise_kg_per_m3 - density_rise(percent, temperature_c)
        step = miss / _density_slope(percent)
        percent = percent + step
        if _settled(step):
            break
    check_range(
        "sucrose equivalent", percent, _LOWEST_EQUIVALENT_PERCENT, MAX_MASS_PERCENT, "% by mass"
    )
    return percent


_MAX_STEPS = 60


def _settled(step: float | Array) -> bool:
    return bool(np.all(np.abs(step) < 1e-11))


def _density_slope(mass_percent: Number) -> Number:
    # Close to d(density)/d(percent) at any temperature; only steers the solvers.
    return 3.85 + 0.027 * mass_percent


def _row(coefficients: tuple[float, ...], w: Number) -> Number:
    total = w * coefficients[-1]
    for coefficient in reversed(coefficients[:-1]):
        total = (total + coefficient) * w
    return total


def _icumsa_water(t: Any) -> Any:
    # The polynomial's own water term: within 0.004 kg/m3 of Tanaka to 40 °C. Used only for
    # densities, to stay with the published values; gravities need the rise over water alone.
    series = (((-281.03006e-12 * t + 105.84601e-9) * t - 46.241757e-6) * t - 7.9905127e-3) * t
    return (999.83952 + (series + 16.952577) * t) / (1.0 + 16.887236e-3 * t)


def _scale(scale: GravityScale) -> tuple[float, float]:
    """Density of the air displaced, and temperature, that define the scale."""
    if scale is GravityScale.TRUE_60_60_F:
        return 0.0, SIXTY_FAHRENHEIT_C
    if scale is GravityScale.APPARENT_20_20:
        return AIR_DENSITY_KG_PER_M3, 20.0
    return 0.0, 20.0


def _gravity(brix: Number, scale: GravityScale) -> Number:
    air, temperature_c = _scale(scale)
    water = water_density_kg_per_m3(temperature_c)
    return 1.0 + density_rise(brix, temperature_c) / (water - air)
