"""pH by charge balance against PHREEQC with the same constants, and titration examples."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from phreeqpython import PhreeqPython

from brewlog.science import acidity
from brewlog.science.acidity import ACETIC, CARBONIC, GLUCONIC, TEA_ACIDS, Acid, AcidLiquid

from .tables import rows

# phreeqc.dat has no organic acids; Davies is its default for species without parameters.
ORGANIC_ACIDS = """
SOLUTION_MASTER_SPECIES
    Acetate   Acetate-   0.0 59.044  59.044
    Gluconate Gluconate- 0.0 195.147 195.147
    Teaacid   Teaacid-2  0.0 132.071 132.071
SOLUTION_SPECIES
    Acetate- = Acetate-
        log_k 0.0
    Acetate- + H+ = HAcetate
        log_k 4.756
    Gluconate- = Gluconate-
        log_k 0.0
    Gluconate- + H+ = HGluconate
        log_k 3.75
    Teaacid-2 = Teaacid-2
        log_k 0.0
    Teaacid-2 + H+ = HTeaacid-
        log_k 5.097
    Teaacid-2 + 2H+ = H2Teaacid
        log_k 8.556
END
"""
NAMES = {ACETIC: "Acetate", GLUCONIC: "Gluconate", TEA_ACIDS: "Teaacid", CARBONIC: "C(4)"}


@pytest.fixture(scope="module")
def phreeqc() -> PhreeqPython:
    engine = PhreeqPython(database="phreeqc.dat")
    engine.ip.run_string(ORGANIC_ACIDS)
    return engine


def ph_by_phreeqc(
    engine: PhreeqPython, pools: Mapping[Acid, float], strong_charge: float = 0.0
) -> float:
    composition = {NAMES[acid]: 1000.0 * pool for acid, pool in pools.items() if pool > 0.0}
    if strong_charge > 0.0:
        composition["K"] = 1000.0 * strong_charge
    lines = "\n".join(f"    {name} {amount}" for name, amount in composition.items())
    # mol per litre taken as mol per kg of water: these liquids hold next to no volume of acid.
    engine.ip.run_string(
        f"SOLUTION 77\n    temp 25\n    units mmol/kgw\n    pH 4 charge\n{lines}\n"
        "SELECTED_OUTPUT 1\n    -reset false\n    -pH true\n    -high_precision true\nEND\n"
    )
    return float(engine.ip.get_selected_output_array()[-1][0])


@pytest.mark.parametrize("mol_per_l", [0.001, 0.003, 0.01, 0.05, 0.1, 0.1665])
def test_acetic_acid_alone_has_the_ph_phreeqc_finds(
    phreeqc: PhreeqPython, mol_per_l: float
) -> None:
    ours = acidity.ph_of(AcidLiquid({ACETIC: mol_per_l}))
    assert ours == pytest.approx(ph_by_phreeqc(phreeqc, {ACETIC: mol_per_l}), abs=0.002)


@pytest.mark.parametrize("potassium", [0.0, 0.002, 0.01, 0.03])
def test_acids_part_neutralised_have_the_ph_phreeqc_finds(
    phreeqc: PhreeqPython, potassium: float
) -> None:
    pools = {ACETIC: 0.08, GLUCONIC: 0.02}
    ours = acidity.ph_of(AcidLiquid(pools, potassium))
    assert ours == pytest.approx(ph_by_phreeqc(phreeqc, pools, potassium), abs=0.005)


def test_a_concentrated_buffer_has_the_ph_phreeqc_and_the_standard_say(
    phreeqc: PhreeqPython,
) -> None:
    ours = acidity.ph_of(AcidLiquid({ACETIC: 0.2}, 0.1))
    # 0.1 mol/kg acetic acid + 0.1 mol/kg acetate: 4.652, NBS secondary standard (from memory).
    assert ours == pytest.approx(4.652, abs=0.005)
    assert ours == pytest.approx(ph_by_phreeqc(phreeqc, {ACETIC: 0.2}, 0.1), abs=0.02)


@pytest.mark.parametrize("share", [0.03, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5, 1.0])
def test_starter_in_tea_has_the_ph_phreeqc_finds(phreeqc: PhreeqPython, share: float) -> None:
    blend = acidity.mix(acidity.describe_starter(3.0, 8.0), acidity.describe_tea(5.6), share)
    expected = ph_by_phreeqc(phreeqc, blend.pools, blend.strong_charge_mol_per_l)
    assert acidity.ph_of(blend) == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize("alkalinity", [0.5, 1.0, 2.0, 4.0])
def test_alkaline_water_holds_the_ph_up_as_phreeqc_finds(
    phreeqc: PhreeqPython, alkalinity: float
) -> None:
    tea = acidity.describe_tea(5.6, alkalinity)
    blend = acidity.mix(acidity.describe_starter(3.1, 6.5), tea, 0.1)
    expected = ph_by_phreeqc(phreeqc, blend.pools, blend.strong_charge_mol_per_l)
    # phreeqc.dat gives carbonate ions their own activity parameters.
    assert acidity.ph_of(blend) == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(
    "row",
    rows("ph_starter_mix"),
    ids=lambda row: "alk{}-share{}".format(*list(row.values())[:2]),
)
def test_worked_mixtures_of_starter_and_tea(row: dict[str, str]) -> None:
    # Starter pH 3.0 and 8.0 g/L, 15 % of it gluconic; tea pH 5.6. Computed once, and by
    # PHREEQC where the last column says so.
    tea = acidity.describe_tea(5.6, float(row["tea_bicarbonate_alkalinity_mM(closed system)"]))
    share = float(row["starter_volume_fraction"])
    blend = acidity.mix(acidity.describe_starter(3.0, 8.0), tea, share)
    assert acidity.ph_of(blend) == pytest.approx(float(row["pH_scipy_Davies"]), abs=5e-4)
    if row["pH_phreeqpython(alk 0 only)"]:
        by_phreeqc = float(row["pH_phreeqpython(alk 0 only)"])
        assert acidity.ph_of(blend) == pytest.approx(by_phreeqc, abs=0.002)


def test_water_under_carbon_dioxide() -> None:
    # At 25 C and 1 atm 0.03397 mol/L (Weiss 1974); pH 3.91 in textbooks (from memory).
    assert acidity.ph_of(AcidLiquid({CARBONIC: 0.03397})) == pytest.approx(3.91, abs=0.01)


@pytest.mark.parametrize(
    ("grams_per_l", "no_cation", "with_10_mmol_potassium"),
    # Acetic acid alone, and part neutralised: computed once by charge balance.
    [(2, 3.12, 4.19), (4, 2.97, 3.89), (6, 2.88, 3.72), (8, 2.82, 3.60), (10, 2.77, 3.51)],
)
def test_ph_alone_does_not_tell_acidity(
    grams_per_l: float, no_cation: float, with_10_mmol_potassium: float
) -> None:
    # The same titratable acidity, with 10 mmol/L of it already neutralised beside it.
    acid = grams_per_l / acidity.ACETIC_MOLAR_MASS
    assert acidity.ph_of(AcidLiquid({ACETIC: acid})) == pytest.approx(no_cation, abs=0.01)
    neutralised = acidity.ph_of(AcidLiquid({ACETIC: acid + 0.01}, 0.01))
    assert neutralised == pytest.approx(with_10_mmol_potassium, abs=0.01)


@pytest.mark.parametrize(
    ("titrant_ml", "sample_ml", "expected"),
    # V x 0.1 mol/L x 60.052 / sample, by hand.
    [(10.0, 10.0, 6.0052), (8.3, 10.0, 4.984316), (5.0, 5.0, 6.0052)],
)
def test_titration_examples(titrant_ml: float, sample_ml: float, expected: float) -> None:
    result = acidity.titratable_acidity(titrant_ml, 0.1, sample_ml)
    assert result.value == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("endpoint_ph", "found"),
    # 5 g/L acetic acid to each endpoint: computed once.
    [(7.0, 4.978), (8.1, 4.998), (8.2, 4.999)],
)
def test_the_choice_of_endpoint_hardly_matters(endpoint_ph: float, found: float) -> None:
    liquid = AcidLiquid({ACETIC: 5.0 / acidity.ACETIC_MOLAR_MASS})
    assert acidity.titratable_acidity_of(liquid, endpoint_ph) == pytest.approx(found, abs=1e-3)


def test_a_sample_not_degassed_titrates_two_fifths_too_high() -> None:
    # 1.5 g/L of dissolved CO2 beside 5 g/L acetic acid: 7.04 to 7.06 g/L, computed once.
    liquid = AcidLiquid({ACETIC: 5.0 / acidity.ACETIC_MOLAR_MASS, CARBONIC: 1.5 / 44.0095})
    assert acidity.titratable_acidity_of(liquid) == pytest.approx(7.05, abs=0.015)
