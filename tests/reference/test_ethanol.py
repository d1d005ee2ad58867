"""Ethanol and water against the international tables and an independent library."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI

from brewlog.science import ethanol

from .tables import rows


@pytest.mark.parametrize("row", rows("ethanol_abv_abw_density"), ids=lambda row: row["ABV_20C_pct"])
def test_strength_and_density_at_twenty_degrees(row: dict[str, str]) -> None:
    # Computed once from the OIML R 22 coefficients in the annex of Directive 76/766/EEC.
    abv = float(row["ABV_20C_pct"])
    abw = ethanol.abw_from_abv(abv)
    density = ethanol.ethanol_water_density_kg_per_m3(abw, 20.0)
    assert abw == pytest.approx(float(row["ABW_pct"]), abs=1e-4)
    assert density == pytest.approx(float(row["density20_kg_m3"]), abs=1e-3)
    assert density / 998.20123 == pytest.approx(float(row["SG20_20"]), abs=1e-6)
    grams = ethanol.ethanol_g_per_l_from_abv(abv)
    assert grams == pytest.approx(float(row["g_ethanol_per_L"]), abs=1e-3)
    at_sixty_fahrenheit = ethanol.ethanol_water_density_kg_per_m3(abw, (60.0 - 32.0) / 1.8)
    assert at_sixty_fahrenheit == pytest.approx(float(row["density_15.56C"]), abs=2e-3)


@pytest.mark.parametrize(
    ("abv", "density"),
    # The international alcoholometric table at 20 C (from memory).
    [
        (5, 991.06),
        (10, 984.71),
        (20, 973.56),
        (40, 948.05),
        (50, 930.14),
        (96, 807.42),
        (100, 789.24),
    ],
)
def test_the_international_table(abv: float, density: float) -> None:
    ours = ethanol.ethanol_water_density_kg_per_m3(ethanol.abw_from_abv(abv), 20.0)
    assert ours == pytest.approx(density, abs=0.006)


@pytest.mark.parametrize(
    "row",
    rows("ethanol_density_T"),
    ids=lambda row: f"{row['mass_pct']}-{row['T_C']}C",
)
def test_density_by_temperature(row: dict[str, str]) -> None:
    density = ethanol.ethanol_water_density_kg_per_m3(float(row["mass_pct"]), float(row["T_C"]))
    assert density / 1000.0 == pytest.approx(float(row["R22"]), abs=6e-6)
    # Perry's table after the International Critical Tables, g/mL (from memory).
    assert density / 1000.0 == pytest.approx(float(row["Perry_from_memory"]), abs=1.2e-4)


@pytest.mark.parametrize("mass_percent", [2.0, 3.5, 5.0, 8.0, 10.0])
@pytest.mark.parametrize("temperature_c", [10.0, 20.0, 30.0])
def test_density_is_near_coolprop(mass_percent: float, temperature_c: float) -> None:
    # CoolProp INCOMP::MEA (Melinder); its ethanol-water mixture model is not good enough.
    fluid = f"INCOMP::MEA[{mass_percent / 100.0}]"
    expected = PropsSI("D", "T", temperature_c + 273.15, "P", 101325, fluid)
    ours = ethanol.ethanol_water_density_kg_per_m3(mass_percent, temperature_c)
    assert ours == pytest.approx(expected, abs=0.5)
