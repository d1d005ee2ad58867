"""Instrument uncertainties and their propagation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from brewlog.science import acidity, uncertainty
from brewlog.science.errors import OutOfRange
from brewlog.science.results import Result, Step


def test_a_display_step_is_a_rectangle_of_that_width() -> None:
    draws = np.random.default_rng(7).uniform(-0.05, 0.05, 200_000)
    assert uncertainty.from_resolution(0.1) == pytest.approx(float(draws.std()), rel=5e-3)


def test_a_makers_limit_is_a_rectangle_either_way() -> None:
    assert uncertainty.from_stated_accuracy(0.05) == pytest.approx(
        uncertainty.from_resolution(0.1), rel=1e-12
    )


def test_independent_contributions_add_in_squares() -> None:
    assert uncertainty.combined(3.0, 4.0) == pytest.approx(5.0)


def test_propagation_follows_the_derivatives() -> None:
    value, u = uncertainty.propagate(lambda a, b: a * math.exp(b), (2.0, 0.1), (0.5, 0.02))
    assert value == pytest.approx(2.0 * math.exp(0.5))
    # d/da = exp(b), d/db = a exp(b).
    assert u == pytest.approx(math.exp(0.5) * math.hypot(0.1, 2.0 * 0.02), rel=1e-4)


def test_an_exact_input_adds_nothing() -> None:
    _, u = uncertainty.propagate(lambda a, b: a * b, (2.0, 0.1), (3.0, 0.0))
    assert u == pytest.approx(0.3)


def test_at_the_end_of_a_range_the_uncertainty_is_still_found() -> None:
    top = acidity.ph_after_pitching((3.0, 0.05), (8.0, 0.3), (0.1, 0.01), (10.0, 0.5), (8.0, 0.3))
    below = acidity.ph_after_pitching((3.0, 0.05), (8.0, 0.3), (0.1, 0.01), (9.9, 0.5), (7.9, 0.3))
    assert top.standard_uncertainty == pytest.approx(below.standard_uncertainty, rel=0.2)


def test_a_negative_resolution_is_refused() -> None:
    with pytest.raises(OutOfRange, match="Resolution of -1"):
        uncertainty.from_resolution(-1.0)


def result(value: float, u: float | None, lowest: float = -math.inf) -> Result:
    return Result(
        "alcohol", value, "% vol", u, "m", "s", (Step("a", 1.5),), "", "", "1", lowest=lowest
    )


def test_an_interval_is_cut_at_what_is_possible() -> None:
    low, high = result(0.2, 0.2, lowest=0.0).interval_95()
    assert low == 0.0
    assert high == pytest.approx(0.2 + 1.959964 * 0.2)


def test_a_result_without_uncertainty_has_no_interval() -> None:
    with pytest.raises(ValueError, match="without an uncertainty"):
        result(0.2, None).interval_95()


def test_steps_are_found_by_name() -> None:
    assert result(0.2, None).step("a") == 1.5
    with pytest.raises(KeyError):
        result(0.2, None).step("b")
