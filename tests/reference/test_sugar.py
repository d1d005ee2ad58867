"""Sucrose density and the Brix, Plato and gravity scales against published tables."""

from __future__ import annotations

import pytest

from brewlog.science import sugar
from brewlog.science.sugar import GravityScale

from .tables import rows

TEMPERATURES_C = (0, 5, 10, 15, 20, 25, 30, 40, 50, 60, 70, 80)
# Mass of a US gallon in air: 3.785411784 L (exact), pound 453.59237 g (exact).
LB_PER_GAL = 3.785411784 / 0.45359237
NBS = rows("sucrose_brix_sg")


def nbs_cubic(apparent_gravity: float) -> float:
    """Brix from apparent SG 20/20, the NBS polynomial as printed (read); stated to 40 Bx."""
    s = apparent_gravity
    return ((182.4601 * s - 775.6821) * s + 1262.7794) * s - 669.5622


def asbc_cubic(apparent_gravity: float) -> float:
    """Plato from apparent SG 20/20, the ASBC polynomial as printed (read); good to 20 P."""
    s = apparent_gravity
    return ((135.997 * s - 630.272) * s + 1111.14) * s - 616.868


@pytest.mark.parametrize("row", rows("sucrose_density_T"), ids=lambda row: row["wt_pct"])
@pytest.mark.parametrize("temperature_c", TEMPERATURES_C)
def test_density_follows_the_icumsa_polynomial(row: dict[str, str], temperature_c: int) -> None:
    # ICUMSA SPS-4 coefficients, read in two printed copies that agree.
    density = sugar.sucrose_solution_density_kg_per_m3(float(row["wt_pct"]), float(temperature_c))
    assert density == pytest.approx(float(row[f"{temperature_c}C"]), abs=1e-3)


@pytest.mark.parametrize("row", NBS, ids=lambda row: row["wt_pct"])
def test_gravity_agrees_with_the_nbs_table(row: dict[str, str]) -> None:
    # NBS Circular 440, rows 1-21 % read in Asadi, Beet-Sugar Handbook (2007) Table A.1;
    # 0, 5 and 30 % from memory. Tolerances: 5e-5 to 15 Bx, 1e-4 to 30.
    brix = float(row["wt_pct"])
    tolerance = 5e-5 if brix <= 15 else 1e-4
    true = sugar.specific_gravity_from_brix(brix)
    assert true == pytest.approx(float(row["SG20_20_vacuum_NBS_table"]), abs=tolerance)


@pytest.mark.parametrize("row", NBS, ids=lambda row: row["wt_pct"])
def test_apparent_gravity_is_weighed_in_air(row: dict[str, str]) -> None:
    # The apparent column derives from the true one: (rho - 1.2) / (rho_w - 1.2).
    brix = float(row["wt_pct"])
    apparent = sugar.specific_gravity_from_brix(brix, GravityScale.APPARENT_20_20)
    assert apparent == pytest.approx(float(row["SG20_20_apparent_in_air(derived)"]), abs=1e-4)


@pytest.mark.parametrize(
    ("brix", "published_lb_per_gal"),
    # Weight in air of a US gallon at 20 C: Chen, Univ. of Florida, after NBS C440 (read).
    [(0, 8.322), (1, 8.354), (2, 8.387), (3, 8.419), (4, 8.452), (5, 8.486)],
)
def test_a_gallon_weighs_what_is_published(brix: float, published_lb_per_gal: float) -> None:
    density = sugar.sucrose_solution_density_kg_per_m3(float(brix), 20.0)
    # Half a unit of the last printed digit, and half of one more at 5 Bx (table rounding).
    in_air = (density - 1.2) * LB_PER_GAL / 1000.0 / (1.0 - 1.2 / 8000.0)
    assert in_air == pytest.approx(published_lb_per_gal, abs=8e-4)


@pytest.mark.parametrize("brix", [1.0, 2.5, 5.0, 7.7, 10.0, 14.0, 20.0, 30.0])
def test_gravity_from_apparent_scale_agrees_with_the_nbs_polynomial(brix: float) -> None:
    apparent = sugar.specific_gravity_from_brix(brix, GravityScale.APPARENT_20_20)
    # ICUMSA and the older NBS table part by up to 8e-5 in gravity at 30 %, 0.017 Bx.
    tolerance = 0.007 if brix <= 15 else 0.02
    assert nbs_cubic(apparent) == pytest.approx(brix, abs=tolerance)


@pytest.mark.parametrize("row", NBS[1:-1], ids=lambda row: row["wt_pct"])
def test_brix_from_the_tables_own_gravity(row: dict[str, str]) -> None:
    apparent = float(row["SG20_20_apparent_in_air(derived)"])
    brix = sugar.brix_from_specific_gravity(apparent, GravityScale.APPARENT_20_20)
    # Both published polynomials, each with its own rounding; 5e-5 SG is 0.013 Bx.
    assert brix == pytest.approx(nbs_cubic(apparent), abs=0.013)
    assert brix == pytest.approx(asbc_cubic(apparent), abs=0.013)


@pytest.mark.parametrize(
    ("brix", "sixty_fahrenheit"),
    # Computed once from ICUMSA densities at 15.5556 C.
    [(5.0, 1.01973), (10.0, 1.04017), (20.0, 1.08330)],
)
def test_sixty_fahrenheit_scale(brix: float, sixty_fahrenheit: float) -> None:
    gravity = sugar.specific_gravity_from_brix(brix, GravityScale.TRUE_60_60_F)
    assert gravity == pytest.approx(sixty_fahrenheit, abs=5e-6)


def test_ten_plato_is_not_quite_the_round_figure() -> None:
    # NBS: 10 P is 1.03998 true and 1.04003 apparent (read).
    assert sugar.specific_gravity_from_brix(10.0) == pytest.approx(1.03998, abs=1e-5)
    apparent = sugar.specific_gravity_from_brix(10.0, GravityScale.APPARENT_20_20)
    assert apparent == pytest.approx(1.04003, abs=1e-5)


@pytest.mark.parametrize("sugar_g_per_l", [70.0, 85.0, 100.0])
def test_sugar_per_litre_in_brix(sugar_g_per_l: float) -> None:
    named = f"{sugar_g_per_l:.0f} g/L final"
    (row,) = (row for row in rows("household_sugar_brix") if row["case"] == named)
    brix = sugar.brix_from_sugar_g_per_l(sugar_g_per_l)
    assert brix == pytest.approx(float(row["Brix_wt_pct"]), abs=1e-3)
    assert sugar.specific_gravity_from_brix(brix) == pytest.approx(float(row["SG20_20"]), abs=1e-5)
