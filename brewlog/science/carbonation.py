"""Carbon dioxide in drinks: volumes and g/L, solubility, pressure at equilibrium, priming.

One volume is CO2 at 0 °C and 101.325 kPa per volume of drink, as a real gas: 1.9768 g/L.
(Counted as an ideal gas it would be 1.9635; the trade often rounds to 2.)
"""

from __future__ import annotations

from enum import StrEnum
from typing import Any

import numpy as np

from brewlog.science import stoichiometry, sugar
from brewlog.science.errors import Number, check_range
from brewlog.science.ethanol import ETHANOL_KG_PER_M3
from brewlog.science.results import Result, Step
from brewlog.science.uncertainty import Measured, propagate
from brewlog.science.water import ZERO_CELSIUS_K, water_vapour_pressure_kpa

CALCULATION_VERSION = "1"

SOURCE_SOLUBILITY = (
    "Weiss, Marine Chemistry 2 (1974) 203, fresh water, with his virial coefficient (one of two "
    "sets read, the other from memory; PHREEQC agrees within 0.6 %); sugar lowers it by 0.08 % "
    "per g/L (Usher 1910, from memory)"
)
SOURCE_VOLUME = "CO2 as a real gas at 0 °C and 101.325 kPa (CoolProp: 1.9768 g/L)"

CO2_G_PER_L_PER_VOLUME = 1.9768
GAS_CONSTANT = 8.314462618
ATMOSPHERE_KPA = 101.325
SUGAR_LOWERS_SOLUBILITY_PER_G_PER_L = 0.0008
# Solubility in water 1 %, with sugar and a little alcohol 3 %.
U_SOLUBILITY = 0.03
# The virial gas law is followed to here; no bottle stands it.
MAX_PRESSURE_BAR = 40.0


class Fermentable(StrEnum):
    """What is added to carbonate a drink."""

    SUCROSE = "table sugar (sucrose)"
    HEXOSE = "glucose or fructose, dry"
    GLUCOSE_MONOHYDRATE = "dextrose (glucose monohydrate)"


CO2_PER_GRAM = {
    Fermentable.SUCROSE: stoichiometry.CO2_PER_SUCROSE,
    Fermentable.HEXOSE: stoichiometry.CO2_PER_HEXOSE,
    Fermentable.GLUCOSE_MONOHYDRATE: stoichiometry.CO2_PER_GLUCOSE_MONOHYDRATE,
}


def co2_g_per_l_from_volumes(volumes: Number) -> Number:
    """g/L of CO2 from volumes (0 to 20), 1.9768 g/L each. Number or array. Raises OutOfRange."""
    check_range("carbonation", volumes, 0.0, 20.0, "volumes")
    return volumes * CO2_G_PER_L_PER_VOLUME


def volumes_from_co2_g_per_l(co2_g_per_l: Number) -> Number:
    """Volumes from g/L of CO2 (0 to 39.5), 1.9768 g/L each. Number or array."""
    check_range("dissolved CO2", co2_g_per_l, 0.0, 20.0 * CO2_G_PER_L_PER_VOLUME, "g/L")
    return co2_g_per_l / CO2_G_PER_L_PER_VOLUME


def co2_solubility_mol_per_l_atm(temperature_c: Number, sugar_g_per_l: float = 0.0) -> Number:
    """mol of CO2 per litre and atmosphere of fugacity, 0 to 40 °C, sugar 0 to 150 g/L.

    1 % in water. Number or array. Raises OutOfRange. Source: Weiss 1974, mol/L form.
    """
    check_range("temperature", temperature_c, 0.0, 40.0, "°C")
    check_range("sugar", sugar_g_per_l, 0.0, 150.0, "g/L")
    kelvin = temperature_c + ZERO_CELSIUS_K
    exponent = -58.0931 + 90.5069 * (100.0 / kelvin) + 22.2940 * np.log(kelvin / 100.0)
    solubility: Number = np.exp(exponent) * (
        1.0 - SUGAR_LOWERS_SOLUBILITY_PER_G_PER_L * sugar_g_per_l
    )
    return solubility


def co2_second_virial_cm3_per_mol(temperature_c: Number) -> Number:
    """Second virial coefficient of CO2, cm3/mol, 0 to 40 °C (Weiss 1974). Number or array."""
    check_range("temperature", temperature_c, 0.0, 40.0, "°C")
    t = temperature_c + ZERO_CELSIUS_K
    return -1636.75 + t * (12.0408 + t * (-3.27957e-2 + 3.16528e-5 * t))


def co2_compressibility(temperature_c: Number, co2_bar: Number) -> Number:
    """Z of CO2 gas, 0 to 40 °C and 0 to 40 bar absolute, by Weiss's second virial coefficient.

    To 7 bar within 0.001 at 20 °C and 0.002 at 0 °C; the third coefficient is left out.
    """
    check_range("CO2 pressure", co2_bar, 0.0, MAX_PRESSURE_BAR, "bar")
    return 1.0 + _reduced_virial(temperature_c) * co2_bar


