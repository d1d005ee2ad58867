"""Alcohol from the sugar gone, learned from the brewery's own laboratory results.

With five or more laboratory results of a recipe a straight line through them replaces the
general expectation, and says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from brewlog.science.alcohol import CANNOT_SUPPORT
from brewlog.science.errors import check_range
from brewlog.science.results import Result, Step
from brewlog.science.uncertainty import Measured

CALCULATION_VERSION = "1"

SOURCE_OWN = "least squares on the brewery's own laboratory results (pairs of sugar gone and % vol)"
SOURCE_GENERAL = (
    "stoichiometric yield with a fifth to nine tenths of the ethanol turned to acid, 3 to 12 % of "
    "the sugar to growth and up to a quarter of the acid gluconic: assumed ranges"
)

FEWEST_PAIRS = 5
# % vol per g/L of sugar gone over the assumed ranges, and its spread from batch to batch.
GENERAL_RATIO: Measured = (0.0257, 0.0120)
# Beyond the sugar range of the pairs by more than this share of it, the line is not used.
_REACH_BEYOND = 0.25


@dataclass(frozen=True)
class LaboratoryPair:
    """Sugar gone in g/L as the brewery reckons it, and the laboratory's % vol."""

    sugar_gone_g_per_l: float
    abv: float


@dataclass(frozen=True)
class LearnedLine:
    """abv = intercept + slope x sugar gone, with what is needed for a prediction interval."""

    intercept: float
    slope: float
    scatter: float
    pairs: int
    mean_sugar: float
    sum_of_squares: float
    lowest_sugar: float
    highest_sugar: float

    def predict(self, sugar_gone_g_per_l: float) -> tuple[float, float]:
        """% vol and its standard uncertainty for one new batch, scatter included."""
        distance = sugar_gone_g_per_l - self.mean_sugar
        leverage = 1.0 + 1.0 / self.pairs + distance**2 / self.sum_of_squares
        return (
            self.intercept + self.slope * sugar_gone_g_per_l,
            self.scatter * math.sqrt(leverage),
        )

    def reaches(self, sugar_gone_g_per_l: float) -> bool:
        """Whether the pairs stand near enough to that much sugar gone."""
        margin = _REACH_BEYOND * (self.highest_sugar - self.lowest_sugar)
        low, high = self.lowest_sugar - margin, self.highest_sugar + margin
        return low <= sugar_gone_g_per_l <= high


def learn(pairs: Sequence[LaboratoryPair]) -> LearnedLine | None:
    """The least-squares line through the pairs; None while there are too few to learn from.

    Sugar gone 0 to 300 g/L, alcohol 0 to 20 % vol; five pairs, not all of one sugar figure.
    Raises OutOfRange.
    """
    for pair in pairs:
        check_range("sugar gone", pair.sugar_gone_g_per_l, 0.0, 300.0, "g/L")
        check_range("laboratory alcohol", pair.abv, 0.0, 20.0, "% vol")
    if len(pairs) < FEWEST_PAIRS:
        return None
    x = np.array([pair.sugar_gone_g_per_l for pair in pairs])
    y = np.array([pair.abv for pair in pairs])
    sum_of_squares = float(((x - x.mean()) ** 2).sum())
    if sum_of_squares < 1e-9:
        return None
    slope = float(((x - x.mean()) * y).sum()) / sum_of_squares
    intercept = float(y.mean()) - slope * float(x.mean())
    residuals = y - intercept - slope * x
    scatter = math.sqrt(float((residuals**2).sum()) / (len(pairs) - 2))
    return LearnedLine(
        intercept,
        slope,
        scatter,
        len(pairs),
        float(x.mean()),
        sum_of_squares,
        float(x.min()),
        float(x.max()),
    )


def from_sugar_gone(sugar_gone_g_per_l: Measured, pairs: Sequence[LaboratoryPair] = ()) -> Result:
    """Alcohol in % vol from the sugar gone (0 to 300 g/L), by the brewery's own results if any.

    With fewer than five pairs, or none near this much sugar, the general expectation is used:
    it is wide. `method` says which. Raises OutOfRange. Sources: `SOURCE_OWN`, `SOURCE_GENERAL`.
    """
    gone, u_gone = sugar_gone_g_per_l
    check_range("sugar gone", gone, 0.0, 300.0, "g/L")
    line = learn(pairs)
    if line is None or not line.reaches(gone):
        return _general(gone, u_gone, len(pairs), line is not None)
    value, u = line.predict(gone)
    return Result(
        quantity="alcohol from the sugar gone, by the brewery's own laboratory results",
        value=max(value, 0.0),
        unit="% vol",
        # The pairs' sugar figures carry the same errors as this one: they are in the scatter.
        standard_uncertainty=u,
        method=f"line through {line.pairs} laboratory results, with its prediction interval",
        source=SOURCE_OWN,
        steps=(
            Step("slope", line.slope, "% vol per g/L"),
            Step("intercept", line.intercept, "% vol"),
            Step("scatter about the line", line.scatter, "% vol"),
            Step("laboratory results used", float(line.pairs)),
        ),
        supports="following batches of this recipe made the same way",
        cannot_support=CANNOT_SUPPORT,
        calculation_version=CALCULATION_VERSION,
        lowest=0.0,
        coverage_factor=float(stdtrit(line.pairs - 2, 0.975)),
    )


def _general(gone: float, u_gone: float, pairs: int, too_far: bool) -> Result:
    ratio, u_ratio = GENERAL_RATIO
    why = (
        "the laboratory results are of batches with quite other sugar"
        if too_far
        else f"{pairs} laboratory results, {FEWEST_PAIRS} are needed to learn from"
    )
    return Result(
        quantity="alcohol from the sugar gone, general expectation",
        value=ratio * gone,
        unit="% vol",
        standard_uncertainty=math.hypot(u_ratio * gone, ratio * u_gone),
        method=f"general expectation for live-culture drinks ({why})",
        source=SOURCE_GENERAL,
        steps=(Step("alcohol per sugar gone", ratio, "% vol per g/L"),),
        supports="a first idea of the alcohol",
        cannot_support=CANNOT_SUPPORT,
        calculation_version=CALCULATION_VERSION,
        lowest=0.0,
    )
