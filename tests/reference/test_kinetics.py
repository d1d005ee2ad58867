"""The cardinal temperature model: identities, worked values and a rule of the trade."""

from __future__ import annotations

import math

import pytest

from brewlog.science import kinetics
from brewlog.science.kinetics import ACETIC_BACTERIA_C, Cardinals

from .tables import rows

# Indicative, from memory; Brettanomyces' optimum of 22 to 32 °C was read in a review.
BRETTANOMYCES_C = Cardinals(6.0, 28.0, 37.0)
ORGANISMS = {
    "S. cerevisiae-type yeast": Cardinals(4.0, 32.5, 45.0),
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


def test_speed_halves_for_eight_degrees_colder() -> None:
    # Brettanomyces at 20 C has about half to two thirds of its best rate (a review, read).
    assert 0.5 <= kinetics.temperature_factor(20.0, BRETTANOMYCES_C) <= 0.7
    # A tenfold-degree factor near 2 below 28 C is the usual rule (from memory).
    ratio = kinetics.temperature_factor(28.0) / kinetics.temperature_factor(18.0)
    assert math.log(ratio) == pytest.approx(math.log(2.0), abs=0.25)
