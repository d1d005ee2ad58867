"""Water against the equation of state, by three libraries that do not share code."""

from __future__ import annotations

import numpy as np
import pytest
from chemicals.iapws import iapws95_rho
from CoolProp.CoolProp import PropsSI
from iapws import IAPWS95

from brewlog.science import water

from .tables import rows

COLD = np.linspace(0.01, 40.0, 41)
HOT = np.linspace(40.1, 99.0, 60)


@pytest.mark.parametrize("temperature_c", COLD)
def test_cold_water_density_is_that_of_coolprop(temperature_c: float) -> None:
    # CoolProp, Water (IAPWS-95), 101.325 kPa.
    expected = PropsSI("D", "T", temperature_c + 273.15, "P", 101325, "Water")
    assert water.water_density_kg_per_m3(float(temperature_c)) == pytest.approx(expected, abs=2e-3)


@pytest.mark.parametrize("temperature_c", HOT)
def test_hot_water_density_is_that_of_coolprop(temperature_c: float) -> None:
    expected = PropsSI("D", "T", temperature_c + 273.15, "P", 101325, "Water")
    assert water.water_density_kg_per_m3(float(temperature_c)) == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize("temperature_c", [0.5, 7.3, 15.5556, 21.7, 33.0, 39.9])
def test_cold_water_density_is_that_of_iapws_and_chemicals(temperature_c: float) -> None:
    density = water.water_density_kg_per_m3(temperature_c)
    kelvin = temperature_c + 273.15
    assert density == pytest.approx(IAPWS95(T=kelvin, P=0.101325).rho, abs=2e-3)
    assert density == pytest.approx(iapws95_rho(kelvin, 101325.0), abs=2e-3)


@pytest.mark.parametrize("row", rows("water_density"), ids=lambda row: row["T_C"])
def test_water_density_follows_the_published_formulas(row: dict[str, str]) -> None:
    # Tanaka 2001 and Kell 1975, coefficients from memory, confirmed by the libraries above.
    temperature_c = float(row["T_C"])
    density = water.water_density_kg_per_m3(temperature_c)
    if row["Tanaka2001_0-40C"]:
        assert density == pytest.approx(float(row["Tanaka2001_0-40C"]), abs=1e-4)
    else:
        assert density == pytest.approx(float(row["Kell1975"]), abs=1e-3)


@pytest.mark.parametrize("temperature_c", [0.01, 4.0, 20.0, 25.0, 37.0, 60.0, 85.0, 99.9])
def test_vapour_pressure_is_that_of_coolprop(temperature_c: float) -> None:
    expected = PropsSI("P", "T", temperature_c + 273.15, "Q", 0, "Water") / 1000.0
    assert water.water_vapour_pressure_kpa(temperature_c) == pytest.approx(expected, rel=1e-4)
