"""How calculated values are shown."""

from __future__ import annotations

import pytest

from brewlog.science.results import Result
from brewlog.templatetags.calculations import figures, opening, signed, value_and_uncertainty


def result(value: float, u: float | None, unit: str = "°C") -> Result:
    return Result("x", value, unit, u, "m", "s", (), "a", "b", "1")


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (0, "0"),
        (12.34567, "12.35"),
        (0.000123456, "0.0001235"),
        (1234567.0, "1235000"),
        (-2.5, "−2.5"),
        (3.0, "3"),
        (1.5e-12, "1.500e-12"),
    ],
)
def test_a_number_is_shown_to_four_figures(value, shown):
    assert figures(value) == shown


@pytest.mark.parametrize(
    ("value", "u", "shown"),
    [
        (3.41234, 0.0612, "3.41 ± 0.12 °C (95 %)"),
        (0.48, 0.25, "0.48 ± 0.49 °C (95 %)"),
        (1234.5, 52.0, "1234 ± 102 °C (95 %)"),
        (28.00000004, None, "28 °C"),
        (28.5, 0.0, "28.5 °C"),
    ],
)
def test_a_value_carries_as_many_figures_as_its_uncertainty(value, u, shown):
    assert value_and_uncertainty(result(value, u)) == shown


@pytest.mark.parametrize(
    ("text", "shown"),
    [("pH after pitching", "pH after pitching"), ("starter needed", "Starter needed"), ("", "")],
)
def test_a_heading_opens_with_a_capital_unless_the_word_has_none(text, shown):
    assert opening(text) == shown


@pytest.mark.parametrize(
    ("text", "shown"), [("-3.0 mV", "−3.0 mV"), ("+2", "+2"), ("-", "-"), ("day -1", "day -1")]
)
def test_a_figure_below_zero_has_a_full_minus(text, shown):
    assert signed(text) == shown
