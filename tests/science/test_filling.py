"""Net content and yield: weighed bottles, the label, and litres that add up."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from brewlog.science import filling
from brewlog.science.errors import OutOfRange
from brewlog.science.filling import Loss

from .settings import bounded


@bounded
@given(
    volume_ml=st.floats(100.0, 3000.0),
    density=st.floats(0.99, 1.1),
    tare_g=st.floats(10.0, 900.0),
)
def test_a_bottle_filled_with_a_volume_is_weighed_as_that_volume(
    volume_ml: float, density: float, tare_g: float
) -> None:
    # What the scale shows: air buoys the drink up, and its own weights too.
    shown = volume_ml * (density - 0.0012) / (1.0 - 0.0012 / 8.0)
    assert filling.net_volume_ml(tare_g + shown, tare_g, density) == pytest.approx(volume_ml)


def test_a_litre_of_water_in_air() -> None:
    # One litre at 20 C weighs 997.15 g in air against brass or steel weights: 1.0028 mL per g
    # (the usual table for calibrating glassware, ISO 4787, from memory).
    assert filling.net_volume_ml(997.15, 0.0, 0.9982067) == pytest.approx(1000.0, abs=0.02)


WEIGHTS = [541.2, 543.9, 540.1, 542.7, 544.4, 541.8]


def test_average_and_interval_are_those_of_scipy() -> None:
    check = filling.check_fill(WEIGHTS, 205.0, (1.012, 0.0), 330.0, u_scale_g=0.0)
    volumes = np.array([filling.net_volume_ml(w, 205.0, 1.012) for w in WEIGHTS])
    assert check.average_ml == pytest.approx(volumes.mean())
    assert check.standard_deviation_ml == pytest.approx(volumes.std(ddof=1))
    test = stats.ttest_1samp(volumes, 330.0, alternative="greater")
    assert check.lower_95_ml == pytest.approx(test.confidence_interval(0.95).low)
    assert check.shown_at_95 == (test.pvalue < 0.05)


def test_bottles_short_beyond_the_tolerance_are_named() -> None:
    weights = [541.0, 520.0, 541.0, 538.0]
    check = filling.check_fill(weights, 205.0, (1.012, 0.0005), 330.0, tolerated_shortfall_ml=9.0)
    assert check.short == (2,)
    assert check.under_label == 2


def test_a_tare_of_its_own_for_every_bottle() -> None:
    tares = [204.0, 206.0, 205.0]
    gross = [tare + 336.0 for tare in tares]
    check = filling.check_fill(gross, tares, (1.012, 0.0), 330.0)
    assert check.standard_deviation_ml == pytest.approx(0.0, abs=1e-9)
    with pytest.raises(ValueError, match="one tare per bottle"):
        filling.check_fill(gross, tares[:2], (1.012, 0.0), 330.0)


def test_the_spread_of_empty_bottles_is_not_blamed_on_the_filler() -> None:
    draw = np.random.default_rng(6)
    tares = draw.normal(205.0, 3.0, 400)
    fills = draw.normal(335.0, 2.0, 400)
    gross = tares + fills * (1.012 - 0.0012) / (1.0 - 0.0012 / 8.0)
    with_it = filling.check_fill(gross, 205.0, (1.012, 0.0), 330.0, tare_spread_g=3.0)
    without = filling.check_fill(gross, 205.0, (1.012, 0.0), 330.0)
    assert with_it.standard_deviation_ml == pytest.approx(2.0, abs=0.4)
    assert without.standard_deviation_ml > 3.0


def test_the_interval_holds_the_true_average_as_often_as_it_says() -> None:
    draw = np.random.default_rng(12)
    held = []
    for _ in range(2000):
        true_average = draw.normal(332.0, 2.0)
        density_off = draw.normal(0.0, 0.0005)
        # Fills lean to one side and a nozzle is worse than the others; the scale is off.
        fills = true_average + draw.gamma(4.0, 1.0, 12) - 4.0 + draw.normal(0.0, 0.5, 12)
        gross = (
            205.0
            + fills * (1.012 + density_off - 0.0012) / (1 - 0.0012 / 8)
            + draw.normal(0.0, 0.3)
        )
        check = filling.check_fill(gross, 205.0, (1.012, 0.0005), 330.0, u_scale_g=0.3)
        held.append(check.lower_95_ml <= true_average)
    # One-sided 95 %.
    assert 0.92 <= np.mean(held) <= 0.98


def test_filling_to_the_suggested_target_reaches_the_label() -> None:
    check = filling.check_fill(WEIGHTS, 205.0, (1.012, 0.0005), 330.0)
    raised = [
        weight + (check.suggested_target_ml - check.average_ml) * 1.0108 for weight in WEIGHTS
    ]
    again = filling.check_fill(raised, 205.0, (1.012, 0.0005), 330.0)
    assert again.lower_95_ml == pytest.approx(330.0, abs=0.05)


@bounded
@given(
    litres_in=st.floats(10.0, 500.0),
    filled_share=st.floats(0.0, 1.1),
    losses=st.lists(
        st.tuples(st.sampled_from(["sediment", "samples", "filling"]), st.floats(0.0, 20.0))
    ),
)
def test_every_litre_is_filled_lost_or_unexplained(litres_in, filled_share, losses) -> None:
    account = filling.yield_account(
        (litres_in, 0.5), (litres_in * filled_share, 0.3), [Loss(*loss, 0.1) for loss in losses]
    )
    total = account.litres_filled + account.litres_lost + account.unexplained_l
    assert total == pytest.approx(litres_in)
    assert sum(account.by_step.values()) == pytest.approx(account.litres_lost)
    assert account.yield_share == pytest.approx(filled_share)


@pytest.mark.parametrize(("filled", "clear"), [(95.5, False), (94.0, True), (101.0, True)])
def test_unexplained_litres_are_clear_only_beyond_their_uncertainty(
    filled: float, clear: bool
) -> None:
    account = filling.yield_account((100.0, 0.5), (filled, 0.3), [Loss("sediment", 4.0, 0.2)])
    assert account.unexplained_is_clear is clear


def test_one_bottle_is_no_sample_and_a_bottle_lighter_than_empty_is_refused() -> None:
    with pytest.raises(ValueError, match="at least two bottles"):
        filling.check_fill([541.0], 205.0, (1.012, 0.0), 330.0)
    with pytest.raises(OutOfRange, match="Gross weight of 200 g is outside the range 205 g and"):
        filling.net_volume_ml(200.0, 205.0, 1.012)
