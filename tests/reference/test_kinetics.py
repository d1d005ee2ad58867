"""Growth curves and cardinal models: identities, worked values and open fermentation data."""

from __future__ import annotations

import math

import numpy as np
import pytest

from brewlog.science import kinetics
from brewlog.science.kinetics import ACETIC_BACTERIA_C, BRETTANOMYCES_C, YEAST_C, Cardinals

from .tables import rows

ORGANISMS = {
    "S. cerevisiae-type yeast": YEAST_C,
    "Brettanomyces bruxellensis": BRETTANOMYCES_C,
    "Komagataeibacter/Acetobacter": ACETIC_BACTERIA_C,
}


@pytest.mark.parametrize("row", rows("ctmi_examples"), ids=lambda row: list(row.values())[0])
def test_temperature_factors(row: dict[str, str]) -> None:
    # Rosso 1993 with indicative cardinals (from memory): computed once, printed to 1e-4.
    cardinals = ORGANISMS[list(row.values())[0]]
    assert (cardinals.low, cardinals.best, cardinals.high) == tuple(
        float(row[name]) for name in ("Tmin", "Topt", "Tmax")
    )
    for column, value in row.items():
        if column.startswith("gamma_"):
            factor = kinetics.temperature_factor(float(column[6:-1]), cardinals)
            assert factor == pytest.approx(float(value), abs=5.1e-5), column


@pytest.mark.parametrize("cardinals", ORGANISMS.values())
def test_cardinal_identities(cardinals: Cardinals) -> None:
    factor = kinetics.temperature_factor
    assert factor(cardinals.low, cardinals) == pytest.approx(0.0, abs=1e-6)
    assert factor(cardinals.high, cardinals) == pytest.approx(0.0, abs=1e-6)
    assert factor(cardinals.best, cardinals) == pytest.approx(1.0, abs=1e-6)
    assert factor(cardinals.best - 0.5, cardinals) < 1.0
    assert factor(cardinals.best + 0.5, cardinals) < 1.0


def test_ph_factors() -> None:
    # Rosso 1995: computed once, printed to 1e-4.
    (row,) = rows("cpm_examples")
    cardinals = Cardinals(float(row["pHmin"]), float(row["pHopt"]), float(row["pHmax"]))
    for column, value in row.items():
        if column.startswith("gamma_pH"):
            factor = kinetics.ph_factor(float(column[8:]), cardinals)
            assert factor == pytest.approx(float(value), abs=5.1e-5), column
    assert kinetics.ph_factor(cardinals.best, cardinals) == pytest.approx(1.0)
    assert kinetics.ph_factor(cardinals.low, cardinals) == pytest.approx(0.0)


@pytest.mark.parametrize("row", rows("growth_curve_checks"), ids=lambda row: row["t_day"])
def test_growth_curves(row: dict[str, str]) -> None:
    # Zwietering 1990 with highest 8 g/L, 0.8 g/L per day, lag 2 days: computed once.
    day = float(row["t_day"])
    gompertz = kinetics.gompertz(day, 8.0, 0.8, 2.0)
    logistic = kinetics.logistic(day, 8.0, 0.8, 2.0)
    assert gompertz == pytest.approx(float(row["gompertz_A8_mu0.8_lag2"]), abs=1e-5)
    assert logistic == pytest.approx(float(row["logistic_A8_mu0.8_lag2"]), abs=1e-5)


@pytest.mark.parametrize("curve", [kinetics.gompertz, kinetics.logistic])
def test_the_steepest_slope_is_the_rate_and_its_tangent_meets_zero_at_the_lag(curve) -> None:
    # What the parameters mean (Zwietering 1990).
    days = np.linspace(0.0, 40.0, 40_001)
    values = curve(days, 8.0, 0.5, 3.0)
    slope = np.gradient(values, days)
    steepest = int(slope.argmax())
    assert slope[steepest] == pytest.approx(0.5, rel=1e-4)
    tangent_zero = days[steepest] - values[steepest] / slope[steepest]
    assert tangent_zero == pytest.approx(3.0, abs=1e-3)
    assert values[-1] == pytest.approx(8.0, rel=1e-2)


def test_an_open_acid_course_is_within_reach_of_the_curve() -> None:
    # Plain kombucha at 25 to 28 C: acetic acid at day 0, 7 and 14, in mM, Korean J. Food
    # Preserv. 31 (2024) 673, Table 2 (read). A plausibility check, not a precision one.
    measured = {
        float(row["day"]): float(row["value"]) * 60.052 / 1000.0
        for row in rows("kombucha_open_data")
        if row["condition"].startswith("K plain") and row["quantity"] == "acetic acid"
    }
    assert sorted(measured) == [0.0, 7.0, 14.0]
    for day, grams in measured.items():
        # 8 g/L at most, 0.48 g/L per day (Processes 12 (2024) 1301, abstract read), a day's lag.
        assert kinetics.gompertz(day, 8.0, 0.48, 1.5) == pytest.approx(grams, abs=0.7)


def test_speed_halves_for_eight_degrees_colder() -> None:
    # Brettanomyces at 20 C has about half to two thirds of its best rate (a review, read).
    assert 0.5 <= kinetics.temperature_factor(20.0, BRETTANOMYCES_C) <= 0.7
    # A tenfold-degree factor near 2 below 28 C is the usual rule (from memory).
    ratio = kinetics.temperature_factor(28.0) / kinetics.temperature_factor(18.0)
    assert math.log(ratio) == pytest.approx(math.log(2.0), abs=0.25)
