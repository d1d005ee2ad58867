"""Limits of published charts of single values, and how often chance alone gives a sign."""

from __future__ import annotations

import numpy as np
import pytest

from brewlog.science.control_charts import D2, D4, Sign, control_chart, signals_in

from .tables import rows


@pytest.mark.parametrize("row", rows("individuals_charts"), ids=lambda row: row["example"])
def test_limits_of_published_examples(row: dict[str, str]) -> None:
    values = [float(each) for each in row["values"].split()]

    chart = control_chart(values, fewest=len(values))

    tolerance = float(row["tolerance"])
    assert chart.mean == pytest.approx(float(row["mean"]), abs=tolerance)
    assert chart.mean_range == pytest.approx(float(row["mean_range"]), abs=tolerance)
    assert chart.lower == pytest.approx(float(row["lower"]), abs=tolerance)
    assert chart.upper == pytest.approx(float(row["upper"]), abs=tolerance)
    if row["upper_range"]:
        assert chart.upper_range == pytest.approx(float(row["upper_range"]), abs=tolerance)


def test_the_factors_are_those_of_two_values_of_a_normal_distribution() -> None:
    # d2 is the mean, d3 the standard deviation of the range of two: 2/sqrt(pi), sqrt(2 - 4/pi).
    mean, deviation = 2 / np.sqrt(np.pi), np.sqrt(2 - 4 / np.pi)

    assert pytest.approx(mean, abs=5e-4) == D2
    assert pytest.approx(1 + 3 * deviation / mean, abs=5e-4) == D4
    assert pytest.approx(2.66, abs=5e-3) == 3 / D2


def test_chance_alone_gives_a_sign_every_92_values() -> None:
    # Champ and Woodall, Technometrics 29 (1987), 393: the four Western Electric rules together
    # signal after 91.75 values on average though nothing has changed (from memory; the
    # e-Handbook, 6.3.2, has it too).
    random = np.random.default_rng(7870)
    run_lengths = []
    for _ in range(2000):
        values = random.standard_normal(1500)
        found = [
            each.first for each in signals_in(values, np.diff(values)) if each.sign != Sign.SIX
        ]
        run_lengths.append(found[0] + 1)

    standard_error = np.std(run_lengths) / np.sqrt(len(run_lengths))
    assert np.mean(run_lengths) == pytest.approx(91.75, abs=2.5 * standard_error)
    assert standard_error < 2.5
