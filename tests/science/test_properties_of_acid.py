"""Acids and meters: conservation, order, round trips and refusals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewlog.science import acidity, ph_meter
from brewlog.science.acidity import ACETIC, GLUCONIC, AcidLiquid
from brewlog.science.errors import OutOfRange
from brewlog.science.ph_meter import Acceptance, Buffer

from .settings import bounded

starter_ph = st.floats(2.85, 3.6)
starter_acidity = st.floats(6.0, 20.0)
shares = st.floats(0.02, 0.6)
alkalinity = st.floats(0.0, 5.0)


@bounded
@given(ph=starter_ph, ta=starter_acidity, gluconic=st.floats(0.0, 0.3))
def test_a_starter_described_reads_as_it_was_measured(
    ph: float, ta: float, gluconic: float
) -> None:
    starter = acidity.describe_starter(ph, ta, gluconic)
    assert acidity.ph_of(starter) == pytest.approx(ph, abs=1e-6)
    assert acidity.titratable_acidity_of(starter) == pytest.approx(ta, abs=1e-6)


@bounded
@given(ph=starter_ph, ta=starter_acidity, hardness=alkalinity, share=shares)
def test_mixing_conserves_acid_and_charge(
    ph: float, ta: float, hardness: float, share: float
) -> None:
    starter, tea = acidity.describe_starter(ph, ta), acidity.describe_tea(5.6, hardness)
    blend = acidity.mix(starter, tea, share)
    assert blend.pools[ACETIC] == pytest.approx(share * starter.pools[ACETIC])
    assert blend.pools[GLUCONIC] == pytest.approx(share * starter.pools[GLUCONIC])
    charge = share * starter.strong_charge_mol_per_l + (1 - share) * tea.strong_charge_mol_per_l
    assert blend.strong_charge_mol_per_l == pytest.approx(charge)


@bounded
@given(ph=starter_ph, ta=starter_acidity, hardness=alkalinity, share=shares)
def test_more_starter_is_sourer_and_harder_water_less_so(
    ph: float, ta: float, hardness: float, share: float
) -> None:
    starter = acidity.describe_starter(ph, ta)
    soft, hard = acidity.describe_tea(5.6, hardness), acidity.describe_tea(5.6, hardness + 1.0)
    here = acidity.ph_of(acidity.mix(starter, soft, share))
    assert acidity.ph_of(acidity.mix(starter, soft, share + 0.05)) < here
    assert acidity.ph_of(acidity.mix(starter, hard, share)) > here


@bounded
@given(ph=starter_ph, ta=starter_acidity, hardness=alkalinity, share=shares)
def test_the_share_for_a_ph_is_found_again(
    ph: float, ta: float, hardness: float, share: float
) -> None:
    starter, tea = acidity.describe_starter(ph, ta), acidity.describe_tea(5.6, hardness)
    target = acidity.ph_of(acidity.mix(starter, tea, share))
    found = acidity.starter_share_for_ph(starter, tea, target)
    assert found == pytest.approx(share, abs=1e-6)


def test_no_acid_is_neutral_water() -> None:
    assert acidity.ph_of(AcidLiquid()) == pytest.approx(13.995 / 2, abs=1e-3)


def test_a_starter_too_weak_for_its_ph_is_refused() -> None:
    with pytest.raises(OutOfRange, match="Starter pH of 2 is outside the range"):
        acidity.describe_starter(2.0, 1.0)


def test_a_target_no_mixture_reaches_is_refused() -> None:
    with pytest.raises(OutOfRange, match="Target pH of 2.8 is outside the range 3 to 5.6"):
        acidity.starter_needed((3.0, 0.0), (8.0, 0.0), 2.8, (0.0, 0.0))


def test_the_starter_suggested_is_never_below_the_least_that_binds() -> None:
    inputs = ((3.0, 0.05), (8.0, 0.3), 4.2)
    free = acidity.starter_needed(*inputs)
    bound = acidity.starter_needed(*inputs, least_share=0.2)
    assert free.value < 0.2
    assert bound.value == 0.2
    assert bound.step("share by acidity alone") == pytest.approx(free.value)
    assert bound.step("pH expected at the share chosen") < 4.2


def test_ten_percent_of_a_sour_starter_reaches_the_first_limit_in_any_water() -> None:
    starter = acidity.describe_starter(3.0, 8.0)
    soft, hard = (
        acidity.ph_of(acidity.mix(starter, acidity.describe_tea(5.6, alkalinity), 0.1))
        for alkalinity in (0.0, 4.0)
    )
    assert soft < 4.2 < hard < 4.6


def test_the_uncertainty_after_pitching_is_what_repetition_shows() -> None:
    # Each input drawn anew, gluconic constant and tea buffering too.
    result = acidity.ph_after_pitching(
        (3.0, 0.05), (8.0, 0.3), (0.1, 0.005), (1.0, 0.3), (5.6, 0.2)
    )
    draw = np.random.default_rng(31)
    count = 2000
    drawn = [
        acidity.ph_of(
            acidity.mix(
                acidity.describe_starter(ph, ta, gluconic),
                acidity.describe_tea(tea, hardness, buffering),
                share,
            )
        )
        for ph, ta, gluconic, tea, hardness, buffering, share in zip(
            draw.normal(3.0, 0.05, count),
            draw.normal(8.0, 0.3, count),
            draw.beta(1.0, 5.0, count),
            draw.normal(5.6, 0.2, count),
            draw.normal(1.0, 0.3, count).clip(0.0),
            draw.normal(3.0, 1.5, count).clip(0.1),
            draw.normal(0.1, 0.005, count),
            strict=True,
        )
    ]
    low, high = result.interval_95()
    covered = np.mean([low <= ph <= high for ph in drawn])
    assert 0.92 <= covered <= 0.98


def test_titration_uncertainty_adds_in_relative_squares() -> None:
    result = acidity.titratable_acidity(8.0, 0.1, 10.0, 0.08, 0.001, 0.1)
    assert result.standard_uncertainty == pytest.approx(result.value * 0.01 * 3**0.5, rel=1e-3)


@bounded
@given(
    slope_percent=st.floats(91.0, 101.0),
    offset_mv=st.floats(-25.0, 25.0),
    temperature_c=st.floats(5.0, 40.0),
)
def test_a_calibration_finds_the_slope_and_the_offset_of_the_meter(
    slope_percent: float, offset_mv: float, temperature_c: float
) -> None:
    slope = -slope_percent / 100.0 * ph_meter.nernst_slope_mv_per_ph(temperature_c)
    buffers = [
        ph_meter.buffer_ph(buffer, temperature_c) for buffer in (Buffer.PHTHALATE, Buffer.PHOSPHATE)
    ]
    points = [(value, offset_mv + slope * (value - 7.0)) for value in buffers]
    calibration = ph_meter.calibrate(points, temperature_c)
    assert calibration.slope_percent == pytest.approx(slope_percent, abs=1e-6)
    assert calibration.offset_mv == pytest.approx(offset_mv, abs=1e-6)


@pytest.mark.parametrize(
    ("points", "acceptance", "reason"),
    [
        ([(4.005, 161.0), (6.865, 5.0)], Acceptance.CLEAN, "slope 92"),
        ([(4.005, 215.0), (6.865, 48.0)], Acceptance.CLEAN, "offset"),
        ([(4.005, 140.0), (6.865, 5.0)], Acceptance.REJECT, "slope 79"),
        ([(4.005, 172.1), (6.865, -3.0), (9.18, -128.4)], Acceptance.REJECT, "off the line"),
        ([(4.005, 2.0), (6.865, 2.0)], Acceptance.REJECT, "slope"),
    ],
)
def test_a_worn_electrode_is_named(points, acceptance: Acceptance, reason: str) -> None:
    calibration = ph_meter.calibrate(points, 25.0)
    assert calibration.acceptance is acceptance
    assert any(reason in given for given in calibration.reasons)


def test_two_buffers_alike_are_no_calibration() -> None:
    with pytest.raises(OutOfRange, match="Distance between the buffers"):
        ph_meter.calibrate([(7.0, 0.0), (6.865, 8.0)], 25.0)
    with pytest.raises(ValueError, match="at least two buffers"):
        ph_meter.calibrate([(7.0, 0.0)], 25.0)


def test_a_dead_electrode_is_rejected() -> None:
    dead = ph_meter.calibrate([(4.005, 2.0), (6.865, 2.0)], 25.0)
    assert dead.acceptance is Acceptance.REJECT
    assert dead.largest_residual_ph == math.inf
