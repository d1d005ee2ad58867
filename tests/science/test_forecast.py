"""Forecasts: intervals that hold, honest refusals, and flags for batches unlike the others."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewlog.science import kinetics
from brewlog.science.curves import PH, SUGAR
from brewlog.science.errors import OutOfRange
from brewlog.science.fitting import Reading, Room, learn_prior
from brewlog.science.forecast import Flag, Status, forecast

from .settings import bounded

LIMITS = (3.6, 3.3)
FINE_DAYS = np.linspace(0.0, 60.0, 6001)


@dataclass(frozen=True)
class Recipe:
    """What the batches of one recipe have in common; no two breweries' are alike."""

    start: float
    end: float
    ln_rate: float

    @classmethod
    def drawn(cls, draw: np.random.Generator) -> Recipe:
        return cls(draw.normal(4.3, 0.5), draw.normal(2.95, 0.27), draw.normal(-1.386, 0.7))


def true_course(draw: np.random.Generator, recipe: Recipe, room_c: float) -> np.ndarray:
    """pH by FINE_DAYS, with what no forecast is told.

    A lag, a slower second speed, a daily swing of temperature, a thermometer elsewhere, and
    a wander from the smooth course of about 0.03 over some days.
    """
    start, end = recipe.start + draw.normal(0.0, 0.2), recipe.end + draw.normal(0.0, 0.12)
    rate = math.exp(recipe.ln_rate + draw.normal(0.0, 0.33))
    slow_share, lag = draw.uniform(0.0, 0.2), draw.uniform(0.0, 0.5)
    off = draw.normal(0.0, 0.5)  # the thermometer hangs elsewhere
    swing = draw.uniform(0.0, 2.0)
    vessel_c = room_c + off + swing * np.sin(2.0 * np.pi * FINE_DAYS)
    # Speed doubles with ten degrees; the forecast assumes cardinal temperatures instead.
    speed = 2.0 ** ((vessel_c - 25.0) / 10.0)
    passed = np.concatenate([[0.0], np.cumsum(speed[1:] * np.diff(FINE_DAYS))])
    passed = np.maximum(passed - lag, 0.0)
    fast, slow = np.exp(-rate * passed), np.exp(-rate / 3.0 * passed)
    smooth = end + (start - end) * ((1.0 - slow_share) * fast + slow_share * slow)
    waves = [
        draw.normal(0.0, 0.03) * np.sin(2.0 * np.pi * FINE_DAYS / period + draw.uniform(0.0, 6.28))
        for period in (3.0, 7.0, 15.0)
    ]
    return smooth + sum(waves)


def readings_of(draw: np.random.Generator, course: np.ndarray, days: np.ndarray) -> list[Reading]:
    """Readings with noise, a probe off from the start and drifting on."""
    probe = draw.normal(0.0, 0.02) + draw.normal(0.0, 0.004) * days
    values = np.interp(days, FINE_DAYS, course) + probe + draw.normal(0.0, 0.02, days.size)
    return [
        Reading(float(day), float(value), 0.03) for day, value in zip(days, values, strict=True)
    ]


def crossing_day(course: np.ndarray, limit: float) -> float:
    below = np.flatnonzero(course <= limit)
    return float(FINE_DAYS[below[0]]) if below.size else math.inf


def early_days(draw: np.random.Generator) -> np.ndarray:
    count = int(draw.integers(3, 6))
    return np.concatenate([[0.05], np.sort(draw.uniform(0.8, 4.0, count - 1))])


def share_covered(earlier_batches: int, recipes: int, batches: int, seed: int) -> float:
    draw = np.random.default_rng(seed)
    hits = []
    for _ in range(recipes):
        recipe = Recipe.drawn(draw)
        earlier = []
        for _ in range(earlier_batches):
            room_c = float(draw.uniform(21.0, 27.0))
            days = np.concatenate([[0.05], np.sort(draw.uniform(1.0, 14.0, 6))])
            readings = readings_of(draw, true_course(draw, recipe, room_c), days)
            earlier.append((readings, Room((0.0,), (room_c,))))
        prior = learn_prior(PH, earlier)
        assert prior.batches == earlier_batches
        for _ in range(batches):
            room_c = float(draw.uniform(21.0, 27.0))
            course = true_course(draw, recipe, room_c)
            readings = readings_of(draw, course, early_days(draw))
            result = forecast(PH, readings, LIMITS, prior, Room((0.0,), (room_c,)))
            for crossing in result.crossings:
                truth = crossing_day(course, crossing.limit)
                earliest = math.inf if crossing.earliest_day is None else crossing.earliest_day
                latest = math.inf if crossing.latest_day is None else crossing.latest_day
                hits.append(earliest <= truth <= latest)
    return float(np.mean(hits))