def dissolved_co2_g_per_l(
    temperature_c: Number, co2_bar: Number, sugar_g_per_l: float = 0.0
) -> Number:
    """g/L of CO2 dissolved under CO2 of that absolute pressure (0 to 40 bar), 0 to 40 °C."""
    check_range("CO2 pressure", co2_bar, 0.0, MAX_PRESSURE_BAR, "bar")
    per_bar = _g_per_l_bar(temperature_c, sugar_g_per_l)
    dissolved: Number = per_bar * co2_bar * np.exp(_reduced_virial(temperature_c) * co2_bar)
    return dissolved


def equilibrium_gauge_bar(
    volumes: Number, temperature_c: Number, sugar_g_per_l: float = 0.0
) -> Number:
    """Gauge pressure in bar over a drink of that carbonation, only CO2 and vapour above it.

    0 to 10 volumes, 0 to 40 °C, sugar 0 to 150 g/L, at sea level. Negative where the drink is
    less than saturated at 1 atm. 2 % in water. Number or array. Raises OutOfRange. Source:
    Weiss 1974; vapour pressure Wagner and Pruss.
    """
    check_range("carbonation", volumes, 0.0, 10.0, "volumes")
    target = volumes * CO2_G_PER_L_PER_VOLUME
    per_bar = _g_per_l_bar(temperature_c, sugar_g_per_l)
    virial = _reduced_virial(temperature_c)
    pressure: Number = target / per_bar
    for _ in range(_MAX_STEPS):
        dissolved = per_bar * pressure * np.exp(virial * pressure)
        step = (target - dissolved) / (
            per_bar * np.exp(virial * pressure) * (1 + virial * pressure)
        )
        pressure = pressure + step
        if np.all(np.abs(step) < 1e-10):
            break
    vapour = water_vapour_pressure_kpa(temperature_c)
    return pressure + (vapour - ATMOSPHERE_KPA) / 100.0


def volumes_at_gauge(
    gauge_bar: Number, temperature_c: Number, sugar_g_per_l: float = 0.0
) -> Number:
    """Volumes held under that gauge pressure (-0.9 to 30 bar) of CO2 and vapour, 0 to 40 °C.

    Inverse of `equilibrium_gauge_bar`, as for a keg on the gas. Number or array.
    """
    check_range("gauge pressure", gauge_bar, -0.9, 30.0, "bar")
    vapour = water_vapour_pressure_kpa(temperature_c)
    co2_bar: Any = np.maximum(gauge_bar + (ATMOSPHERE_KPA - vapour) / 100.0, 0.0)
    dissolved = dissolved_co2_g_per_l(temperature_c, co2_bar, sugar_g_per_l)
    volumes: Number = dissolved / CO2_G_PER_L_PER_VOLUME
    return volumes


def residual_volumes(warmest_temperature_c: Number) -> Number:
    """Volumes left in an open vessel that stood at 1 atm of CO2: the most it can still hold.

    0 to 40 °C, the warmest since fermentation was lively. A drink long open holds less. Number
    or array. Raises OutOfRange. Source: Weiss 1974.
    """
    vapour = water_vapour_pressure_kpa(warmest_temperature_c)
    co2_bar = (ATMOSPHERE_KPA - vapour) / 100.0
    return dissolved_co2_g_per_l(warmest_temperature_c, co2_bar) / CO2_G_PER_L_PER_VOLUME


def priming_sugar(
    target_volumes: Measured,
    residual_volumes: Measured,
    kind: Fermentable = Fermentable.SUCROSE,
    sugar_fermenting_g_per_l: Measured = (0.0, 0.0),
) -> Result:
    """Grams of sugar per litre of drink that bring it from residual to target carbonation.

    Target and residual 0 to 6 volumes; `sugar_fermenting_g_per_l` (as sucrose, 0 to 150) is
    what already in the drink, or in a fruit addition, will ferment in the bottle and is taken
    off. Zero where nothing is needed. The step "alcohol added" stands beside every target:
    about 0.26 % vol per volume. Raises OutOfRange. Source: stoichiometry.
    """
    check_range("target carbonation", target_volumes[0], 0.0, 6.0, "volumes")
    check_range("residual carbonation", residual_volumes[0], 0.0, 6.0, "volumes")
    check_range("fermenting sugar", sugar_fermenting_g_per_l[0], 0.0, 150.0, "g/L")

    def needed(target: float, residual: float, fermenting: float) -> float:
        co2 = (target - residual) * CO2_G_PER_L_PER_VOLUME
        return (co2 - fermenting * stoichiometry.CO2_PER_SUCROSE) / CO2_PER_GRAM[kind]

    wanted, u = propagate(needed, target_volumes, residual_volumes, sugar_fermenting_g_per_l)
    gained = max(target_volumes[0] - residual_volumes[0], 0.0)
    return Result(
        quantity="sugar to add",
        value=max(wanted, 0.0),
        unit=f"g/L of {kind.value}",
        standard_uncertainty=u,
        method="CO2 still to be made over CO2 per gram of sugar",
        source=f"{stoichiometry.SOURCE}; {SOURCE_VOLUME}",
        steps=(
            Step("CO2 still to be made", gained * CO2_G_PER_L_PER_VOLUME, "g/L"),
            Step("CO2 per gram of the sugar", CO2_PER_GRAM[kind], "g/g"),
            Step("alcohol added", alcohol_from_carbonation(gained), "% vol"),
            Step("sugar beyond the target", max(-wanted, 0.0), f"g/L of {kind.value}"),
        ),
        supports="weighing the sugar, if what ferments in the bottle is known",
        cannot_support="the pressure reached: living drinks also ferment what was left in them",
        calculation_version=CALCULATION_VERSION,
        lowest=0.0,
    )


