"""Carbon dioxide against PHREEQC, CoolProp, IAPWS and the published correlations."""

from __future__ import annotations

import math

import pytest
from CoolProp.CoolProp import PropsSI
from iapws._iapws import _Henry
from phreeqpython import PhreeqPython

from brewlog.science import bottle_pressure, carbonation, stoichiometry
from brewlog.science.water import water_density_kg_per_m3

from .tables import rows

PSI_PER_BAR = 100.0 / 6.894757293  # exact definition of the pound, inch and standard gravity
TEMPERATURES_C = [1.5, 4.0, 8.0, 13.0, 18.0, 22.0, 27.0, 33.0, 39.0]


def by_mass(temperature_c: float) -> float:
    """Our solubility in mol per kg of water and atmosphere."""
    per_l = carbonation.co2_solubility_mol_per_l_atm(temperature_c)
    return float(per_l) / (water_density_kg_per_m3(temperature_c) / 1000.0)


@pytest.fixture(scope="module")
def phreeqc() -> PhreeqPython:
    return PhreeqPython(database="phreeqc.dat")


@pytest.mark.parametrize("temperature_c", TEMPERATURES_C)
def test_solubility_is_that_of_phreeqc(phreeqc: PhreeqPython, temperature_c: float) -> None:
    phreeqc.ip.run_string(
        f"SOLUTION 1\n    temp {temperature_c}\nEQUILIBRIUM_PHASES 1\n    CO2(g) 0.0\n"
        "SELECTED_OUTPUT 1\n    -reset false\n    -molalities CO2\n    -high_precision true\nEND\n"
    )
    expected = float(phreeqc.ip.get_selected_output_array()[-1][0])
    # Its constant is Plummer and Busenberg's (1982), which runs 1.2 % under Weiss at 40 C.
    tolerance = 0.01 if temperature_c <= 35.0 else 0.013
    assert by_mass(temperature_c) == pytest.approx(expected, rel=tolerance)


@pytest.mark.parametrize("temperature_c", TEMPERATURES_C)
def test_solubility_is_near_carroll_and_others(temperature_c: float) -> None:
    # Carroll, Slupsky and Mather, J. Phys. Chem. Ref. Data 20 (1991) 1201 (read).
    kelvin = temperature_c + 273.15
    henry_mpa = math.exp(-6.8346 + 1.2817e4 / kelvin - 3.7668e6 / kelvin**2 + 2.997e8 / kelvin**3)
    expected = 0.101325 / henry_mpa * 1000.0 / 18.015
    assert by_mass(temperature_c) == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize("temperature_c", TEMPERATURES_C)
def test_solubility_is_near_iapws(temperature_c: float) -> None:
    # IAPWS G7-04, known to run low in the cold.
    henry_mpa = _Henry(temperature_c + 273.15, "CO2")
    expected = 0.101325 / henry_mpa * 1000.0 / 18.015
    assert by_mass(temperature_c) == pytest.approx(expected, rel=0.045)


@pytest.mark.parametrize("row", rows("co2_henry"), ids=lambda row: row["T_C"])
def test_solubility_follows_weiss(row: dict[str, str]) -> None:
    # Weiss 1974, computed once from the printed coefficients.
    temperature_c = float(row["T_C"])
    solubility = carbonation.co2_solubility_mol_per_l_atm(temperature_c)
    assert solubility == pytest.approx(float(row["K0_Weiss_mol_L_atm"]), abs=1e-6)
    # Weiss's other set of coefficients, per kg of water, and what others find.
    assert by_mass(temperature_c) == pytest.approx(float(row["K0_Weiss_mol_kg_atm"]), rel=1e-3)


def test_one_volume_is_the_density_of_the_gas() -> None:
    # CoolProp (Span and Wagner), 0 C and 101.325 kPa.
    density = PropsSI("D", "T", 273.15, "P", 101325, "CO2")
    assert pytest.approx(density, abs=1e-3) == carbonation.CO2_G_PER_L_PER_VOLUME
    ideal = stoichiometry.CARBON_DIOXIDE / 22.41397
    assert carbonation.CO2_G_PER_L_PER_VOLUME / ideal == pytest.approx(1.007, abs=1e-3)


@pytest.mark.parametrize("temperature_c", [2.0, 10.0, 20.0, 30.0, 39.0])
@pytest.mark.parametrize("bar", [1.0, 3.0, 5.0, 7.0])
def test_gas_is_as_compressible_as_coolprop_says(temperature_c: float, bar: float) -> None:
    expected = PropsSI("Z", "T", temperature_c + 273.15, "P", bar * 1e5, "CO2")
    ours = carbonation.co2_compressibility(temperature_c, bar)
    # The virial series ends at its second term: 0.001 up to 7 bar at 20 C, twice that at 0 C.
    assert ours == pytest.approx(expected, abs=0.001 if temperature_c >= 20.0 else 0.002)


@pytest.mark.parametrize("temperature_c", [2.0, 20.0, 38.0])
def test_virial_coefficient_is_that_of_coolprop(temperature_c: float) -> None:
    expected = 1e6 * PropsSI("BVIRIAL", "T", temperature_c + 273.15, "D", 1e-6, "CO2")
    ours = carbonation.co2_second_virial_cm3_per_mol(temperature_c)
    assert ours == pytest.approx(expected, abs=1.0)


GAUGE = rows("co2_equilibrium_gauge")