@pytest.mark.parametrize(
    ("earlier_batches", "recipes", "batches"), [(0, 1000, 1), (3, 125, 8), (10, 50, 20)]
)
def test_intervals_hold_the_crossing_as_often_as_they_say(
    earlier_batches: int, recipes: int, batches: int
) -> None:
    # 1000 batches with two limits each: 2000 crossings.
    covered = share_covered(earlier_batches, recipes, batches, seed=100 + earlier_batches)
    assert 0.92 <= covered <= 0.98


def course_of(
    start: float, end: float, rate: float, days: tuple[float, ...], u: float = 0.03
) -> list[Reading]:
    return [Reading(day, end + (start - end) * math.exp(-rate * day), u) for day in days]


EARLIER = [
    (course_of(4.3 + 0.03 * i, 2.9 + 0.02 * i, 0.25 + 0.01 * i, (0, 2, 4, 7, 10, 14)), Room())
    for i in range(-4, 5)
]


@pytest.mark.parametrize(
    "readings",
    [
        [],
        [Reading(0.0, 4.3, 0.03)],
        [Reading(0.0, 4.3, 0.03), Reading(2.0, 3.8, 0.03)],
        [Reading(1.0, 4.3, 0.03), Reading(1.0, 4.2, 0.03), Reading(1.0, 4.25, 0.03)],
        [Reading(0.0, 4.3, 0.03), Reading(0.1, 4.2, 0.03), Reading(0.3, 4.25, 0.03)],
        [Reading(5.0, 3.6, 0.03), Reading(5.1, 3.6, 0.03), Reading(5.3, 3.6, 0.03)],
    ],
)
def test_too_few_readings_are_said_to_be_too_few(readings: list[Reading]) -> None:
    result = forecast(PH, readings, [3.5])
    assert result.status is Status.TOO_FEW
    assert "Too few readings" in result.message
    assert result.crossings == ()
    assert result.band is None


def test_without_earlier_batches_the_interval_is_wide_and_its_prior_has_a_source() -> None:
    readings = course_of(4.3, 2.9, 0.25, (0.0, 1.0, 2.5))
    alone = forecast(PH, readings, [3.3])
    informed = forecast(PH, readings, [3.3], learn_prior(PH, EARLIER))
    assert alone.status is Status.FORECAST
    assert alone.earlier_batches == 0
    assert "Sreeramulu" in alone.prior_source
    assert informed.earlier_batches == 9

    def width(crossing) -> float:
        return (60.0 if crossing.latest_day is None else crossing.latest_day) - (
            crossing.earliest_day
        )

    assert width(alone.crossings[0]) > 2.0 * width(informed.crossings[0])


def test_batches_that_differ_teach_a_wider_expectation_than_batches_alike() -> None:
    days = (0, 2, 4, 7, 10, 14)
    alike = [(course_of(4.3, 2.9, 0.25, days), Room()) for _ in range(8)]
    apart = [(course_of(4.3, 2.9, 0.25 * 1.3**i, days), Room()) for i in range(-4, 4)]

    def spread_of_rate(earlier) -> float:
        return learn_prior(PH, earlier).covariance[2][2] ** 0.5

    # ln 1.3 times the standard deviation of -4..3 is 0.64.
    assert spread_of_rate(apart) > spread_of_rate(alike) + 0.3
    assert spread_of_rate(apart) == pytest.approx(0.64, abs=0.15)
    mean_rate = math.exp(learn_prior(PH, alike).mean[2])
    assert mean_rate == pytest.approx(0.25, rel=0.05)


@bounded
@given(rate=st.floats(0.15, 0.45), start=st.floats(4.0, 4.8))
def test_many_readings_of_a_clean_course_find_its_crossing(rate: float, start: float) -> None:
    readings = course_of(start, 2.9, rate, tuple(np.linspace(0.0, 14.0, 15)), u=0.01)
    (crossing,) = forecast(PH, readings, [3.3]).crossings
    truth = math.log((start - 2.9) / 0.4) / rate
    assert crossing.earliest_day <= truth <= crossing.latest_day
    assert crossing.likely_day == pytest.approx(truth, rel=0.08)


