"""Alcohol: round trips, order, limits at zero, and what the results say of themselves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewlog.science import alcohol, alcohol_learning, composition, ethanol, instruments
from brewlog.science.alcohol_learning import LaboratoryPair
from brewlog.science.composition import Assumptions
from brewlog.science.errors import OutOfRange

from .settings import bounded

EXACT = Assumptions(
    gluconic_share=(0.1, 0.0), tea_solids_g_per_l=(2.0, 0.0), inverted_share=(0.6, 0.0)
)


@bounded
@given(abv=st.floats(0.0, 100.0))
def test_strength_by_volume_mass_and_litre_and_back(abv: float) -> None:
    assert ethanol.abv_from_abw(ethanol.abw_from_abv(abv)) == pytest.approx(abv, abs=1e-9)
    grams = ethanol.ethanol_g_per_l_from_abv(abv)
    assert ethanol.abv_from_ethanol_g_per_l(grams) == pytest.approx(abv, abs=1e-12)


@bounded
@given(mass_percent=st.floats(0.0, 98.0), temperature_c=st.floats(0.0, 40.0))
def test_more_ethanol_is_lighter(mass_percent: float, temperature_c: float) -> None:
    heavier = ethanol.ethanol_water_density_kg_per_m3(mass_percent, temperature_c)
    assert ethanol.ethanol_water_density_kg_per_m3(mass_percent + 1.0, temperature_c) < heavier


def test_ten_thousand_strengths_at_once() -> None:
    percent = np.linspace(0.0, 100.0, 10_000)
    together = ethanol.ethanol_water_density_kg_per_m3(percent, np.full_like(percent, 15.0))
    one_by_one = [ethanol.ethanol_water_density_kg_per_m3(float(p), 15.0) for p in percent[::997]]
    assert together[::997] == pytest.approx(one_by_one, rel=1e-12)
    strengths = ethanol.abv_from_abw(percent)
    assert strengths[-1] == pytest.approx(100.0)


@bounded
@given(
    sugar=st.floats(0.0, 120.0),
    abv=st.floats(0.0, 5.0),
    acetic=st.floats(0.0, 12.0),
)
def test_a_drink_of_known_composition_is_recovered(sugar: float, abv: float, acetic: float) -> None:
    gluconic = acetic / 60.052 / 9.0 * 196.155  # one mole in ten
    grams = ethanol.ethanol_g_per_l_from_abv(abv)
    gravity, index = composition.expected_readings(sugar, grams, acetic, gluconic, 2.0, 0.6)
    brix = instruments.brix_from_refractive_index(index)
    acidity = acetic / 0.9
    result = alcohol.from_gravity_brix_and_acidity(
        (gravity, 0.0), (max(brix, 0.0), 0.0), (acidity, 0.0), EXACT
    )
    assert result.value == pytest.approx(abv, abs=1e-3)
    assert result.step("remaining sugar") == pytest.approx(sugar, abs=1e-2)


@bounded
@given(finer=st.floats(0.1, 0.9))
def test_better_instruments_give_a_smaller_uncertainty(finer: float) -> None:
    def u(scale: float) -> float:
        result = alcohol.from_gravity_brix_and_acidity(
            (1.015, 0.0005 * scale), (4.6, 0.1 * scale), (6.0, 0.2 * scale)
        )
        assert result.standard_uncertainty is not None
        return result.standard_uncertainty

    assert u(finer) < u(1.0)


@pytest.mark.parametrize(
    ("u_brix", "u_gravity", "instruments_alone"),
    # Standard uncertainty of the two equations from the instruments alone, worked from the
    # inverse of the increments at 998.207 kg/m3.
    [(0.1, 0.0005, 0.228), (0.05, 0.0002, 0.100), (0.02, 0.0001, 0.046), (0.2, 0.001, 0.455)],
)
def test_uncertainty_from_the_instruments_alone(
    u_brix: float, u_gravity: float, instruments_alone: float
) -> None:
    known = Assumptions((5.0, 0.0), (0.0, 0.0), (0.0, 0.0), (0.0, 0.0))
    result = alcohol.from_gravity_and_brix((1.0146, u_gravity), (4.5, u_brix), known)
    assert result.standard_uncertainty == pytest.approx(instruments_alone, rel=0.06)


def test_leaving_acid_out_overstates_as_published_sensitivities_say() -> None:
    # +0.019 % vol per g/L of acetic acid ignored.
    gravity, index = composition.expected_readings(40.0, 8.0, 5.0)
    brix = instruments.brix_from_refractive_index(index)
    without = Assumptions((0.0, 0.0), (0.0, 0.0), (0.0, 0.0), (0.0, 0.0))
    result = alcohol.from_gravity_and_brix((gravity, 0.0), (brix, 0.0), without)
    assert result.value - 8.0 / 7.89239 == pytest.approx(5 * 0.019, abs=0.01)


@bounded
@given(
    start=st.floats(40.0, 90.0),
    gone_share=st.floats(0.05, 0.9),
    acid=st.floats(0.0, 8.0),
)
def test_no_estimate_from_sugar_passes_its_ceiling(
    start: float, gone_share: float, acid: float
) -> None:
    left = start * (1.0 - gone_share)
    arguments = ((start, 0.5), (left, 0.5), (acid, 0.2))
    estimate = alcohol.from_sugar_balance(*arguments)
    bound = alcohol.ceiling(*arguments)
    assert 0.0 <= estimate.value <= bound.step("ceiling at 95 %") + 1e-9
    low, high = estimate.interval_95()
    assert 0.0 <= low <= estimate.value <= high


def test_no_sugar_gone_and_no_acid_is_no_alcohol() -> None:
    still = Assumptions(evaporated_share=(0.0, 0.0), ethanol_lost_g_per_l=(0.0, 0.0))
    unsplit = Assumptions(
        evaporated_share=(0.0, 0.0), ethanol_lost_g_per_l=(0.0, 0.0), inverted_share=(0.0, 0.0)
    )
    nothing = alcohol.ceiling((60.0, 0.0), (60.0, 0.0), assumed=unsplit)
    assert nothing.value == pytest.approx(0.0, abs=1e-9)
    # The same weight of sugar after it was split would be a little less sugar.
    split = alcohol.ceiling((60.0, 0.0), (60.0, 0.0), assumed=still)
    assert split.value > 0.0


@bounded
@given(sugar=st.floats(0.0, 80.0), fraction=st.floats(0.0, 1.0), abv=st.floats(0.0, 3.0))
def test_potential_alcohol_is_now_plus_what_the_sugar_gives(
    sugar: float, fraction: float, abv: float
) -> None:
    result = alcohol.potential_alcohol((abv, 0.1), (sugar, 1.0), fraction, (0.0, 0.0))
    from_sugar = sugar * 0.53834 / 7.89239  # g ethanol per g sucrose, g/L per % vol
    assert result.value == pytest.approx(abv + from_sugar, abs=1e-4)
    assert result.step("at the stated fraction") == pytest.approx(
        abv + fraction * from_sugar, abs=1e-4
    )


def test_fifty_five_grams_of_sugar_in_a_warm_bottle() -> None:
    # 55 g/L sucrose x 0.53834 / 7.8924 g per % vol = 3.75 % vol, by hand.
    result = alcohol.potential_alcohol((0.4, 0.1), (55.0, 2.0), inverted_share=(0.0, 0.0))
    assert result.value == pytest.approx(0.4 + 3.7515, abs=1e-3)


def test_a_rising_gravity_is_no_alcohol() -> None:
    result = alcohol.upper_figure_from_gravity_drop((1.020, 0.0005), (1.020, 0.0005))
    assert result.value == pytest.approx(0.0, abs=1e-9)
    with pytest.raises(OutOfRange, match="Final gravity of 1.03 is outside the range 0.98 to 1.02"):
        alcohol.upper_figure_from_gravity_drop((1.020, 0.0005), (1.030, 0.0005))


ALL = (
    lambda: alcohol.upper_figure_from_gravity_drop((1.025, 0.0005), (1.014, 0.0005)),
    lambda: alcohol.from_gravity_and_brix((1.014, 0.0005), (4.6, 0.1)),
    lambda: alcohol.from_gravity_brix_and_acidity((1.014, 0.0005), (4.6, 0.1), (5.0, 0.2)),
    lambda: alcohol.from_sugar_balance((60.0, 0.6), (40.0, 1.0), (4.0, 0.3)),
    lambda: alcohol.combined_estimate((1.014, 0.0005), (4.6, 0.1), (5.0, 0.2), (60.0, 0.6)),
    lambda: alcohol.ceiling((60.0, 0.6), (40.0, 1.0)),
    lambda: alcohol.potential_alcohol((0.4, 0.1), (40.0, 2.0)),
    lambda: alcohol_learning.from_sugar_gone((20.0, 1.0)),
    lambda: alcohol_learning.from_sugar_gone(
        (20.0, 1.0), [LaboratoryPair(10.0 + 4.0 * i, 0.2 + 0.1 * i) for i in range(6)]
    ),
)


@pytest.mark.parametrize("estimate", ALL)
def test_every_figure_says_it_is_no_evidence(estimate) -> None:
    result = estimate()
    assert "only a laboratory result or a distillation can show it" in result.cannot_support
    assert result.standard_uncertainty > 0.0
    assert result.steps
    assert result.source


def test_the_gravity_drop_calls_itself_an_upper_figure() -> None:
    result = ALL[0]()
    assert "upper figure" in result.quantity
    assert "not" not in result.supports
    assert result.cannot_support.startswith("an estimate of the alcohol")


def test_four_results_are_too_few_to_learn_from() -> None:
    pairs = [LaboratoryPair(10.0 * i, 0.3 * i) for i in range(1, 5)]
    assert alcohol_learning.learn(pairs) is None
    general = alcohol_learning.from_sugar_gone((20.0, 1.0), pairs)
    assert "4 laboratory results, 5 are needed" in general.method


def test_a_batch_unlike_any_in_the_laboratory_falls_back() -> None:
    pairs = [LaboratoryPair(20.0 + i, 0.5 + 0.02 * i) for i in range(6)]
    general = alcohol_learning.from_sugar_gone((60.0, 1.0), pairs)
    assert "quite other sugar" in general.method


def test_results_all_at_one_sugar_draw_no_line() -> None:
    assert alcohol_learning.learn([LaboratoryPair(20.0, 0.5 + 0.01 * i) for i in range(6)]) is None


def test_the_learned_line_is_that_of_numpy() -> None:
    gone = np.array([10.0, 14.0, 19.0, 25.0, 31.0, 40.0])
    abv = np.array([0.25, 0.31, 0.44, 0.52, 0.71, 0.83])
    pairs = [LaboratoryPair(float(g), float(a)) for g, a in zip(gone, abv, strict=True)]
    line = alcohol_learning.learn(pairs)
    assert line is not None
    slope, intercept = np.polyfit(gone, abv, 1)
    assert line.slope == pytest.approx(slope)
    assert line.intercept == pytest.approx(intercept)


def test_with_nothing_in_doubt_both_ways_agree_and_there_is_no_uncertainty() -> None:
    certain = Assumptions(
        acidity_g_per_l=(0.0, 0.0),
        gluconic_share=(0.0, 0.0),
        tea_solids_g_per_l=(0.0, 0.0),
        inverted_share=(0.0, 0.0),
        ethanol_yield=(0.5114, 0.0),
        growth_share=(0.0, 0.0),
        evaporated_share=(0.0, 0.0),
        ethanol_lost_g_per_l=(0.0, 0.0),
    )
    left = 60.0 - 8.0 / 0.53834  # sucrose that 8 g/L of ethanol take
    gravity, index = composition.expected_readings(left, 8.0)
    brix = instruments.brix_from_refractive_index(index)
    readings = ((gravity, 0.0), (brix, 0.0), (0.0, 0.0), (60.0, 0.0), (0.0, 0.0))
    result = alcohol.combined_estimate(*readings, assumed=certain)
    assert result.value == pytest.approx(8.0 / 7.89239, abs=2e-3)
    assert result.standard_uncertainty == pytest.approx(0.0, abs=1e-6)


def test_two_correlated_estimates_are_weighed_to_the_least_variance() -> None:
    covariance = np.array([[4.0, 1.0], [1.0, 2.0]])
    weights = np.linspace(0.0, 1.0, 1001)
    both = np.array([weights, 1.0 - weights])
    variances = np.einsum("ik,ij,jk->k", both, covariance, both)
    least = float(weights[variances.argmin()])
    assert alcohol._weight_of_first(covariance) == pytest.approx(least, abs=1e-3)
