"""Round trips, order and limits of the water, sugar and instrument calculations."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewlog.science import instruments, sugar, water
from brewlog.science.errors import OutOfRange
from brewlog.science.sugar import GravityScale

from .settings import bounded

temperatures = st.floats(0.0, 80.0)
brixes = st.floats(0.0, 60.0)
scales = st.sampled_from(GravityScale)


@bounded
@given(low=st.floats(4.0, 99.9), step=st.floats(1e-3, 5.0))
def test_water_grows_lighter_above_four_degrees(low: float, step: float) -> None:
    high = min(low + step, 100.0)
    assert water.water_density_kg_per_m3(high) < water.water_density_kg_per_m3(low)


def test_the_two_water_formulas_meet_without_a_step() -> None:
    below, above = water.water_density_kg_per_m3(40.0), water.water_density_kg_per_m3(40.0 + 1e-9)
    assert above == pytest.approx(below, abs=1e-6)


@bounded
@given(brix=brixes, scale=scales)
def test_gravity_to_brix_and_back(brix: float, scale: GravityScale) -> None:
    gravity = sugar.specific_gravity_from_brix(brix, scale)
    assert sugar.brix_from_specific_gravity(gravity, scale) == pytest.approx(brix, abs=1e-8)


@bounded
@given(gravity=st.floats(0.995, 1.2), there=scales, back=scales)
def test_changing_scale_and_back_returns_the_same_gravity(
    gravity: float, there: GravityScale, back: GravityScale
) -> None:
    changed = sugar.convert_specific_gravity(gravity, back, there)
    assert sugar.convert_specific_gravity(changed, there, back) == pytest.approx(gravity, abs=1e-10)


@bounded
@given(brix=brixes, temperature_c=temperatures)
def test_sugar_per_litre_to_brix_and_back(brix: float, temperature_c: float) -> None:
    grams = sugar.sugar_g_per_l_from_brix(brix, temperature_c)
    assert sugar.brix_from_sugar_g_per_l(grams, temperature_c) == pytest.approx(brix, abs=1e-8)


@bounded
@given(brix=st.floats(0.0, 79.0), temperature_c=temperatures)
def test_more_sugar_is_denser(brix: float, temperature_c: float) -> None:
    lighter = sugar.sucrose_solution_density_kg_per_m3(brix, temperature_c)
    assert sugar.sucrose_solution_density_kg_per_m3(brix + 1.0, temperature_c) > lighter


@bounded
@given(temperature_c=temperatures)
def test_no_sugar_is_water(temperature_c: float) -> None:
    # Two water formulas of different age: 0.004 kg/m3 apart to 40 C, 0.02 at 80 C.
    nothing = sugar.sucrose_solution_density_kg_per_m3(0.0, temperature_c)
    assert nothing == pytest.approx(water.water_density_kg_per_m3(temperature_c), abs=0.02)


@bounded
@given(brix=st.floats(-1.0, 30.0))
def test_refractive_index_to_brix_and_back(brix: float) -> None:
    index = instruments.refractive_index_from_brix(brix)
    assert instruments.brix_from_refractive_index(index) == pytest.approx(brix, abs=1e-9)


@bounded
@given(reading=st.floats(0.995, 1.1), temperature_c=st.floats(8.0, 39.0))
def test_a_warmer_sample_hides_more_gravity(reading: float, temperature_c: float) -> None:
    # From 8 C: around 4 C water is at its densest and the order turns.
    at_this = instruments.hydrometer_gravity_at_20c(reading, temperature_c)
    assert instruments.hydrometer_gravity_at_20c(reading, temperature_c + 1.0) > at_this


@bounded
@given(reading=st.floats(0.995, 1.1))
def test_a_hydrometer_at_its_own_temperature_is_not_corrected(reading: float) -> None:
    assert instruments.hydrometer_gravity_at_20c(reading, 20.0) == pytest.approx(reading, abs=1e-12)


@bounded
@given(brix=st.floats(0.0, 30.0))
def test_a_refractometer_at_twenty_degrees_is_not_corrected(brix: float) -> None:
    assert instruments.refractometer_correction_brix(brix, 20.0) == 0.0


@pytest.mark.parametrize(
    "calculation",
    [
        lambda x: water.water_density_kg_per_m3(x * 2.0),
        lambda x: water.water_vapour_pressure_kpa(x * 2.0),
        lambda x: sugar.sucrose_solution_density_kg_per_m3(x, x),
        lambda x: sugar.specific_gravity_from_brix(x),
        lambda x: sugar.brix_from_specific_gravity(1.0 + x / 500.0),
        lambda x: sugar.brix_from_sugar_g_per_l(x * 5.0),
        lambda x: instruments.refractive_index_from_brix(x / 2.0),
        lambda x: instruments.brix_from_refractive_index(1.333 + x / 2000.0),
        lambda x: instruments.refractometer_correction_brix(x / 2.0, 10.0 + x / 4.0),
        lambda x: instruments.hydrometer_gravity_at_20c(1.0 + x / 500.0, x / 2.0),
    ],
)
def test_ten_thousand_readings_at_once_are_the_readings_one_by_one(calculation) -> None:
    many = np.linspace(0.1, 49.0, 10_000)
    together = calculation(many)
    some = slice(0, 10_000, 997)
    one_by_one = [calculation(float(value)) for value in many[some]]
    assert together[some] == pytest.approx(one_by_one, rel=1e-10)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: water.water_density_kg_per_m3(101.0),
            "Water temperature of 101 °C is outside the range 0 to 100 °C",
        ),
        (
            lambda: sugar.sucrose_solution_density_kg_per_m3(81.0, 20.0),
            "Sucrose content of 81 % by mass is outside the range 0 to 80 % by mass",
        ),
        (
            lambda: sugar.brix_from_specific_gravity(1040.0),
            "Specific gravity of 1040 is outside the range 0.99 to 1.41",
        ),
        (
            lambda: instruments.refractometer_correction_brix(10.0, 35.0),
            "Temperature of 35 °C is outside the range 10 to 30 °C",
        ),
        (
            lambda: instruments.hydrometer_gravity_at_20c(np.array([1.02, 1.3]), np.array([9, 9])),
            "Hydrometer reading of 1.3 is outside the range 0.99 to 1.13",
        ),
        (
            lambda: water.water_density_kg_per_m3(float("nan")),
            "Water temperature of nan °C is outside the range 0 to 100 °C",
        ),
    ],
)
def test_a_value_out_of_range_gets_a_sentence_not_a_number(call, message: str) -> None:
    with pytest.raises(OutOfRange, match=message):
        call()