@bounded
@given(low=st.floats(3.1, 3.8), step=st.floats(0.05, 0.5))
def test_a_lower_limit_is_crossed_later(low: float, step: float) -> None:
    readings = course_of(4.3, 2.9, 0.25, (0.0, 1.0, 2.5, 4.0))
    upper, lower = forecast(PH, readings, [low + step, low]).crossings
    assert lower.likely_day >= upper.likely_day
    assert lower.chance_never >= upper.chance_never


def test_a_colder_room_takes_longer() -> None:
    prior = learn_prior(PH, EARLIER)
    # The same start; from day 1 on one of the rooms is cold.
    readings = course_of(4.3, 2.9, 0.25, (0.0, 0.5, 1.0))
    warm = forecast(PH, readings, [3.4], prior, Room((0.0, 1.0), (25.0, 25.0))).crossings[0]
    cold = forecast(PH, readings, [3.4], prior, Room((0.0, 1.0, 1.1), (25.0, 25.0, 18.0)))
    # At 18 C things go at 0.41 / 0.88 of the speed at 25 C.
    assert cold.crossings[0].likely_day - 1.0 == pytest.approx(
        (warm.likely_day - 1.0) / 0.465, rel=0.1
    )


def test_a_limit_below_the_end_is_never_reached() -> None:
    readings = course_of(4.3, 2.9, 0.25, (0, 2, 4, 7, 10, 14, 20))
    (crossing,) = forecast(PH, readings, [2.4]).crossings
    assert crossing.chance_never > 0.95
    assert crossing.likely_day is None


def test_a_limit_already_passed_is_in_the_past() -> None:
    readings = course_of(4.3, 2.9, 0.25, (0.0, 2.0, 4.0))
    (crossing,) = forecast(PH, readings, [4.0]).crossings
    assert crossing.latest_day < 2.0


@pytest.mark.parametrize(
    ("values", "flags"),
    [
        ((4.30, 3.99, 3.75, 3.58), ()),
        ((4.30, 4.25, 4.21, 4.15), (Flag.SLOW,)),
        ((4.30, 3.40, 3.10, 2.95), (Flag.FAST,)),
        ((4.30, 4.29, 4.30, 4.29), (Flag.SLOW, Flag.STALLED)),
        ((4.30, 3.99, 3.75, 3.95), (Flag.RISING, Flag.SLOW)),
    ],
)
def test_flags_of_a_batch_unlike_its_predecessors(values, flags) -> None:
    readings = [Reading(float(day), value, 0.02) for day, value in enumerate(values)]
    result = forecast(PH, readings, [3.3], learn_prior(PH, EARLIER))
    assert result.flags == flags


def test_a_finished_batch_is_not_called_stalled() -> None:
    readings = course_of(4.3, 2.9, 0.25, (0.0, 7.0, 16.0, 18.0, 20.0))
    assert forecast(PH, readings, [3.3], learn_prior(PH, EARLIER)).flags == ()


def test_two_readings_can_already_be_rising() -> None:
    result = forecast(PH, [Reading(0.0, 3.8, 0.02), Reading(1.0, 4.1, 0.02)], [3.3])
    assert result.status is Status.TOO_FEW
    assert result.flags == (Flag.RISING,)


def sigmoid(day: float) -> float:
    """Boltzmann's curve with 70 g/L at the start, 30 left, middle day 9, width 3."""
    at_zero = 1.0 / (1.0 + math.exp(-3.0))
    return 30.0 + 40.0 / (1.0 + math.exp((day - 9.0) / 3.0)) / at_zero


@pytest.mark.parametrize(
    ("values", "named"),
    [
        ((4.30, 3.99, 3.75, 8.31), "from pH 3.75 on day 2.0 to pH 8.31 on day 3.0"),
        ((4.30, 8.31, 3.75, 3.58), "from pH 4.30 on day 0.0 to pH 8.31 on day 1.0"),
        ((4.30, 2.10, 3.75, 3.58), "from pH 2.10 on day 1.0 to pH 3.75 on day 2.0"),
    ],
)
def test_a_mistyped_reading_is_named_and_nothing_is_forecast(values, named) -> None:
    readings = [Reading(float(day), value, 0.05) for day, value in enumerate(values)]
    result = forecast(PH, readings, [3.2])
    assert result.status is Status.NO_COURSE
    assert named in result.message
    assert result.crossings == ()
    assert result.band is None


