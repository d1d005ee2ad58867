"""Pure water: density and vapour pressure."""

from __future__ import annotations

import numpy as np

from brewlog.science.errors import Number, check_range

CALCULATION_VERSION = "1"

SOURCE_DENSITY = (
    "Tanaka et al., Metrologia 38 (2001) 301 to 40 °C; Kell, J. Chem. Eng. Data 20 (1975) 97 "
    "above (both from memory, agreeing with IAPWS-95)"
)

ZERO_CELSIUS_K = 273.15
JOIN_C = 40.0


def water_density_kg_per_m3(temperature_c: Number) -> Number:
    """Density of air-free water at 101.325 kPa, in kg/m3, from 0 to 100 °C.

    To 40 °C the formula of Tanaka et al. 2001 (standard uncertainty 0.001 kg/m3), above it
    Kell 1975 (0.02 kg/m3), moved by 0.0006 kg/m3 so that the two meet at 40 °C. Takes a
    number or an array. Raises OutOfRange. Coefficients from memory; they agree with the
    IAPWS-95 equation of state within 0.002 kg/m3 to 40 °C and 0.02 above.
    """
    check_range("water temperature", temperature_c, 0.0, 100.0, "°C")
    if isinstance(temperature_c, np.ndarray):
        cold = _tanaka(np.minimum(temperature_c, JOIN_C))
        hot = _kell(np.maximum(temperature_c, JOIN_C)) + _KELL_TO_TANAKA
        return np.where(temperature_c <= JOIN_C, cold, hot)
    if temperature_c <= JOIN_C:
        return _tanaka(temperature_c)
    return _kell(temperature_c) + _KELL_TO_TANAKA


def water_vapour_pressure_kpa(temperature_c: Number) -> Number:
    """Saturation pressure of water vapour in kPa, from 0.01 to 100 °C (0 is taken as 0.01).

    Standard uncertainty 0.05 %. Takes a number or an array. Raises OutOfRange. Source:
    Wagner and Pruss, J. Phys. Chem. Ref. Data 31 (2002) 387, equation 2.5, coefficients from
    memory, agreeing with CoolProp.
    """
    check_range("temperature", temperature_c, 0.0, 100.0, "°C")
    kelvin = temperature_c + ZERO_CELSIUS_K
    ratio = 647.096 / kelvin
    v = 1.0 - 1.0 / ratio
    exponent = ratio * (
        -7.85951783 * v
        + 1.84408259 * v**1.5
        - 11.7866497 * v**3
        + 22.6807411 * v**3.5
        - 15.9618719 * v**4
        + 1.80122502 * v**7.5
    )
    pressure: Number = 22064.0 * np.exp(exponent)
    return pressure


def _tanaka(t: Number) -> Number:
    return 999.974950 * (1.0 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


def _kell(t: Number) -> Number:
    series = (((-280.54253e-12 * t + 105.56302e-9) * t - 46.170461e-6) * t - 7.9870401e-3) * t
    return (999.83952 + (series + 16.945176) * t) / (1.0 + 16.879850e-3 * t)


_KELL_TO_TANAKA = _tanaka(JOIN_C) - _kell(JOIN_C)
