"""What a calculation hands back when it is to be shown: the value and how it came about."""

from __future__ import annotations

import math
from dataclasses import dataclass

# Two-sided 95 % of the normal distribution, and the one-sided 95 %.
COVERAGE_95 = 1.959964
ONE_SIDED_95 = 1.644854


@dataclass(frozen=True)
class Step:
    """One named intermediate value of a calculation."""

    name: str
    value: float
    unit: str = ""

    def __post_init__(self) -> None:
        # Plain numbers only, so that a result can be stored and printed as it is.
        object.__setattr__(self, "value", float(self.value))


@dataclass(frozen=True)
class Result:
    """A calculated value with its standard uncertainty, working, source and reach.

    `standard_uncertainty` is k = 1, in the unit of the value; None where the calculation is
    exact or the inputs carried no uncertainty. `supports` and `cannot_support` say, in words
    for the page, what the value may and may not be used for. `coverage_factor` makes the 95 %
    interval; it is larger than 1.96 where few data stand behind the uncertainty.
    """

    quantity: str
    value: float
    unit: str
    standard_uncertainty: float | None
    method: str
    source: str
    steps: tuple[Step, ...]
    supports: str
    cannot_support: str
    calculation_version: str
    lowest: float = -math.inf
    highest: float = math.inf
    coverage_factor: float = COVERAGE_95

    def __post_init__(self) -> None:
        object.__setattr__(self, "value", float(self.value))
        if self.standard_uncertainty is not None:
            object.__setattr__(self, "standard_uncertainty", float(self.standard_uncertainty))

    def interval_95(self) -> tuple[float, float]:
        """The two-sided 95 % interval, cut at what is physically possible.

        Raises ValueError where the result carries no uncertainty.
        """
        if self.standard_uncertainty is None:
            raise ValueError(f"{self.quantity} was calculated without an uncertainty.")
        half = self.coverage_factor * self.standard_uncertainty
        low = min(max(self.value - half, self.lowest), self.highest)
        high = max(min(self.value + half, self.highest), self.lowest)
        return low, high

    def step(self, name: str) -> float:
        """The intermediate value of that name; KeyError if the working has none."""
        for step in self.steps:
            if step.name == name:
                return step.value
        raise KeyError(name)
