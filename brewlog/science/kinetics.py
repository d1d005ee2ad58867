"""How temperature changes the speed of growth, and days at one temperature for another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from brewlog.science.errors import Array, Number, OutOfRange, check_range

CALCULATION_VERSION = "1"

SOURCE_TEMPERATURE = (
    "cardinal temperature model of Rosso et al., J. Theor. Biol. 162 (1993) 447 (from memory); "
    "cardinal temperatures of acetic acid bacteria 8, 29 and 37 °C indicative, from memory"
)


@dataclass(frozen=True)
class Cardinals:
    """Lowest, best and highest value at which something grows."""

    low: float
    best: float
    high: float


# Indicative, from memory.
ACETIC_BACTERIA_C = Cardinals(8.0, 29.0, 37.0)
REFERENCE_C = 25.0


def temperature_factor(temperature_c: Number, cardinals: Cardinals = ACETIC_BACTERIA_C) -> Number:
    """Growth speed relative to that at the best temperature, 0 to 1; 0 outside the cardinals.

    -10 to 60 °C; the best temperature must lie above the middle of the cardinals. Number or
    array. Exact identities: 0 at low and high, 1 at best. Raises OutOfRange. Source:
    `SOURCE_TEMPERATURE`.
    """
    check_range("temperature", temperature_c, -10.0, 60.0, "°C")
    low, best, high = cardinals.low, cardinals.best, cardinals.high
    check_range("best temperature", best, (low + high) / 2.0, high, "°C")
    t = np.clip(temperature_c, low, high)
    above = (t - high) * (t - low) ** 2
    span = best - low
    below = span * (span * (t - best) - (best - high) * (best + low - 2.0 * t))
    factor: Number = above / below
    return factor


def equivalent_days(
    times_days: Array,
    room_days: Sequence[float],
    room_c: Sequence[float],
    cardinals: Cardinals = ACETIC_BACTERIA_C,
) -> Array:
    """Days at 25 °C in which as much would happen as up to each of `times_days`.

    The room's temperature is given at `room_days` (rising), straight between them and constant
    before and after. Times >= 0 days, room -10 to 60 °C. Raises OutOfRange; ValueError where
    no temperature is given. Source: `SOURCE_TEMPERATURE`.
    """
    if not room_days or len(room_days) != len(room_c):
        raise ValueError("Give the room's temperature for each time it was taken.")
    check_range("time", times_days, 0.0, np.inf, "days")
    days = np.asarray(room_days, dtype=float)
    gaps = np.diff(days)
    if (gaps <= 0.0).any():
        raise OutOfRange("gap between room temperatures", float(gaps.min()), 0.0, np.inf, "days")
    # A grid fine enough for a straight line in temperature to be one in speed.
    end = float(np.max(times_days, initial=0.0))
    grid = np.unique(
        np.concatenate([np.linspace(0.0, end, 200), times_days, days[(days > 0) & (days < end)]])
    )
    temperatures = np.interp(grid, days, np.asarray(room_c, dtype=float))
    speed = temperature_factor(temperatures, cardinals) / temperature_factor(REFERENCE_C, cardinals)
    passed = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(grid))])
    result: Array = np.interp(times_days, grid, passed)
    return result