def test_a_small_rise_is_told_and_the_forecast_stays() -> None:
    readings = [Reading(float(day), ph, 0.05) for day, ph in enumerate((4.30, 3.60, 3.30, 3.55))]
    result = forecast(PH, readings, [3.2])
    assert result.status is Status.FORECAST
    assert Flag.RISING in result.flags


def test_sugar_is_forecast_along_its_sigmoid() -> None:
    readings = [Reading(float(day), sigmoid(day), 1.0) for day in range(0, 15, 2)]
    (crossing,) = forecast(SUGAR, readings, [45.0]).crossings
    days = np.linspace(0.0, 30.0, 30_001)
    truth = days[np.argmax([sigmoid(day) <= 45.0 for day in days])]
    assert crossing.earliest_day <= truth <= crossing.latest_day
    assert crossing.likely_day == pytest.approx(truth, abs=0.5)


@pytest.mark.parametrize("curve", [PH, SUGAR])
def test_a_crossing_lies_on_its_curve(curve) -> None:
    generator = np.random.default_rng(5)
    mean, covariance = np.array(curve.general.mean), np.array(curve.general.covariance)
    parameters = generator.multivariate_normal(mean, 0.2 * covariance, 500)
    limit = 0.3 * curve.value(parameters, np.array([0.0]))[:, 0]
    limit += 0.7 * curve.value(parameters, np.array([300.0]))[:, 0]
    days = curve.crossing(parameters, limit)
    assert np.isfinite(days).all()
    rows = zip(parameters[:, None, :], days[:, None], strict=True)
    at = np.array([curve.value(row, day)[0, 0] for row, day in rows])
    assert at == pytest.approx(limit, abs=1e-6)


def test_the_band_holds_the_curve_and_starts_at_the_readings() -> None:
    readings = course_of(4.3, 2.9, 0.25, (0.0, 1.0, 2.5, 4.0))
    band = forecast(PH, readings, [3.3]).band
    assert band is not None
    assert all(
        low <= mid <= high for low, mid, high in zip(band.low, band.middle, band.high, strict=True)
    )
    assert band.middle[0] == pytest.approx(4.3, abs=0.05)


def test_the_same_readings_give_the_same_forecast() -> None:
    readings = course_of(4.3, 2.9, 0.25, (0.0, 1.0, 2.5))
    assert forecast(PH, readings, [3.3]) == forecast(PH, readings, [3.3])


def test_a_forecast_is_quick() -> None:
    readings = course_of(4.3, 2.9, 0.25, (0.0, 1.0, 2.5, 4.0))
    times = []
    for _ in range(5):
        start = time.process_time()
        forecast(PH, readings, [4.2, 3.5, 3.3])
        times.append(time.process_time() - start)
    assert min(times) < 0.2


def test_time_passes_as_warm_as_the_room_is() -> None:
    days = np.array([0.0, 1.0, 4.0, 10.0])
    assert kinetics.equivalent_days(days, (0.0,), (25.0,)) == pytest.approx(days)
    speed = kinetics.temperature_factor(18.0) / kinetics.temperature_factor(25.0)
    assert kinetics.equivalent_days(days, (0.0,), (18.0,)) == pytest.approx(days * speed)
    # Half a day of each: the mean of the two speeds, the change itself being quick.
    stepped = kinetics.equivalent_days(np.array([2.0]), (0.0, 1.0, 1.001), (25.0, 25.0, 18.0))
    assert stepped[0] == pytest.approx(1.0 + speed, abs=2e-3)


def test_room_temperatures_must_be_given_and_in_order() -> None:
    days = np.array([1.0])
    with pytest.raises(ValueError, match="Give the room's temperature"):
        kinetics.equivalent_days(days, (), ())
    with pytest.raises(OutOfRange, match="Gap between room temperatures of -1 days"):
        kinetics.equivalent_days(days, (1.0, 0.0), (25.0, 25.0))


def test_impossible_readings_are_refused() -> None:
    with pytest.raises(OutOfRange, match="PH of 33 pH is outside the range 0 to 14"):
        forecast(PH, [Reading(0.0, 33.0, 0.03)], [3.3])
    with pytest.raises(OutOfRange, match="Time of a reading of -1 days"):
        forecast(PH, [Reading(-1.0, 3.3, 0.03)], [3.3])
