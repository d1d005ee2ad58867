"""Standard uncertainties of instruments, and their propagation through any function."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import uncertainties

from brewlog.science.errors import check_range

CALCULATION_VERSION = "1"


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


def propagate(function: Callable[..., float], *inputs: tuple[float, float]) -> tuple[float, float]:
    """Value and standard uncertainty of `function` at inputs given as (value, uncertainty).

    First-order propagation of independent inputs with derivatives taken numerically
    (JCGM 100:2008 5.1.2), by the `uncertainties` package. Whatever `function` raises at the
    given values is raised.
    """
    numbers: list[Any] = [
        uncertainties.ufloat(value, u) if u > 0.0 else value for value, u in inputs
    ]
    outcome: Any = uncertainties.wrap(function)(*numbers)
    return float(uncertainties.nominal_value(outcome)), float(uncertainties.std_dev(outcome))
