"""What a drink is made of, from its density and refraction: sugar, ethanol and acids.

Alcohol makes a drink lighter but refract more, sugar both heavier and refract more, so a
hydrometer and a refractometer together part the two.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from uncertainties import nominal_value, ufloat

from brewlog.science import stoichiometry
from brewlog.science.errors import check_range
from brewlog.science.instruments import WATER_INDEX, refractive_index_from_brix
from brewlog.science.results import Step
from brewlog.science.uncertainty import Measured

CALCULATION_VERSION = "1"

SOURCE = (
    "density and refraction added up by solute (Tabarie's principle); sucrose ICUMSA, ethanol "
    "OIML R 22 (read); acetic and gluconic acid, tea solids and invert sugar from memory or assumed"
)
WATER_20C = 998.2067
# kg/m3 and refractive index per g/L, with curvature per (g/L)^2.
_SUCROSE_DENSITY = (0.38588, -1.36e-5)
_SUCROSE_INDEX = (1.430947e-4, -1.698e-9)
_ETHANOL_DENSITY = (-0.19218, 2.786e-4)
_ETHANOL_INDEX = (0.595e-4, 6.6e-8)
_ACETIC_DENSITY = (0.1423, -5.3e-5)
_ACETIC_INDEX = 0.72e-4

# Invert sugar refracts less than sucrose, by this share when all is inverted.
_INVERT_LOWERS_INDEX = (0.013, 0.006)
_GLUCONIC_DENSITY = (0.385, 0.010)
_GLUCONIC_INDEX = (1.35e-4, 0.05e-4)
_TEA_DENSITY = (0.40, 0.05)
_TEA_INDEX = (1.6e-4, 0.2e-4)


@dataclass(frozen=True)
class Assumptions:
    """What is not measured, as (value, standard uncertainty); all assumed unless stated.

    Shares are 0 to 1. `ethanol_yield` is g per g hexose (stoichiometry 0.511, Balling 0.484);
    `growth_share` the sugar that became pellicle and yeast; `gluconic_share` the mole share of
    gluconic acid in the acid; `evaporated_share` the volume lost to the air since the start;
    `acidity_g_per_l`, where not measured, spans the first day (0.2) to the most reported (11:
    Chen and Liu, J. Appl. Microbiol. 89 (2000) 834, abstract read).
    """

    acidity_g_per_l: Measured = (6.0, 3.5)
    gluconic_share: Measured = (0.12, 0.08)
    tea_solids_g_per_l: Measured = (2.0, 0.5)
    inverted_share: Measured = (0.6, 0.25)
    ethanol_yield: Measured = (0.4976, 0.0079)
    growth_share: Measured = (0.075, 0.026)
    evaporated_share: Measured = (0.015, 0.009)
    ethanol_lost_g_per_l: Measured = (0.1, 0.1)


TYPICAL = Assumptions()


def expected_readings(
    sugar_g_per_l: float,
    ethanol_g_per_l: float,
    acetic_g_per_l: float = 0.0,
    gluconic_g_per_l: float = 0.0,
    tea_solids_g_per_l: float = 0.0,
    inverted_share: float = 0.0,
) -> tuple[float, float]:
    """True SG 20/20 and refractive index at 20 °C of a degassed drink of that composition.

    Sugar 0 to 300, ethanol 0 to 80, acids and tea solids 0 to 40 g/L. The forward direction of
    the estimates. Raises OutOfRange. Source: `SOURCE`.
    """
    check_range("sugar", sugar_g_per_l, 0.0, 300.0, "g/L")
    check_range("ethanol", ethanol_g_per_l, 0.0, 80.0, "g/L")
    for name, grams in (
        ("acetic acid", acetic_g_per_l),
        ("gluconic acid", gluconic_g_per_l),
        ("tea solids", tea_solids_g_per_l),
    ):
        check_range(name, grams, 0.0, 40.0, "g/L")
    rise = _curved(_SUCROSE_DENSITY, sugar_g_per_l) + _curved(_ETHANOL_DENSITY, ethanol_g_per_l)
    rise += _curved(_ACETIC_DENSITY, acetic_g_per_l)
    rise += _GLUCONIC_DENSITY[0] * gluconic_g_per_l + _TEA_DENSITY[0] * tea_solids_g_per_l
    index = _curved(_SUCROSE_INDEX, sugar_g_per_l) * (1 - _INVERT_LOWERS_INDEX[0] * inverted_share)
    index += _curved(_ETHANOL_INDEX, ethanol_g_per_l) + _ACETIC_INDEX * acetic_g_per_l
    index += _GLUCONIC_INDEX[0] * gluconic_g_per_l + _TEA_INDEX[0] * tea_solids_g_per_l
    return 1.0 + rise / WATER_20C, WATER_INDEX + index


@dataclass(frozen=True)
class Unmeasured:
    """The assumptions as correlated numbers, made once so that all uses share them."""

    gluconic_share: Any
    tea_solids: Any
    inverted_share: Any
    ethanol_yield: Any
    growth_share: Any
    evaporated_share: Any
    ethanol_lost: Any

    @classmethod
    def of(cls, assumed: Assumptions) -> Unmeasured:
        return cls(
            number(assumed.gluconic_share),
            number(assumed.tea_solids_g_per_l),
            number(assumed.inverted_share),
            number(assumed.ethanol_yield),
            number(assumed.growth_share),
            number(assumed.evaporated_share),
            number(assumed.ethanol_lost_g_per_l),
        )


@dataclass(frozen=True)
class Drink:
    """Sugar, ethanol, acidity and acids in g/L, with their uncertainties and correlations."""

    sugar: Any
    ethanol: Any
    acidity: Any
    acetic: Any
    gluconic: Any
    unmeasured: Unmeasured

    def steps(self) -> tuple[Step, ...]:
        return (
            Step("remaining sugar", nominal_value(self.sugar), "g/L"),
            Step("ethanol", nominal_value(self.ethanol), "g/L"),
            Step("acetic acid", nominal_value(self.acetic), "g/L"),
            Step("gluconic acid", nominal_value(self.gluconic), "g/L"),
        )


def number(measured: Measured) -> Any:
    value, u = measured
    return ufloat(value, u) if u > 0.0 else value


def solve(
    specific_gravity: Measured, brix: Measured, acidity_g_per_l: Measured, assumed: Assumptions
) -> Drink:
    """Sugar and ethanol of a degassed drink from its density, refraction and acidity.

    True SG 20/20 0.98 to 1.13, refractometer °Brix at 20 °C 0 to 30, total acidity 0 to 40 g/L
    as acetic. Raises OutOfRange. Source: `SOURCE`. Newton's steps find the values; one more
    step taken with the uncertain numbers carries their uncertainties over, to first order.
    """
    check_range("specific gravity", specific_gravity[0], 0.98, 1.13)
    check_range("Brix", brix[0], 0.0, 30.0, "°Bx")
    check_range("total acidity", acidity_g_per_l[0], 0.0, 40.0, "g/L as acetic")
    acidity = number(acidity_g_per_l)
    unmeasured = Unmeasured.of(assumed)
    acetic = (1.0 - unmeasured.gluconic_share) * acidity
    gluconic = unmeasured.gluconic_share * acidity / stoichiometry.TITRATED_PER_GLUCONIC
    other_rise = (
        _curved(_ACETIC_DENSITY, acetic)
        + number(_GLUCONIC_DENSITY) * gluconic
        + number(_TEA_DENSITY) * unmeasured.tea_solids
    )
    other_index = (
        _ACETIC_INDEX * acetic
        + number(_GLUCONIC_INDEX) * gluconic
        + number(_TEA_INDEX) * unmeasured.tea_solids
    )
    low, high = max(brix[0] - 0.5, 0.0), min(brix[0] + 0.5, 30.0)
    index_per_brix = (refractive_index_from_brix(high) - refractive_index_from_brix(low)) / (
        high - low
    )
    rise = (number(specific_gravity) - 1.0) * WATER_20C - other_rise
    index = (
        refractive_index_from_brix(brix[0])
        - WATER_INDEX
        + (number(brix) - brix[0]) * index_per_brix
        - other_index
    )
    dimming = 1.0 - number(_INVERT_LOWERS_INDEX) * unmeasured.inverted_share

    sugar_g, ethanol_g = 0.0, 0.0
    plain = nominal_value(rise), nominal_value(index), nominal_value(dimming)
    for _ in range(8):
        step_s, step_e = _newton_step(sugar_g, ethanol_g, *plain)
        sugar_g, ethanol_g = sugar_g + step_s, ethanol_g + step_e
    step_s, step_e = _newton_step(sugar_g, ethanol_g, rise, index, dimming)
    return Drink(sugar_g + step_s, ethanol_g + step_e, acidity, acetic, gluconic, unmeasured)


def _newton_step(s: float, e: float, rise: Any, index: Any, dimming: Any) -> tuple[Any, Any]:
    miss_rise = rise - _curved(_SUCROSE_DENSITY, s) - _curved(_ETHANOL_DENSITY, e)
    miss_index = index - _curved(_SUCROSE_INDEX, s) * dimming - _curved(_ETHANOL_INDEX, e)
    bright = nominal_value(dimming)
    a = _SUCROSE_DENSITY[0] + 2.0 * _SUCROSE_DENSITY[1] * s
    b = _ETHANOL_DENSITY[0] + 2.0 * _ETHANOL_DENSITY[1] * e
    c = (_SUCROSE_INDEX[0] + 2.0 * _SUCROSE_INDEX[1] * s) * bright
    d = _ETHANOL_INDEX[0] + 2.0 * _ETHANOL_INDEX[1] * e
    determinant = a * d - b * c
    step_s = (d * miss_rise - b * miss_index) * (1.0 / determinant)
    step_e = (a * miss_index - c * miss_rise) * (1.0 / determinant)
    return step_s, step_e


def _curved(coefficients: tuple[float, float], grams: Any) -> Any:
    return (coefficients[0] + coefficients[1] * grams) * grams
