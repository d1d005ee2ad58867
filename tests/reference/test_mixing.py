"""Mixing temperature and household sugar against enthalpies and worked examples."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI
from iapws._iapws import _Ice
from scipy.optimize import brentq

from brewlog.science import mixing
from brewlog.science.mixing import Liquid

from .tables import rows


def coolprop_enthalpy(temperature_c: float) -> float:
    return float(PropsSI("H", "T", temperature_c + 273.15, "P", 101325, "Water")) / 1000.0


@pytest.mark.parametrize(
    ("hot_kg", "hot_c", "cold_kg", "cold_c"),
    [(1.0, 95.0, 3.0, 15.0), (2.0, 80.0, 1.0, 5.0), (0.4, 99.0, 5.0, 22.0), (3.0, 60.0, 3.0, 1.0)],
)
def test_water_mixes_as_its_enthalpy_says(
    hot_kg: float, hot_c: float, cold_kg: float, cold_c: float
) -> None:
    # CoolProp (IAPWS-95).
    heat = hot_kg * coolprop_enthalpy(hot_c) + cold_kg * coolprop_enthalpy(cold_c)
    enthalpy = heat / (hot_kg + cold_kg)
    expected = brentq(lambda t: coolprop_enthalpy(t) - enthalpy, 0.01, 99.9)
    mixed = mixing.mixing_temperature([Liquid(hot_kg, hot_c), Liquid(cold_kg, cold_c)])
    assert mixed.value == pytest.approx(expected, abs=5e-3)


@pytest.mark.parametrize(
    ("water_kg", "water_c", "ice_kg", "ice_c"),
    [(2.0, 80.0, 0.6, -18.0), (10.0, 40.0, 2.0, 0.0), (3.0, 95.0, 1.5, -5.0)],
)
def test_ice_cools_as_its_enthalpy_says(
    water_kg: float, water_c: float, ice_kg: float, ice_c: float
) -> None:
    # Ice Ih: IAPWS R10-06 by iapws; water: CoolProp. Both count from the triple point.
    heat = water_kg * coolprop_enthalpy(water_c)
    heat += ice_kg * _Ice(ice_c + 273.15, 0.101325)["h"]
    enthalpy = heat / (water_kg + ice_kg)
    expected = brentq(lambda t: coolprop_enthalpy(t) - enthalpy, 0.01, 99.9)
    mixed = mixing.mixing_temperature([Liquid(water_kg, water_c)], ice_kg, ice_c)
    assert mixed.value == pytest.approx(expected, abs=0.05)


WORKED = {
    "1 kg water 95C + 3 kg water 15C": ([Liquid(1, 95), Liquid(3, 15)], 0.0, 0.0),
    "1.2 kg tea conc 90C (w=0.20)+2.8 kg water 12C": (
        [Liquid(1.2, 90, 20), Liquid(2.8, 12)],
        0.0,
        0.0,
    ),
    "1 kg 90C w=.2 + 2 kg 15C + 0.5 kg ice 0C": ([Liquid(1, 90, 20), Liquid(2, 15)], 0.5, 0.0),
}


@pytest.mark.parametrize("case", WORKED)
def test_worked_mixtures(case: str) -> None:
    # Computed once with heat capacities varying with temperature and sugar.
    (row,) = (row for row in rows("mixing_temperature") if row["case"] == case)
    liquids, ice_kg, ice_c = WORKED[case]
    mixed = mixing.mixing_temperature(liquids, ice_kg, ice_c)
    assert mixed.value == pytest.approx(float(row["T_mix_C(var cp)"]), abs=0.01)


def test_a_sugary_concentrate_cools_further_than_constant_heat_capacity_says() -> None:
    # Worked with 4.186 kJ/(kg K) throughout: 35.40 C, 1.6 K too warm.
    (row,) = (row for row in rows("mixing_temperature") if "tea conc" in row["case"])
    mixed = mixing.mixing_temperature([Liquid(1.2, 90.0, 20.0), Liquid(2.8, 12.0)])
    assert float(row["T_mix_C_constant_cp_4.186"]) - mixed.value == pytest.approx(1.63, abs=0.01)


@pytest.mark.parametrize("row", rows("cp_sucrose"), ids=lambda row: f"{row['wt_pct']}-{row['T_C']}")
def test_heat_capacity_of_sugar_solution(row: dict[str, str]) -> None:
    # Water by IAPWS-95; the sugar's term by Bubnik and Kadlec 1995 at purity 100, coefficients
    # read as cited in Llano 2005, whose own water is 4.1868 at any temperature.
    temperature_c = float(row["T_C"])

    def capacity(brix: float) -> float:
        above, below = (
            mixing.enthalpy_kj_per_kg(brix, temperature_c + half) for half in (0.5, -0.5)
        )
        return above - below

    assert capacity(0.0) == pytest.approx(float(row["cp_water_IAPWS95"]), abs=1e-3)
    of_sugar = float(row["cp_kJ_kgK_Bubnik(purity100)"]) - 4.1868
    assert capacity(float(row["wt_pct"])) - capacity(0.0) == pytest.approx(of_sugar, abs=1e-4)


@pytest.mark.parametrize(
    ("case", "expected_brix"),
    # A US cup of sugar taken as 200 g (from memory, 190 to 215 by packing); a US gallon is
    # 3.785411784 L exactly.
    [
        (
            "1 US cup sugar (200 g) made up to 1 US gal (sugar + water to final volume)",
            lambda: mixing.expected_brix(0.2, 3.785411784).value,
        ),
        (
            "1 cup per gal incl 10% starter volume",
            lambda: mixing.expected_brix(0.2, 1.1 * 3.785411784).value,
        ),
    ],
)
def test_a_cup_of_sugar_in_a_gallon(case: str, expected_brix) -> None:
    (row,) = (row for row in rows("household_sugar_brix") if row["case"] == case)
    assert expected_brix() == pytest.approx(float(row["Brix_wt_pct"]), abs=1e-3)
