"""Standard uncertainties of instruments, and their propagation through any function."""

from __future__ import annotations

import math
from collections.abc import Callable

from brewlog.science.errors import OutOfRange, check_range

CALCULATION_VERSION = "1"

# A measured or assumed quantity: value and standard uncertainty (k = 1), in one unit.
Measured = tuple[float, float]


def from_resolution(resolution: float) -> float:
    """Standard uncertainty of reading a display or scale that shows steps of `resolution`.

    Any unit, resolution >= 0. The true value is anywhere within half a step either way:
    a rectangle of full width `resolution`, whose standard deviation is width / sqrt(12).
    Source: JCGM 100:2008 (GUM) 4.3.7 and F.2.2.1, from memory.
    """
    check_range("resolution", resolution, 0.0, math.inf)
    return resolution / math.sqrt(12.0)


def from_stated_accuracy(half_width: float) -> float:
    """Standard uncertainty of an instrument its maker states as accurate to +- `half_width`.

    Any unit, half_width >= 0. Taken as a rectangle, since a maker's limit says nothing of
    the shape within it: half width / sqrt(3). Source: JCGM 100:2008 4.3.7, from memory.
    """
    check_range("stated accuracy", half_width, 0.0, math.inf)
    return half_width / math.sqrt(3.0)


def combined(*standard_uncertainties: float) -> float:
    """Root sum of squares of independent contributions in one unit (JCGM 100:2008 5.1.2)."""
    return math.hypot(*standard_uncertainties)


def propagate(function: Callable[..., float], *inputs: Measured) -> tuple[float, float]:
    """Value and standard uncertainty of `function` at inputs given as (value, uncertainty).

    First-order propagation of independent inputs (JCGM 100:2008 5.1.2): each input is moved by
    a thousandth of its own uncertainty, one evaluation per uncertain input. Whatever
    `function` raises at the values themselves is raised.
    """
    values = [value for value, _ in inputs]
    at_values = function(*values)
    variance = 0.0
    for i, (value, u) in enumerate(inputs):
        if u > 0.0:
            before, after = values[:i], values[i + 1 :]
            try:
                change = function(*before, value + _STEP * u, *after) - at_values
            except OutOfRange:
                # At the upper end of a range the step can only go down.
                change = function(*before, value - _STEP * u, *after) - at_values
            variance += (change / _STEP) ** 2
    return at_values, math.sqrt(variance)


_STEP = 1e-3