def alcohol_from_carbonation(volumes: float) -> float:
    """% vol of alcohol made together with that much natural carbonation (0 to 20 volumes)."""
    check_range("carbonation", volumes, 0.0, 20.0, "volumes")
    return _alcohol_with(volumes * CO2_G_PER_L_PER_VOLUME)


def addition_by_brix(addition_ml_per_l: Measured, brix: Measured) -> Result:
    """What juice or purée brings, by its °Brix (0 to 70): see `addition_by_label`.

    A refractometer counts acids and other solids as sugar, so this is rather too much.
    """
    check_range("Brix", brix[0], 0.0, 70.0, "°Bx")
    per_l, u = propagate(sugar.sugar_g_per_l_from_brix, brix)
    return _addition(addition_ml_per_l, (per_l, u), "its Brix times its density")


def addition_by_label(addition_ml_per_l: Measured, label_sugar_g_per_100_ml: Measured) -> Result:
    """Sugar that an addition brings, in g per litre of finished drink, from its label.

    Addition 0 to 1000 mL per litre of finished drink, label sugar 0 to 100 g per 100 mL. The
    steps give the carbonation and alcohol it makes if all of it ferments. Raises OutOfRange.
    """
    value, u = label_sugar_g_per_100_ml
    check_range("label sugar", value, 0.0, 100.0, "g/100 mL")
    return _addition(addition_ml_per_l, (10.0 * value, 10.0 * u), "the sugar on its label")


_MAX_STEPS = 40


def _addition(addition_ml_per_l: Measured, sugar_g_per_l: Measured, by: str) -> Result:
    check_range("addition", addition_ml_per_l[0], 0.0, 1000.0, "mL/L")
    grams, u = propagate(lambda ml, per_l: ml / 1000.0 * per_l, addition_ml_per_l, sugar_g_per_l)
    # Counted as hexose: fruit sugar is mostly glucose and fructose.
    co2_g_per_l = grams * stoichiometry.CO2_PER_HEXOSE
    return Result(
        quantity="sugar brought by the addition",
        value=grams,
        unit="g/L",
        standard_uncertainty=u,
        method=f"share of the drink times sugar in the addition, by {by}",
        source=stoichiometry.SOURCE,
        steps=(
            Step("sugar in the addition", sugar_g_per_l[0], "g/L"),
            Step(
                "carbonation if all of it ferments",
                co2_g_per_l / CO2_G_PER_L_PER_VOLUME,
                "volumes",
            ),
            Step("alcohol if all of it ferments", _alcohol_with(co2_g_per_l), "% vol"),
        ),
        supports="taking it off the priming sugar, and the pressure calculation",
        cannot_support="how much of it will ferment, or how fast",
        calculation_version=CALCULATION_VERSION,
        lowest=0.0,
    )


def _alcohol_with(co2_g_per_l: float) -> float:
    """% vol of alcohol made along with that much CO2: one molecule of each."""
    ethanol_g_per_l = co2_g_per_l * stoichiometry.ETHANOL / stoichiometry.CARBON_DIOXIDE
    return ethanol_g_per_l * 100.0 / ETHANOL_KG_PER_M3


def _reduced_virial(temperature_c: Number) -> Number:
    """B / RT in 1/bar: cm3/mol times 1e-6 m3/cm3 times 1e5 Pa/bar."""
    kelvin = temperature_c + ZERO_CELSIUS_K
    return co2_second_virial_cm3_per_mol(temperature_c) * 0.1 / (GAS_CONSTANT * kelvin)


def _g_per_l_bar(temperature_c: Number, sugar_g_per_l: float) -> Number:
    per_atm = co2_solubility_mol_per_l_atm(temperature_c, sugar_g_per_l)
    return per_atm * stoichiometry.CARBON_DIOXIDE / (ATMOSPHERE_KPA / 100.0)
