"""Scaling, topping up and cooling: conservation, order, and refusals in words."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from brewlog.science import mixing, sugar
from brewlog.science.errors import OutOfRange
from brewlog.science.mixing import Liquid

from .settings import bounded

RECIPE = {"tea": 5.0, "sugar": 70.0, "starter": 0.1}
masses = st.floats(0.05, 50.0)
warm = st.floats(1.0, 99.0)
sweetness = st.floats(0.0, 60.0)


@bounded
@given(volume_l=st.floats(0.1, 5000.0), factor=st.floats(0.1, 10.0))
def test_scaling_keeps_every_ratio(volume_l: float, factor: float) -> None:
    small = mixing.scale_recipe(RECIPE, volume_l).amounts
    large = mixing.scale_recipe(RECIPE, volume_l * factor).amounts
    for name in RECIPE:
        assert large[name] == pytest.approx(small[name] * factor)


@bounded
@given(sugar_g=st.floats(1.0, 1e5), tea_g=st.floats(1.0, 1e4), vessel_l=st.floats(1.0, 500.0))
def test_the_largest_batch_uses_no_more_than_there_is(
    sugar_g: float, tea_g: float, vessel_l: float
) -> None:
    on_hand = {"sugar": sugar_g, "tea": tea_g}
    batch = mixing.largest_batch(RECIPE, on_hand, vessel_l, headspace_fraction=0.1)
    room = {"vessel": 0.9 * vessel_l}
    used = {**batch.amounts, "vessel": batch.volume_l}
    for name, amount in {**on_hand, **room}.items():
        assert used[name] <= amount * (1 + 1e-12)
    limit = {**on_hand, **room}[batch.bound_by]
    assert used[batch.bound_by] == pytest.approx(limit)


def test_a_batch_is_not_sized_by_nothing() -> None:
    with pytest.raises(ValueError, match="Name an amount on hand"):
        mixing.largest_batch(RECIPE, {})


@bounded
@given(a=st.tuples(masses, warm, sweetness), b=st.tuples(masses, warm, sweetness))
def test_a_mixture_lies_between_its_parts(a, b) -> None:
    mixed = mixing.mixing_temperature([Liquid(*a), Liquid(*b)]).value
    # Sugar loses a little heat of mixing in the model; never more than a hundredth here.
    assert min(a[1], b[1]) - 0.01 <= mixed <= max(a[1], b[1]) + 0.01


@bounded
@given(a=st.tuples(masses, warm, sweetness), factor=st.floats(0.1, 10.0))
def test_twice_the_batch_has_the_same_temperature(a, factor: float) -> None:
    cold = Liquid(4.0, 12.0)
    once = mixing.mixing_temperature([Liquid(*a), cold]).value
    scaled = [Liquid(a[0] * factor, a[1], a[2]), Liquid(4.0 * factor, 12.0)]
    assert mixing.mixing_temperature(scaled).value == pytest.approx(once, abs=1e-6)


@bounded
@given(ice_kg=st.floats(0.0, 1.5))
def test_more_ice_is_colder(ice_kg: float) -> None:
    def with_ice(kg: float) -> float:
        return mixing.mixing_temperature([Liquid(5.0, 60.0, 10.0)], kg).value

    assert with_ice(ice_kg + 0.1) < with_ice(ice_kg)


def test_ice_that_would_not_all_melt_is_refused_with_how_much_would() -> None:
    with pytest.raises(OutOfRange, match="Ice of 2 kg is outside the range 0 to") as refusal:
        mixing.mixing_temperature([Liquid(1.0, 20.0)], 2.0)
    just_melts = mixing.mixing_temperature([Liquid(1.0, 20.0)], refusal.value.high - 1e-9)
    assert just_melts.value == pytest.approx(0.0, abs=1e-3)


@bounded
@given(
    volume_l=st.floats(5.0, 500.0),
    sugar_g_per_l=st.floats(30.0, 120.0),
    hot_c=st.floats(70.0, 99.0),
    cold_c=st.floats(5.0, 20.0),
    limit_c=st.floats(25.0, 40.0),
)
def test_topping_up_conserves_mass_and_sugar_and_keeps_the_limit(
    volume_l: float, sugar_g_per_l: float, hot_c: float, cold_c: float, limit_c: float
) -> None:
    try:
        plan = mixing.largest_concentrate(volume_l, sugar_g_per_l, hot_c, cold_c, limit_c)
    except OutOfRange:
        # Only where the thickest syrup already ends too warm.
        thickest_kg = sugar_g_per_l * volume_l / 1000.0 / 0.67
        total_kg = volume_l * sugar.sucrose_solution_density_kg_per_m3(
            sugar.brix_from_sugar_g_per_l(sugar_g_per_l), 20.0
        ) / 1000.0  # fmt: skip
        parts = [Liquid(thickest_kg, hot_c, 67.0), Liquid(total_kg - thickest_kg, cold_c)]
        assert mixing.mixing_temperature(parts).value > limit_c
        return
    assert plan.final_temperature_c <= limit_c + 1e-6
    assert plan.final_volume_l == pytest.approx(volume_l)
    sugar_kg = plan.concentrate_kg * plan.concentrate_brix / 100.0
    assert sugar_kg == pytest.approx(sugar_g_per_l * volume_l / 1000.0)
    total = plan.concentrate_kg + plan.cold_water_kg + plan.ice_kg
    brix = sugar.brix_from_sugar_g_per_l(sugar_g_per_l)
    density = sugar.sucrose_solution_density_kg_per_m3(brix, 20.0)
    assert total == pytest.approx(volume_l * density / 1000.0)


@bounded
@given(limit_c=st.floats(24.0, 45.0), concentrate_l=st.floats(12.0, 60.0))
def test_the_two_ways_of_asking_agree(limit_c: float, concentrate_l: float) -> None:
    hottest = mixing.hottest_concentrate(100.0, 70.0, concentrate_l, 12.0, limit_c)
    assume(hottest.concentrate_temperature_c < 100.0)
    back = mixing.largest_concentrate(100.0, 70.0, hottest.concentrate_temperature_c, 12.0, limit_c)
    assert back.concentrate_l == pytest.approx(concentrate_l, rel=1e-6)


def test_ice_allows_more_concentrate() -> None:
    without = mixing.largest_concentrate(100.0, 70.0, 95.0, 12.0, 28.0)
    with_ice = mixing.largest_concentrate(100.0, 70.0, 95.0, 12.0, 28.0, ice_kg=10.0)
    assert with_ice.concentrate_l > without.concentrate_l + 5.0
    assert with_ice.final_temperature_c == pytest.approx(28.0, abs=1e-6)


def test_a_limit_below_the_cold_water_is_refused() -> None:
    with pytest.raises(OutOfRange, match="Pitching limit of 20 °C is outside"):
        mixing.largest_concentrate(100.0, 70.0, 95.0, 25.0, 20.0)


def test_a_reading_that_fits_agrees_and_one_that_does_not_is_named() -> None:
    expected = mixing.expected_brix(7.0, 100.0, u_sugar_kg=0.05, u_final_volume_l=1.0)
    near = mixing.compare_brix(expected, expected.value + 0.1, 0.1)
    far = mixing.compare_brix(expected, expected.value + 0.6, 0.1)
    assert near.step("agrees") == 1.0
    assert far.step("agrees") == 0.0
    assert far.value == pytest.approx(0.6)


def test_the_uncertainty_of_expected_brix_is_what_repetition_shows() -> None:
    expected = mixing.expected_brix(7.0, 100.0, 10.0, 4.0, u_sugar_kg=0.05, u_final_volume_l=1.0)
    draw = np.random.default_rng(20)
    grams = 1000.0 * draw.normal(7.0, 0.05, 4000) + 10.0 * sugar.sugar_g_per_l_from_brix(4.0)
    spread = sugar.brix_from_sugar_g_per_l(grams / draw.normal(100.0, 1.0, 4000)).std()
    assert expected.standard_uncertainty == pytest.approx(float(spread), rel=0.05)


@bounded
@given(
    room_c=st.floats(0.0, 25.0),
    constant=st.floats(0.01, 2.0),
    first_gap=st.floats(30.0, 70.0),
    target_share=st.floats(0.05, 0.9),
)
def test_cooling_is_recovered_from_two_readings(
    room_c: float, constant: float, first_gap: float, target_share: float
) -> None:
    hours = 0.5
    second_gap = first_gap * math.exp(-constant * hours)
    target_gap = second_gap * target_share
    result = mixing.hours_to_cool(
        room_c + first_gap, room_c + second_gap, hours, room_c, room_c + target_gap
    )
    assert result.step("cooling constant") == pytest.approx(constant, rel=1e-6)
    assert result.value == pytest.approx(-math.log(target_share) / constant, rel=1e-6)


def test_the_rooms_own_temperature_is_never_reached() -> None:
    with pytest.raises(OutOfRange, match="Target temperature of 21 °C"):
        mixing.hours_to_cool(90.0, 60.0, 1.0, 22.0, 21.0)


def test_a_vessel_that_grew_warmer_is_not_cooling() -> None:
    with pytest.raises(OutOfRange, match="Second reading of 61 °C"):
        mixing.cooling_constant_per_h(60.0, 61.0, 1.0, 20.0)


def test_a_small_limit_on_heat_lets_all_be_concentrate() -> None:
    # Lukewarm tea needs no cold water at all.
    plan = mixing.largest_concentrate(50.0, 70.0, 24.0, 12.0, 30.0)
    assert plan.cold_water_kg == pytest.approx(0.0, abs=1e-9)
    assert plan.concentrate_brix == pytest.approx(sugar.brix_from_sugar_g_per_l(70.0))


def test_little_concentrate_may_be_boiling() -> None:
    plan = mixing.hottest_concentrate(100.0, 70.0, 12.0, 5.0, 45.0)
    assert plan.concentrate_temperature_c == 100.0
    assert plan.final_temperature_c < 45.0


def test_more_ice_than_has_room_beside_the_concentrate_is_refused() -> None:
    with pytest.raises(OutOfRange, match="Ice of 95 kg is outside the range 0 to"):
        mixing.hottest_concentrate(100.0, 70.0, 20.0, 12.0, 30.0, ice_kg=95.0)


def test_a_concentrate_too_thick_to_stay_dissolved_is_refused() -> None:
    with pytest.raises(OutOfRange, match="Concentrate of .* °Bx is outside the range 0 to 67 °Bx"):
        mixing.hottest_concentrate(100.0, 100.0, 10.0, 12.0, 30.0)


def test_cold_water_warmer_than_the_limit_is_refused_however_cool_the_concentrate() -> None:
    with pytest.raises(OutOfRange, match="Pitching limit of 20 °C"):
        mixing.hottest_concentrate(100.0, 70.0, 20.0, 35.0, 20.0)
