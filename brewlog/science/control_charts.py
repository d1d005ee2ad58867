"""Charts of single values and their moving ranges: whether a process stays as it was.

For one value at a time, such as the pH of each batch at the same point of the work. The
limits come from the values themselves: they say what is usual, never what is allowed.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, Individuals Control Charts
(limits: mean and 3 mean moving ranges / 1.128); ISO 7870-2, Shewhart control charts (the same
with its rounded factors 2.66 and 3.267; from memory). Signs of a change: Western Electric
Statistical Quality Control Handbook (1956), as listed in the e-Handbook, 6.3.2; six in a row
rising or falling: Nelson, Journal of Quality Technology 16 (1984), 237.

Limits are drawn from the values themselves, or fixed from a run that was looked into and found
steady, and later values held against those: phase I and phase II of the e-Handbook's chapter
6.3 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from brewlog.science.errors import Array, check_range

# Mean range of two values of a normal distribution, in standard deviations (d2 for n = 2), and
# the factor from the mean moving range to its upper limit (D4 for n = 2).
D2 = 1.128
D4 = 3.267

# With fewer, limits move with every value added (common practice: 20 to 25).
FEWEST = 20


class Sign(StrEnum):
    """What tells that something has changed, by the pattern of the values."""

    BEYOND = "above or below the usual: beyond 3 sigma from the mean"
    TWO_OF_THREE = "2 of 3 in a row far above or below the mean: beyond 2 sigma, on one side"
    FOUR_OF_FIVE = "4 of 5 in a row well above or below the mean: beyond 1 sigma, on one side"
    EIGHT = "8 in a row above or below the mean"
    SIX = "6 in a row rising or falling: each beyond the one before"


SOURCES = {
    Sign.BEYOND: "Western Electric 1956, rule 1",
    Sign.TWO_OF_THREE: "Western Electric 1956, rule 2",
    Sign.FOUR_OF_FIVE: "Western Electric 1956, rule 3",
    Sign.EIGHT: "Western Electric 1956, rule 4",
    Sign.SIX: "Nelson 1984, test 3",
}


@dataclass(frozen=True)
class Signal:
    """A sign that was met without a break: completed at the value `first`, last at `last`.

    `is_high` says on which side, or for six in a row that they rise.
    """

    sign: Sign
    first: int
    last: int
    is_high: bool


@dataclass(frozen=True)
class ControlChart:
    """Limits in the values' own unit. `ranges[0]` is between the first two values."""

    values: tuple[float, ...]
    ranges: tuple[float, ...]
    mean: float
    mean_range: float
    signals: tuple[Signal, ...]
    # Values before this one stand on the chart and are not judged.
    judged_from: int = 0

    @property
    def sigma(self) -> float:
        """The usual spread from one value to the next, as a standard deviation."""
        return self.mean_range / D2

    @property
    def upper(self) -> float:
        return self.mean + 3 * self.sigma

    @property
    def lower(self) -> float:
        return self.mean - 3 * self.sigma

    @property
    def upper_range(self) -> float:
        return D4 * self.mean_range

    @property
    def wide_ranges(self) -> tuple[int, ...]:
        """Which ranges are beyond their limit. They share values with their neighbours, so the
        other signs are not asked of them."""
        return tuple(
            n
            for n, each in enumerate(self.ranges)
            if n >= self.judged_from and each > self.upper_range
        )


def control_chart(values: Sequence[float], fewest: int = FEWEST) -> ControlChart:
    """The chart of values in the order they came, at least `fewest` of them and not all alike.

    Raises `OutOfRange` for fewer, for a value that is not finite, and where all are alike.
    """
    check_range("number of values", len(values), max(2, fewest), math.inf)
    series = np.asarray(values, dtype=float)
    check_range("value", series, -1e12, 1e12)
    ranges = np.abs(np.diff(series))
    # Anything smaller is the rounding of what was typed.
    check_range("mean moving range", float(ranges.mean()), 1e-9, math.inf)
    return held_against(values, float(series.mean()), float(ranges.mean()))


def held_against(
    values: Sequence[float], mean: float, mean_range: float, judged_from: int = 0
) -> ControlChart:
    """The chart of values on limits that were fixed before, by the mean and the mean moving range
    of other values. Values before place `judged_from` are not judged."""
    series = np.asarray(values, dtype=float)
    judged = series[judged_from:]
    signals = signals_in((judged - mean) / (mean_range / D2), np.diff(judged))
    return ControlChart(
        tuple(series.tolist()),
        tuple(np.abs(np.diff(series)).tolist()),
        mean,
        mean_range,
        tuple(
            replace(each, first=each.first + judged_from, last=each.last + judged_from)
            for each in signals
        ),
        judged_from,
    )


def signals_in(deviations: Array, steps: Array) -> list[Signal]:
    """Every sign on either side, in the order they were completed.

    Of deviations from the mean in standard deviations, and the steps between the values.
    """
    found = []
    for is_high in (True, False):
        away = deviations if is_high else -deviations
        onward = steps if is_high else -steps
        for sign, met in _MET.items():
            found += _joined(sign, met(away, onward), is_high)
    return sorted(found, key=lambda each: (each.first, list(Sign).index(each.sign)))


def _joined(sign: Sign, met: npt.NDArray[np.bool_], is_high: bool) -> list[Signal]:
    """A signal for each stretch in which the sign was met at every value."""
    found: list[Signal] = []
    for at in np.flatnonzero(met).tolist():
        if found and found[-1].last == at - 1:
            found[-1] = Signal(sign, found[-1].first, at, is_high)
        else:
            found.append(Signal(sign, at, at, is_high))
    return found


def _count_of_last(many: int, out: npt.NDArray[np.bool_]) -> npt.NDArray[np.int_]:
    """How many of the last so many are so, at each place."""
    total = np.concatenate([[0], np.cumsum(out)])
    return total[1:] - total[np.maximum(0, np.arange(len(out)) + 1 - many)]


def _among(away: Array, beyond: float, many: int, of: int) -> npt.NDArray[np.bool_]:
    """Whether each value lies beyond and so many of the last `of` with it do."""
    out = away > beyond
    return out & (_count_of_last(of, out) >= many)


def _rising(onward: Array, many: int) -> npt.NDArray[np.bool_]:
    """Whether each value is the last of so many, each higher than the one before."""
    steps = many - 1
    return np.concatenate([[False], _count_of_last(steps, onward > 0) >= steps])


_MET: dict[Sign, Callable[[Array, Array], npt.NDArray[np.bool_]]] = {
    Sign.BEYOND: lambda away, _: _among(away, 3.0, 1, 1),
    Sign.TWO_OF_THREE: lambda away, _: _among(away, 2.0, 2, 3),
    Sign.FOUR_OF_FIVE: lambda away, _: _among(away, 1.0, 4, 5),
    Sign.EIGHT: lambda away, _: _among(away, 0.0, 8, 8),
    Sign.SIX: lambda _, onward: _rising(onward, 6),
}
