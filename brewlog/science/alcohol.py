"""Alcohol estimated from what a brewery can measure, each with its uncertainty.

Every function takes a measurement as (value, standard uncertainty). None of these numbers is
evidence that a drink meets an alcohol line; `CANNOT_SUPPORT` says so on each.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import uncertainties
from uncertainties import nominal_value, std_dev

from brewlog.science import attenuation, composition, stoichiometry, sugar
from brewlog.science.composition import TYPICAL, Assumptions, Unmeasured, number
from brewlog.science.errors import check_range
from brewlog.science.ethanol import ETHANOL_KG_PER_M3
from brewlog.science.results import ONE_SIDED_95, Result, Step
from brewlog.science.uncertainty import Measured, propagate

CALCULATION_VERSION = "1"

CANNOT_SUPPORT = (
    "that the drink meets an alcohol limit: only a laboratory result or a distillation can show it"
)
SOURCE_BALANCE = (
    "carbon balance with stoichiometric yields; yield, growth, gluconic share, evaporation and "
    "loss are assumed ranges"
)


def upper_figure_from_gravity_drop(original_gravity: Measured, final_gravity: Measured) -> Result:
    """Alcohol in % vol if all the gravity lost had become alcohol: an upper figure, flagged.

    True SG 20/20, degassed: original 1 to 1.129, final 0.98 to the original. In live-culture
    drinks it overstates by 0.1 to 0.5 % vol and, as an estimate, is worse than guessing the
    average: acid raises gravity again while alcohol falls. The step "upper figure at 95 %"
    adds the instruments' one-sided margin. Raises OutOfRange. Source: Balling (read).
    """
    check_range("original gravity", original_gravity[0], 1.0, 1.129)
    check_range("final gravity", final_gravity[0], 0.98, original_gravity[0])

    def figure(original: float, final: float) -> float:
        original_plato, apparent_plato = (
            sugar.brix_from_specific_gravity(gravity) for gravity in (original, final)
        )
        # A rising reading within the instruments' noise is no alcohol, not an error.
        apparent_plato = min(apparent_plato, original_plato)
        return attenuation.alcohol_by_volume_percent(original_plato, apparent_plato, final)

    value, u = propagate(figure, original_gravity, final_gravity)
    original_plato, apparent_plato = (
        sugar.brix_from_specific_gravity(gravity)
        for gravity in (original_gravity[0], final_gravity[0])
    )
    return Result(
        quantity="alcohol, upper figure from the gravity drop",
        value=value,
        unit="% vol",
        standard_uncertainty=u,
        method="Balling, as if no sugar became acid or pellicle",
        source=attenuation.SOURCE,
        steps=(
            Step("original extract", original_plato, "°P"),
            Step("apparent extract", apparent_plato, "°P"),
            Step("upper figure at 95 %", value + ONE_SIDED_95 * u, "% vol"),
        ),
        supports="an upper figure: there is probably less alcohol than this",
        cannot_support="an estimate of the alcohol, nor " + CANNOT_SUPPORT,
        calculation_version=CALCULATION_VERSION,
        lowest=0.0,
    )


def from_gravity_and_brix(
    specific_gravity: Measured, brix: Measured, assumed: Assumptions = TYPICAL
) -> Result:
    """Alcohol in % vol from gravity and refraction of one degassed sample, acidity assumed.

    True SG 20/20 0.98 to 1.13 and refractometer °Brix at 20 °C 0 to 30. Alcohol makes a drink
    lighter but refract more, so the two readings part sugar from alcohol. Raises OutOfRange.
    Source: `composition.SOURCE`.
    """
    drink = composition.solve(specific_gravity, brix, assumed.acidity_g_per_l, assumed)
    return _estimate(
        drink.ethanol,
        "alcohol from gravity and Brix",
        "two equations for sugar and alcohol, acidity assumed",
        composition.SOURCE,
        drink.steps(),
    )


def from_gravity_brix_and_acidity(
    specific_gravity: Measured,
    brix: Measured,
    acidity_g_per_l: Measured,
    assumed: Assumptions = TYPICAL,
) -> Result:
    """As `from_gravity_and_brix`, with total acidity measured (0 to 40 g/L as acetic)."""
    drink = composition.solve(specific_gravity, brix, acidity_g_per_l, assumed)
    return _estimate(
        drink.ethanol,
        "alcohol from gravity, Brix and acidity",
        "two equations for sugar and alcohol with the acid measured",
        composition.SOURCE,
        drink.steps(),
    )


def from_sugar_balance(
    initial_sugar_g_per_l: Measured,
    remaining_sugar_g_per_l: Measured,
    acidity_gained_g_per_l: Measured,
    initial_abv: Measured = (0.0, 0.0),
    assumed: Assumptions = TYPICAL,
) -> Result:
    """Alcohol in % vol from the sugar gone, less what became acid, pellicle and vapour.

    Sugar as sucrose 0 to 300 g/L at the start, after the starter went in, and what remains by
    a laboratory or from gravity and Brix; acidity gained since then 0 to 40 g/L as acetic;
    initial alcohol that came with the starter. Raises OutOfRange. Source: `SOURCE_BALANCE`.
    """
    check_range("initial sugar", initial_sugar_g_per_l[0], 0.0, 300.0, "g/L")
    check_range("remaining sugar", remaining_sugar_g_per_l[0], -5.0, 300.0, "g/L")
    unmeasured = Unmeasured.of(assumed)
    balance = _balance(
        number(initial_sugar_g_per_l),
        number(remaining_sugar_g_per_l),
        _acidity(acidity_gained_g_per_l),
        number(initial_abv) * ETHANOL_KG_PER_M3 / 100.0,
        unmeasured,
    )
    return _estimate(
        balance.ethanol,
        "alcohol from the sugar gone",
        "carbon balance: sugar gone, less acid, growth and loss",
        SOURCE_BALANCE,
        balance.steps(),
        highest=_upper(balance.ceiling),
    )


def combined_estimate(
    specific_gravity: Measured,
    brix: Measured,
    acidity_g_per_l: Measured,
    initial_sugar_g_per_l: Measured,
    initial_acidity_g_per_l: Measured = (0.5, 0.3),
    initial_abv: Measured = (0.0, 0.0),
    assumed: Assumptions = TYPICAL,
) -> Result:
    """The best estimate in % vol: both ways weighted by inverse variance.

    Ranges as the two it combines. The readings they share are carried through, so the weights
    follow the covariance of the two. Cut at 0 and at the ceiling that all the sugar gone
    allows. Raises OutOfRange. Source: JCGM 100:2008 (from memory) on both.
    """
    check_range("initial sugar", initial_sugar_g_per_l[0], 0.0, 300.0, "g/L")
    drink = composition.solve(specific_gravity, brix, acidity_g_per_l, assumed)
    balance = _balance(
        number(initial_sugar_g_per_l),
        drink.sugar,
        drink.acidity - number(initial_acidity_g_per_l),
        number(initial_abv) * ETHANOL_KG_PER_M3 / 100.0,
        drink.unmeasured,
    )
    covariance = np.array(uncertainties.covariance_matrix([drink.ethanol, balance.ethanol]))
    weight = _weight_of_first(covariance)
    best = weight * drink.ethanol + (1.0 - weight) * balance.ethanol
    return _estimate(
        best,
        "alcohol, best estimate",
        "gravity, Brix and acidity combined with the sugar gone, by inverse variance",
        f"{composition.SOURCE}; {SOURCE_BALANCE}",
        (
            Step("from gravity, Brix and acidity", _abv(drink.ethanol), "% vol"),
            Step("from the sugar gone", _abv(balance.ethanol), "% vol"),
            Step("weight of gravity, Brix and acidity", weight),
            Step("remaining sugar", nominal_value(drink.sugar), "g/L"),
            Step("ceiling", _abv(balance.ceiling), "% vol"),
        ),
        highest=_upper(balance.ceiling),
    )


def ceiling(
    initial_sugar_g_per_l: Measured,
    remaining_sugar_g_per_l: Measured,
    acidity_gained_g_per_l: Measured = (0.0, 0.0),
    initial_abv: Measured = (0.0, 0.0),
    assumed: Assumptions = TYPICAL,
) -> Result:
    """The hard upper bound in % vol: all the sugar gone became alcohol, less that turned to acid.

    Arguments as `from_sugar_balance`. No growth, no gluconic acid, no loss; the bound is as
    good as the sugar figures, whose margin is in the step "ceiling at 95 %".
    """
    check_range("initial sugar", initial_sugar_g_per_l[0], 0.0, 300.0, "g/L")
    check_range("remaining sugar", remaining_sugar_g_per_l[0], -5.0, 300.0, "g/L")
    balance = _balance(
        number(initial_sugar_g_per_l),
        number(remaining_sugar_g_per_l),
        _acidity(acidity_gained_g_per_l),
        number(initial_abv) * ETHANOL_KG_PER_M3 / 100.0,
        Unmeasured.of(assumed),
    )
    bound = balance.ceiling
    return Result(
        quantity="alcohol, stoichiometric ceiling",
        value=max(_abv(bound), 0.0),
        unit="% vol",
        standard_uncertainty=std_dev(bound) * 100.0 / ETHANOL_KG_PER_M3,
        method="0.5114 g ethanol per g hexose gone, less the ethanol that became acetic acid",
        source=stoichiometry.SOURCE,
        steps=(*balance.steps(), Step("ceiling at 95 %", _upper(bound), "% vol")),
        supports="that there cannot be more alcohol than this, as far as the sugar is known",
        cannot_support=CANNOT_SUPPORT,
        calculation_version=CALCULATION_VERSION,
        lowest=0.0,
    )


def potential_alcohol(
    abv_now: Measured,
    remaining_sugar_g_per_l: Measured,
    fermented_fraction: float = 0.5,
    inverted_share: Measured = TYPICAL.inverted_share,
) -> Result:
    """Alcohol in % vol at the end of shelf life if all remaining sugar ferments.

    `abv_now` 0 to 20, sugar left as sucrose 0 to 300 g/L; the step "at the stated fraction"
    has `fermented_fraction` (0 to 1) of it fermented. At the stoichiometric yield, nothing
    turned to acid: in a closed bottle there is little air. Raises OutOfRange.
    """
    check_range("alcohol now", abv_now[0], 0.0, 20.0, "% vol")
    check_range("remaining sugar", remaining_sugar_g_per_l[0], 0.0, 300.0, "g/L")
    check_range("fermented fraction", fermented_fraction, 0.0, 1.0)
    hexose = _hexose(number(remaining_sugar_g_per_l), number(inverted_share))
    added = hexose * (stoichiometry.ETHANOL_PER_HEXOSE * 100.0 / ETHANOL_KG_PER_M3)
    total = number(abv_now) + added
    return Result(
        quantity="potential alcohol, all sugar fermented",
        value=float(nominal_value(total)),
        unit="% vol",
        standard_uncertainty=float(std_dev(total)),
        method="alcohol now plus 0.5114 g ethanol per g hexose left",
        source=stoichiometry.SOURCE,
        steps=(
            Step("fermentable sugar left, as hexose", nominal_value(hexose), "g/L"),
            Step("alcohol that can still form", nominal_value(added), "% vol"),
            Step(
                "at the stated fraction",
                abv_now[0] + fermented_fraction * nominal_value(added),
                "% vol",
            ),
        ),
        supports="the most the bottle can hold when it was kept warm long enough",
        cannot_support=CANNOT_SUPPORT,
        calculation_version=CALCULATION_VERSION,
        lowest=0.0,
    )


@dataclass(frozen=True)
class _Balance:
    hexose_gone: Any
    ethanol: Any
    ceiling: Any

    def steps(self) -> tuple[Step, ...]:
        return (
            Step("sugar gone, as hexose", nominal_value(self.hexose_gone), "g/L"),
            Step("ceiling", _abv(self.ceiling), "% vol"),
        )


def _acidity(acidity_g_per_l: Measured) -> Any:
    check_range("total acidity", acidity_g_per_l[0], 0.0, 40.0, "g/L as acetic")
    return number(acidity_g_per_l)


def _hexose(sugar_as_sucrose: Any, inverted_share: Any) -> Any:
    """Sugar once all of it is split: the part not yet inverted takes up water."""
    return sugar_as_sucrose * (
        1.0 + (stoichiometry.HEXOSE_PER_SUCROSE - 1.0) * (1.0 - inverted_share)
    )


def _balance(
    initial_sugar: Any,
    remaining_sugar: Any,
    acidity_gained: Any,
    initial_ethanol: Any,
    unmeasured: Unmeasured,
) -> _Balance:
    # What was there at the start is now in less water.
    started = initial_sugar * stoichiometry.HEXOSE_PER_SUCROSE / (1.0 - unmeasured.evaporated_share)
    gone = started - _hexose(remaining_sugar, unmeasured.inverted_share)
    gluconic = unmeasured.gluconic_share * acidity_gained / stoichiometry.TITRATED_PER_GLUCONIC
    acetic = (1.0 - unmeasured.gluconic_share) * acidity_gained
    fermented = (1.0 - unmeasured.growth_share) * gone - gluconic / (
        stoichiometry.GLUCONIC_PER_GLUCOSE
    )
    ethanol = (
        unmeasured.ethanol_yield * fermented
        - acetic / stoichiometry.ACETIC_PER_ETHANOL
        - unmeasured.ethanol_lost
        + initial_ethanol
    )
    # The bound takes all acid gained as acetic: gluconic acid would cost more sugar still.
    most = (
        stoichiometry.ETHANOL_PER_HEXOSE * gone
        - acidity_gained / stoichiometry.ACETIC_PER_ETHANOL
        + initial_ethanol
    )
    return _Balance(gone, ethanol, most)


def _weight_of_first(covariance: Any) -> float:
    """Weight of the first of two correlated estimates that makes their sum's variance least."""
    v1, v2, shared = covariance[0, 0], covariance[1, 1], covariance[0, 1]
    spread = v1 + v2 - 2.0 * shared
    if spread <= 0.0:
        return 0.5
    return float(min(max((v2 - shared) / spread, 0.0), 1.0))


def _abv(ethanol_g: Any) -> float:
    return float(nominal_value(ethanol_g)) * 100.0 / ETHANOL_KG_PER_M3


def _upper(ethanol_g: Any) -> float:
    upper = float(nominal_value(ethanol_g) + ONE_SIDED_95 * std_dev(ethanol_g))
    return max(upper, 0.0) * 100.0 / ETHANOL_KG_PER_M3


def _estimate(
    ethanol_g: Any,
    quantity: str,
    method: str,
    source: str,
    steps: tuple[Step, ...],
    highest: float = 100.0,
) -> Result:
    unclipped = _abv(ethanol_g)
    return Result(
        quantity=quantity,
        value=min(max(unclipped, 0.0), highest),
        unit="% vol",
        standard_uncertainty=float(std_dev(ethanol_g)) * 100.0 / ETHANOL_KG_PER_M3,
        method=method,
        source=source,
        steps=(*steps, Step("before cutting at what is possible", unclipped, "% vol")),
        supports="following a batch and deciding what to send to a laboratory",
        cannot_support=CANNOT_SUPPORT,
        calculation_version=CALCULATION_VERSION,
        lowest=0.0,
        highest=highest,
    )
