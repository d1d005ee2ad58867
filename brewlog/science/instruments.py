"""Refractometers and hydrometers: what they read, brought to 20 °C."""

from __future__ import annotations

import numpy as np

from brewlog.science import sugar
from brewlog.science.errors import Number, check_range
from brewlog.science.water import water_density_kg_per_m3

CALCULATION_VERSION = "1"

SOURCE_REFRACTION = (
    "cubic fitted to the ICUMSA SPS-3 refractive index scale; 10 to 26 °Bx read in OIV-MA-AS2-02 "
    "Table II, the rows outside from memory"
)
SOURCE_REFRACTOMETER = (
    "surface fitted to OIV-MA-AS2-02 Table I (read, to 17 °C) and AOAC 932.14 (from memory)"
)
SOURCE_HYDROMETER = (
    "from first principles: ICUMSA SPS-4 sucrose density (read); expansion of glass 25e-6 per K as "
    "in OIML R 22 and ISO 387 (from memory)"
)

WATER_INDEX = 1.332986
GLASS_EXPANSION_PER_K = 25e-6
MAX_BRIX = 30.0
# Below zero for a zero error of the instrument; the cubic runs on smoothly.
MIN_BRIX = -1.0


def refractive_index_from_brix(brix: Number) -> Number:
    """Refractive index at 20 °C and 589.3 nm of a sucrose solution of -1 to 30 °Brix.

    Within 6e-6 of the tabulated scale. Takes a number or an array. Raises OutOfRange.
    Source: `SOURCE_REFRACTION`.
    """
    check_range("refractometer reading", brix, MIN_BRIX, MAX_BRIX, "°Bx")
    return WATER_INDEX + _index_rise(brix)


def brix_from_refractive_index(refractive_index: Number) -> Number:
    """°Brix at 20 °C from a refractive index of 1.3315 to 1.3812 at 589.3 nm.

    Exact inverse of `refractive_index_from_brix`: within 0.004 °Bx of the tabulated scale.
    Takes a number or an array. Raises OutOfRange.
    """
    check_range("refractive index", refractive_index, 1.3315, 1.3812)
    return _brix_from_rise(refractive_index - WATER_INDEX)


def refractometer_correction_brix(brix_read: Number, temperature_c: Number) -> Number:
    """°Brix to add to a reading taken at 10 to 30 °C without automatic compensation, 0 to 30 °Bx.

    Within 0.011 °Bx of the tables it was fitted to. Takes numbers or arrays. Raises
    OutOfRange. Source: OIV-MA-AS2-02 Table I (read) and AOAC 932.14 (from memory).
    """
    check_range("refractometer reading", brix_read, 0.0, MAX_BRIX, "°Bx")
    check_range("temperature", temperature_c, 10.0, 30.0, "°C")
    b, d = brix_read, temperature_c - 20.0
    return d * (
        6.10113e-2
        + 1.077437e-3 * d
        - 1.41017e-6 * d**2
        + b * (7.648731e-4 - 1.732831e-5 * d - 1.059877e-5 * b)
    )


def hydrometer_gravity_at_20c(
    reading: Number, temperature_c: Number, calibration_temperature_c: float = 20.0
) -> Number:
    """True specific gravity 20/20 of a liquid read by hydrometer at 0 to 40 °C.

    `reading` is what the stem shows, 0.99 to 1.13, on a scale of specific gravity against
    water at its own calibration temperature (15 to 25 °C; 15.56 for a 60 °F stem). The
    liquid is taken to expand as a sucrose solution and the glass by 25e-6 per K; for a drink
    with a little alcohol this holds to 1e-4. Takes numbers or arrays. Raises OutOfRange.
    Source: `SOURCE_HYDROMETER`.
    """
    check_range("hydrometer reading", reading, 0.99, 1.13)
    check_range("temperature", temperature_c, 0.0, 40.0, "°C")
    check_range("calibration temperature", calibration_temperature_c, 15.0, 25.0, "°C")
    glass = 1.0 - GLASS_EXPANSION_PER_K * (temperature_c - calibration_temperature_c)
    density = reading * water_density_kg_per_m3(calibration_temperature_c) * glass
    rise = density - water_density_kg_per_m3(temperature_c)
    percent = sugar.mass_percent_from_density_rise(rise, temperature_c)
    return 1.0 + sugar.density_rise(percent, 20.0) / water_density_kg_per_m3(20.0)


def _index_rise(brix: Number) -> Number:
    return ((1.79222953e-8 * brix + 5.37145924e-6) * brix + 1.42816297e-3) * brix


def _brix_from_rise(rise: Number) -> Number:
    brix = rise / 1.5e-3
    for _ in range(20):
        slope = (5.37668859e-8 * brix + 1.074291848e-5) * brix + 1.42816297e-3
        step = (rise - _index_rise(brix)) / slope
        brix = brix + step
        if np.all(np.abs(step) < 1e-11):
            break
    return brix
