"""Signs of a change: each is seen where it is met, and only there."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewlog.science.control_charts import FEWEST, SOURCES, Sign, control_chart, signals_in
from brewlog.science.errors import OutOfRange

from .settings import bounded


def signs(*deviations: float) -> list[tuple[Sign, int, int, bool]]:
    """The signs in values that lie so many standard deviations from a known mean."""
    values = np.array(deviations)
    return [(s.sign, s.first, s.last, s.is_high) for s in signals_in(values, np.diff(values))]


@pytest.mark.parametrize(
    ("deviations", "met"),
    [
        ((0, 3.0, 0), []),
        ((0, 3.1, 0), [(Sign.BEYOND, 1, 1, True)]),
        ((0, -3.1, 0), [(Sign.BEYOND, 1, 1, False)]),
        ((2.1, 0, 2.1), [(Sign.TWO_OF_THREE, 2, 2, True)]),
        ((2.1, 0, 0, 2.1), []),
        ((2.1, 0, -2.1), []),
        ((2.1, 2.1, 0), [(Sign.TWO_OF_THREE, 1, 1, True)]),
        ((1.1, 1.2, 0, 1.1, 1.2), [(Sign.FOUR_OF_FIVE, 4, 4, True)]),
        ((1.1, 1.2, 0, 0, 1.1, 1.2), []),
        ((0.5, 0.2, 0.5, 0.2, 0.5, 0.2, 0.5), []),
        ((-0.5, -0.2, -0.5, -0.2, -0.5, -0.2, -0.5, -0.2), [(Sign.EIGHT, 7, 7, False)]),
        ((0.5, 0.2, 0.5, 0.2, 0.5, 0.2, 0.5, 0.2, 0.5), [(Sign.EIGHT, 7, 8, True)]),
        ((0.5, 0.2, 0.5, 0.0, 0.5, 0.2, 0.5, 0.2, 0.5), []),
        ((-0.5, -0.4, -0.1, 0.1, 0.2), []),
        ((-0.5, -0.4, -0.1, 0.1, 0.2, 0.3), [(Sign.SIX, 5, 5, True)]),
        ((0.6, 0.4, 0.1, -0.1, -0.2, -0.3, -0.4), [(Sign.SIX, 5, 6, False)]),
        ((-0.5, -0.4, -0.1, -0.1, 0.2, 0.3), []),
    ],
)
def test_a_sign_is_met_where_it_is_completed(deviations, met):
    assert signs(*deviations) == met


def test_every_sign_has_its_source():
    assert set(SOURCES) == set(Sign)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ([3.2, 3.3] * 9 + [3.2], "Number of values of 19 is outside the range 20"),
        ([3.2] * 20, "Mean moving range of 0 is outside"),
        ([3.2, float("nan")] * 10, "Value of nan is outside"),
        ([3.2, float("inf")] * 10, "Value of inf is outside"),
    ],
)
def test_what_no_limits_can_be_drawn_from_is_refused(values, words):
    with pytest.raises(OutOfRange, match=words):
        control_chart(values)


def test_a_step_to_the_next_value_that_is_far_too_wide_is_told():
    chart = control_chart([3.2, 3.3] * 10 + [4.4, 3.3])

    assert chart.wide_ranges == (19, 20)
    assert chart.ranges[19] > chart.upper_range > chart.ranges[0]


VALUES = st.lists(st.floats(-50, 50), min_size=FEWEST, max_size=60).filter(
    lambda values: np.abs(np.diff(values)).mean() > 1e-3
)


@bounded
@given(VALUES, st.floats(-100, 100), st.floats(0.1, 10))
def test_another_unit_changes_the_limits_and_no_sign(values, offset, factor):
    chart = control_chart([round(each, 3) for each in values])
    other = control_chart([offset + factor * round(each, 3) for each in values])

    assert other.upper == pytest.approx(offset + factor * chart.upper, abs=1e-6)
    assert other.lower == pytest.approx(offset + factor * chart.lower, abs=1e-6)
    # A value on the very edge may fall on either side of it by rounding.
    edges = {round(abs(each - chart.mean) / chart.sigma, 6) for each in chart.values}
    if not edges & {0.0, 1.0, 2.0, 3.0}:
        assert [s for s in other.signals if s.sign != Sign.SIX] == [
            s for s in chart.signals if s.sign != Sign.SIX
        ]


@bounded
@given(VALUES)
def test_upside_down_the_signs_are_those_of_the_other_side(values):
    chart = control_chart(values)
    turned = control_chart([-each for each in values])

    assert {(s.sign, s.first, s.last, not s.is_high) for s in turned.signals} == {
        (s.sign, s.first, s.last, s.is_high) for s in chart.signals
    }