@pytest.mark.parametrize(
    "row", GAUGE, ids=lambda row: f"{row['T_C']}C-{row['volumes(real STP 1.9768 g/L)']}vol"
)
def test_equilibrium_pressure(row: dict[str, str]) -> None:
    # Computed once: Weiss, virial and vapour pressure.
    gauge = carbonation.equilibrium_gauge_bar(
        float(row["volumes(real STP 1.9768 g/L)"]), float(row["T_C"])
    )
    expected = float(row["gauge_bar_pure_CO2_water(Weiss+virial+Pw)"])
    assert gauge == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize("row", rows("co2_volumes_vs_T_psig"), ids=lambda row: row["T_C"])
@pytest.mark.parametrize("psig", [0, 5, 10, 15, 20, 25, 30])
def test_volumes_under_gauge_pressure(row: dict[str, str], psig: int) -> None:
    volumes = carbonation.volumes_at_gauge(psig / PSI_PER_BAR, float(row["T_C"]))
    assert volumes == pytest.approx(float(row[f"{psig}_psig"]), abs=2e-3)


@pytest.mark.parametrize("temperature_c", [1.0, 4.0, 8.0, 12.0])
@pytest.mark.parametrize("psig", [6.0, 12.0, 20.0, 28.0])
def test_volumes_are_within_the_usual_chart(temperature_c: float, psig: float) -> None:
    # A polynomial to the trade's carbonation chart, of weak provenance; the chart is for beer,
    # which holds a little less than water.
    f = temperature_c * 1.8 + 32.0

    def chart_psig(v: float) -> float:
        return (
            -16.6999 - 0.0101059 * f + 0.00116512 * f**2
            + 0.173354 * f * v + 4.24267 * v - 0.0684226 * v**2
        )  # fmt: skip

    ours = carbonation.volumes_at_gauge(psig / PSI_PER_BAR, temperature_c)
    low, high = chart_psig(0.93 * ours), chart_psig(1.07 * ours)
    assert low <= psig <= high


EXAMPLES = rows("bottle_pressure_examples")


@pytest.mark.parametrize("row", EXAMPLES, ids=lambda row: "-".join(list(row.values())[:3]))
def test_pressure_in_a_bottle(row: dict[str, str]) -> None:
    # Computed once: 1.0 g/L of CO2 at capping and what the hexose makes, headspace of air
    # sealed at 20 C.
    values = list(row.values())
    temperature_c, headspace, total = float(values[1]), float(values[2]), float(values[3])
    result = bottle_pressure.bottle_pressure((total, 0.0), (temperature_c, 0.0), (headspace, 0.0))
    assert result.value == pytest.approx(float(values[4]), abs=0.01)
    assert result.step("dissolved CO2") == pytest.approx(float(values[5]), abs=5e-3)
    assert result.step("pressure of the CO2") == pytest.approx(float(values[7]), abs=5e-3)


@pytest.mark.parametrize(
    ("kind", "grams"),
    # g/L per volume: molar masses and 1.9768 g/L.
    [
        (carbonation.Fermentable.SUCROSE, 3.8438),
        (carbonation.Fermentable.HEXOSE, 4.0461),
        (carbonation.Fermentable.GLUCOSE_MONOHYDRATE, 4.4507),
    ],
)
def test_sugar_for_one_volume(kind: carbonation.Fermentable, grams: float) -> None:
    result = carbonation.priming_sugar((2.0, 0.0), (1.0, 0.0), kind)
    assert result.value == pytest.approx(grams, abs=1e-3)
    # About 0.26 % vol of alcohol per natural volume.
    assert result.step("alcohol added") == pytest.approx(0.262, abs=1e-3)


def test_forty_grams_of_sugar_left_is_a_burst_bottle() -> None:
    # 40 g/L hexose, 1 g/L dissolved, headspace 0.05: 14 bar of CO2 at 25 C; PET bursts around
    # 12 bar (a test laboratory's statement).
    result = bottle_pressure.pressure_if_all_ferments(
        (40.0, 0.0), (25.0, 0.0), (1.0, 0.0), (0.05, 0.0)
    )
    assert result.step("pressure of the CO2") == pytest.approx(14.0, abs=0.1)


def test_air_trapped_at_filling_adds_its_own_pressure() -> None:
    # Air filled at 20 C and warmed to 25: (101.325 - 2.339) kPa x 298.15 / 293.15, the vapour
    # of the steam tables; 1.007 bar by hand.
    sealed = bottle_pressure.pressure_if_all_ferments((20.0, 0.0), (25.0, 0.0))
    purged = bottle_pressure.pressure_if_all_ferments(
        (20.0, 0.0), (25.0, 0.0), (1.0, 0.5), (0.05, 0.01), 20.0, air_trapped=False
    )
    assert sealed.value - purged.value == pytest.approx(1.007, abs=1e-3)


def test_where_nothing_is_said_there_is_trapped_air_and_some_gas() -> None:
    of_each_gram = stoichiometry.CO2_PER_HEXOSE
    explicit = bottle_pressure.bottle_pressure(
        (1.0 + 20.0 * of_each_gram, math.hypot(0.5, of_each_gram)),
        (25.0, 1.0),
        (0.05, 0.01),
        filled_at_c=20.0,
        air_trapped=True,
    )
    assert bottle_pressure.pressure_if_all_ferments((20.0, 1.0), (25.0, 1.0)) == explicit


def test_the_soft_drink_glass_standard_in_bar() -> None:
    # BS 6119-1:1981: not above 4.5 volumes at 20 C (abstract read); 4.40 bar by calculation.
    assert carbonation.equilibrium_gauge_bar(4.5, 20.0) == pytest.approx(4.40, abs=0.01)
