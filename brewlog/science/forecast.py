"""When a fermentation will cross its limits, from three readings on.

A curve is fitted with its parameters drawn towards those of earlier batches of the recipe
(empirical Bayes), on a time axis corrected for the room's temperature. The answer is an
interval; the fewer the readings and the earlier batches, the wider it is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from brewlog.science.curves import Curve, Prior
from brewlog.science.errors import Array, check_range
from brewlog.science.fitting import (
    AT_25C,
    FEWEST_READINGS,
    Reading,
    Room,
    enough,
    fit,
    posterior_draws,
)
from brewlog.science.kinetics import SOURCE_TEMPERATURE, equivalent_days
from brewlog.science.results import COVERAGE_95

CALCULATION_VERSION = "1"

HORIZON_DAYS = 60.0

SUPPORTS = "planning when to read again, and noticing a batch unlike the others"
CANNOT_SUPPORT = "that a limit was met: only a reading can show it"

_BAND_POINTS = 41
_STALL_DAYS = 1.5
# A rise of this many times what readings and batches stray is no ferment's: a wrong key, a meter
# out of order or another vessel. Our own choice; a fall to it by chance is one in millions.
_NO_FERMENT = 5.0
_SEED = 1730


class Status(StrEnum):
    """Whether there is a forecast."""

    FORECAST = "forecast"
    TOO_FEW = "too few readings"
    NO_COURSE = "readings of no one course"


class Flag(StrEnum):
    """How a batch differs from what was expected of it."""

    SLOW = "slow"
    FAST = "fast"
    STALLED = "stalled"
    RISING = "rising"


@dataclass(frozen=True)
class Crossing:
    """When the curve falls to a limit: days after pitching, 95 % from earliest to latest.

    None is beyond the horizon or never; `chance_never` is the probability of that.
    """

    limit: float
    earliest_day: float | None
    likely_day: float | None
    latest_day: float | None
    chance_never: float


@dataclass(frozen=True)
class Band:
    """The forecast curve with its 95 % band, for a chart."""

    days: tuple[float, ...]
    low: tuple[float, ...]
    middle: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True)
class Forecast:
    """A forecast and what it rests on, or the statement why there is none."""

    status: Status
    message: str
    curve: str
    crossings: tuple[Crossing, ...]
    flags: tuple[Flag, ...]
    parameters: dict[str, float]
    band: Band | None
    readings: int
    earlier_batches: int
    prior_source: str
    temperature_source: str = SOURCE_TEMPERATURE
    supports: str = SUPPORTS
    cannot_support: str = CANNOT_SUPPORT
    calculation_version: str = CALCULATION_VERSION


def forecast(
    curve: Curve,
    readings: Sequence[Reading],
    limits: Sequence[float],
    prior: Prior | None = None,
    room: Room = AT_25C,
    horizon_days: float = HORIZON_DAYS,
) -> Forecast:
    """When the curve falls to each limit, as an interval, with flags and a band for a chart.

    Readings at 0 to 365 days within the curve's range and with u > 0; limits within its range.
    The room's temperature stays as last given. Fewer than three readings, or all within half a
    day, are too few, and readings that rise as no ferment does are of no one course: the result
    says so. Raises OutOfRange.
    """
    prior = prior or curve.general
    _check(curve, readings, limits)
    check_range("horizon", horizon_days, 1.0, 365.0, "days")
    if not enough(readings):
        return _none(curve, readings, prior, Status.TOO_FEW, _too_few(readings))
    rise = _impossible_rise(curve, readings)
    if rise is not None:
        return _none(curve, readings, prior, Status.NO_COURSE, _of_no_course(curve, *rise))
    fitted = fit(curve, prior, readings, room)
    draws = posterior_draws(fitted)[:, :-1]
    clock = _Clock(room, horizon_days)
    return Forecast(
        status=Status.FORECAST,
        message=f"From {len(readings)} readings and {prior.batches} earlier batches.",
        curve=curve.name,
        crossings=tuple(_crossing(curve, draws, limit, clock) for limit in limits),
        flags=_flags(curve, prior, readings, room),
        parameters=dict(zip(curve.parameters, fitted.centre[:-1].tolist(), strict=True)),
        band=_band(curve, draws, clock),
        readings=len(readings),
        earlier_batches=prior.batches,
        prior_source=prior.source,
    )


class _Clock:
    """Days at 25 °C against days in this room, up to the horizon."""

    def __init__(self, room: Room, horizon_days: float) -> None:
        self.real = np.linspace(0.0, horizon_days, 241)
        self.at_25c = equivalent_days(self.real, room.days, room.temperatures_c)

    def to_real(self, days_at_25c: Array) -> Array:
        real: Array = np.interp(days_at_25c, self.at_25c, self.real)
        return np.where(days_at_25c > self.at_25c[-1], np.inf, real)


def _check(curve: Curve, readings: Sequence[Reading], limits: Sequence[float]) -> None:
    for reading in readings:
        check_range("time of a reading", reading.day, 0.0, 365.0, "days")
        check_range(curve.name, reading.value, curve.lowest, curve.highest, curve.unit)
        check_range("uncertainty of a reading", reading.u, 1e-6, curve.highest, curve.unit)
    for limit in limits:
        check_range("limit", limit, curve.lowest, curve.highest, curve.unit)


def _none(
    curve: Curve, readings: Sequence[Reading], prior: Prior, status: Status, message: str
) -> Forecast:
    return Forecast(
        status=status,
        message=message,
        curve=curve.name,
        crossings=(),
        flags=_flag_rising(readings),
        parameters={},
        band=None,
        readings=len(readings),
        earlier_batches=prior.batches,
        prior_source=prior.source,
    )


def _too_few(readings: Sequence[Reading]) -> str:
    return (
        f"Too few readings: {FEWEST_READINGS} at different times, at least half a day apart "
        f"from first to last, are needed; there are {len(readings)}."
    )


def _of_no_course(curve: Curve, low: Reading, high: Reading) -> str:
    return (
        f"No forecast: from {_as_told(curve, low)} on day {low.day:.1f} to "
        f"{_as_told(curve, high)} on day {high.day:.1f} no ferment goes by itself. Check the "
        "meter and measure again. Strike out the reading that was wrong; where both stand, keep "
        "the batch back and look for mould and for what came into the vessel."
    )


def _as_told(curve: Curve, reading: Reading) -> str:
    if curve.unit == "pH":
        return f"pH {reading.value:.2f}"
    return f"{reading.value:.0f} {curve.unit}"


def _impossible_rise(curve: Curve, readings: Sequence[Reading]) -> tuple[Reading, Reading] | None:
    """The lowest reading so far and a later one that stands higher than any ferment goes."""
    ordered = sorted(readings, key=lambda reading: reading.day)
    lowest = ordered[0]
    for each in ordered[1:]:
        noise = math.hypot(each.u, lowest.u, curve.u_shape)
        if each.value - lowest.value > _NO_FERMENT * noise:
            return lowest, each
        lowest = min(lowest, each, key=lambda reading: reading.value)
    return None


def _crossing(curve: Curve, draws: Array, limit: float, clock: _Clock) -> Crossing:
    # A batch strays from the shape, so its own crossing is of a limit a little off.
    jitter = np.random.default_rng(_SEED).normal(0.0, curve.u_shape, len(draws))
    days = np.sort(clock.to_real(curve.crossing(draws, limit + jitter)))

    def at(share: float) -> float | None:
        day = float(days[min(int(share * len(days)), len(days) - 1)])
        return day if np.isfinite(day) else None

    never = float(np.mean(~np.isfinite(days)))
    return Crossing(limit, at(0.025), at(0.5), at(0.975), never)


def _band(curve: Curve, draws: Array, clock: _Clock) -> Band:
    picked = np.linspace(0, len(clock.real) - 1, _BAND_POINTS).astype(int)
    values = curve.value(draws[::4], clock.at_25c[picked])
    low, middle, high = np.quantile(values, [0.025, 0.5, 0.975], axis=0)
    return Band(
        tuple(clock.real[picked].tolist()),
        tuple(low.tolist()),
        tuple(middle.tolist()),
        tuple(high.tolist()),
    )


def _flags(curve: Curve, prior: Prior, readings: Sequence[Reading], room: Room) -> tuple[Flag, ...]:
    """Compare the later readings with what was to be expected from the first one alone."""
    ordered = sorted(readings, key=lambda reading: reading.day)
    first, last = ordered[0], ordered[-1]
    draws = posterior_draws(fit(curve, prior, [first], room))
    days = equivalent_days(
        np.array([reading.day for reading in ordered]), room.days, room.temperatures_c
    )
    expected = curve.value(draws[:, :-1], days) + draws[:, -1:]
    flags = list(_flag_rising(ordered))
    noise = float(np.hypot(last.u, curve.u_shape))
    scatter = np.random.default_rng(_SEED).normal(0.0, noise, len(draws))
    low, high = np.quantile(expected[:, -1] + scatter, [0.025, 0.975])
    if last.value > high:
        flags.append(Flag.SLOW)
    elif last.value < low:
        flags.append(Flag.FAST)
    if Flag.RISING not in flags and _stalled(ordered, expected):
        flags.append(Flag.STALLED)
    return tuple(flags)


def _stalled(ordered: Sequence[Reading], expected: Array) -> bool:
    """No fall over three or more readings and a day and a half, where one was expected."""
    last = ordered[-1]
    earlier = [i for i, r in enumerate(ordered[:-2]) if last.day - r.day >= _STALL_DAYS]
    if not earlier:
        return False
    since = earlier[-1]
    noise = COVERAGE_95 * float(np.hypot(last.u, ordered[since].u))
    fall = ordered[since].value - last.value
    expected_fall = float(np.median(expected[:, since] - expected[:, -1]))
    return abs(fall) <= noise and expected_fall > 2.0 * noise


def _flag_rising(readings: Sequence[Reading]) -> tuple[Flag, ...]:
    ordered = sorted(readings, key=lambda reading: reading.day)
    if len(ordered) < 2:
        return ()
    lowest = min(ordered[:-1], key=lambda reading: reading.value)
    rise = ordered[-1].value - lowest.value
    noise = COVERAGE_95 * float(np.hypot(ordered[-1].u, lowest.u))
    return (Flag.RISING,) if rise > noise else ()
