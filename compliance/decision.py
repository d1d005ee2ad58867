"""A measured value against a limit, with its uncertainty: does it conform?

Probability of conformity after JCGM 106:2012 clauses 7 and 8 (from memory) for a normal
error; decision with a guard band after ILAC-G8:09/2019 4.2 (read in restatements). A limit
is as its source writes it: `< 4.2` is not `<= 4.2`, and a value on the line tells them apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from statistics import NormalDist

_NORMAL = NormalDist()

# One-sided risk of taking what does not conform for what does, where a limit names no other.
DEFAULT_RISK = 0.05


class Operator(StrEnum):
    """What a conforming value is to its limit."""

    BELOW = "<"
    AT_MOST = "<="
    ABOVE = ">"
    AT_LEAST = ">="

    @property
    def is_upper(self) -> bool:
        """Whether the limit bounds the value from above."""
        return self in {Operator.BELOW, Operator.AT_MOST}

    @property
    def allows_equal(self) -> bool:
        return self in {Operator.AT_MOST, Operator.AT_LEAST}

    @property
    def sign(self) -> str:
        """As people write it."""
        return {"<": "<", "<=": "≤", ">": ">", ">=": "≥"}[self.value]


class Verdict(StrEnum):
    """What a reading says about a limit."""

    CONFORMS = "conforms"
    NEEDS_REVIEW = "needs review"
    FAILS = "does not conform"


# What the floor is told; the rest is one tap deeper.
PLAIN = {
    Verdict.CONFORMS: "clear",
    Verdict.NEEDS_REVIEW: "too close, measure again",
    Verdict.FAILS: "outside",
}


@dataclass(frozen=True)
class Decision:
    """A value judged against a limit. `margin` is how far inside it is, less than nothing
    outside; `acceptance_limit` is the limit less its guard band, in the value's unit."""

    value: float
    standard_uncertainty: float
    operator: Operator
    limit: float
    probability: float
    acceptance_limit: float
    margin: float
    verdict: Verdict

    @property
    def plain(self) -> str:
        """The verdict in the words of the floor."""
        return PLAIN[self.verdict]


def meets(value: float | Decimal, operator: Operator, limit: float | Decimal) -> bool:
    """Whether the bare value satisfies the limit, the line itself as the operator says."""
    if value == limit:
        return operator.allows_equal
    return (value < limit) if operator.is_upper else (value > limit)


def probability_of_conformity(
    value: float, standard_uncertainty: float, operator: Operator, limit: float
) -> float:
    """The probability that the true value satisfies the limit.

    Upper limit: Phi((limit - value) / u); lower limit: Phi((value - limit) / u). Without
    uncertainty, 1 or 0 by the operator. Raises ValueError for an uncertainty below nothing.
    """
    if standard_uncertainty < 0 or math.isnan(standard_uncertainty):
        raise ValueError(f"A standard uncertainty cannot be {standard_uncertainty}.")
    if standard_uncertainty == 0:
        return 1.0 if meets(value, operator, limit) else 0.0
    inside = limit - value if operator.is_upper else value - limit
    return _NORMAL.cdf(inside / standard_uncertainty)


def guard_band(standard_uncertainty: float, risk: float = DEFAULT_RISK) -> float:
    """Width of the guard band that keeps the risk of false acceptance at or below `risk`.

    z(1 - risk) times u: 1.645 u for 5 %, nothing for 50 % (simple acceptance). Raises
    ValueError for a risk outside 0 to 50 %.
    """
    if not 0 < risk <= 0.5:
        raise ValueError(f"A risk of {risk} is outside 0 to 0.5.")
    return _NORMAL.inv_cdf(1 - risk) * standard_uncertainty


def decide(
    value: float,
    standard_uncertainty: float,
    operator: Operator,
    limit: float,
    risk: float = DEFAULT_RISK,
) -> Decision:
    """Judge one value.

    *Conforms* where the bare value satisfies the limit and at most `risk` is left that the
    true one does not; *does not conform* where the bare value is past the limit by as
    much the other way, or stands on or past a line it may not touch, or past it with no
    uncertainty; *needs review* between the two.
    """
    probability = probability_of_conformity(value, standard_uncertainty, operator, limit)
    band = guard_band(standard_uncertainty, risk)
    acceptance = limit - band if operator.is_upper else limit + band
    margin = limit - value if operator.is_upper else value - limit
    if meets(value, operator, limit) and _accepted(value, operator, acceptance):
        verdict = Verdict.CONFORMS
    elif not meets(value, operator, limit) and (not operator.allows_equal or probability <= risk):
        verdict = Verdict.FAILS
    else:
        verdict = Verdict.NEEDS_REVIEW
    return Decision(
        value=value,
        standard_uncertainty=standard_uncertainty,
        operator=operator,
        limit=limit,
        probability=probability,
        acceptance_limit=acceptance,
        margin=margin,
        verdict=verdict,
    )


def _accepted(value: float, operator: Operator, acceptance: float) -> bool:
    return value <= acceptance if operator.is_upper else value >= acceptance


def can_decide(standard_uncertainty: float, spread: float, risk: float = DEFAULT_RISK) -> bool:
    """Whether an instrument is good enough for a limit: its guard band takes at most a third
    of `spread`, how far the values it is to judge usually lie from the limit (common practice).

    For an alcohol line at 0.5 % vol the spread is 0.5: headspace gas chromatography (u 0.03)
    takes 0.05 of it, a hydrometer read to 0.001 (u 0.13) takes 0.21 and cannot decide.
    """
    return guard_band(standard_uncertainty, risk) <= spread / 3
