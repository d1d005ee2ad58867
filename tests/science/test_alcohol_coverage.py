"""The stated uncertainties of the alcohol estimates hold over many invented drinks."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import pytest

from brewlog.science import alcohol, alcohol_learning
from brewlog.science.alcohol_learning import LaboratoryPair
from brewlog.science.results import Result

from .drinks import Drinks, make

COUNT = 2000


@pytest.fixture(scope="module", params=["everyday instruments", "fine instruments"])
def drinks(request: pytest.FixtureRequest) -> Drinks:
    return make(COUNT, seed=8, fine=request.param == "fine instruments")


@pytest.fixture(scope="module")
def estimates(drinks: Drinks) -> Estimates:
    return Estimates(drinks)


def gravity_and_brix(d: Drinks) -> Iterator[Result]:
    for gravity, brix in zip(d.gravity, d.brix, strict=True):
        yield alcohol.from_gravity_and_brix((gravity, d.u_gravity), (brix, d.u_brix))


def gravity_brix_and_acidity(d: Drinks) -> Iterator[Result]:
    for gravity, brix, acidity in zip(d.gravity, d.brix, d.acidity_read, strict=True):
        yield alcohol.from_gravity_brix_and_acidity(
            (gravity, d.u_gravity), (brix, d.u_brix), (acidity, d.u_acidity)
        )


def combined(d: Drinks) -> Iterator[Result]:
    for gravity, brix, acidity, sugar in zip(
        d.gravity, d.brix, d.acidity_read, d.initial_sugar_read, strict=True
    ):
        yield alcohol.combined_estimate(
            (gravity, d.u_gravity),
            (brix, d.u_brix),
            (acidity, d.u_acidity),
            (sugar, d.u_initial_share * sugar),
            initial_acidity_g_per_l=(0.5, 0.2),
        )


def sugar_balance(d: Drinks) -> Iterator[Result]:
    """The remaining sugar by a laboratory, good to 1 g/L."""
    draw = np.random.default_rng(9)
    remaining = d.remaining_sugar + draw.normal(0.0, 1.0, COUNT)
    for sugar, left, acidity in zip(d.initial_sugar_read, remaining, d.acidity_read, strict=True):
        yield alcohol.from_sugar_balance(
            (sugar, d.u_initial_share * sugar),
            (left, 1.0),
            (max(acidity - 0.5, 0.0), np.hypot(d.u_acidity, 0.2)),
        )


def gravity_drop(d: Drinks) -> Iterator[Result]:
    for original, final in zip(d.original_gravity, d.gravity, strict=True):
        yield alcohol.upper_figure_from_gravity_drop(
            (original, d.u_gravity), (min(final, original), d.u_gravity)
        )


class Estimates:
    """Every estimator's results for one set of drinks, each worked out once."""

    def __init__(self, drinks: Drinks) -> None:
        self.drinks = drinks
        self.known: dict[Callable[[Drinks], Iterator[Result]], list[Result]] = {}

    def by(self, estimator: Callable[[Drinks], Iterator[Result]]) -> list[Result]:
        if estimator not in self.known:
            self.known[estimator] = list(estimator(self.drinks))
        return self.known[estimator]

    def error(self, estimator: Callable[[Drinks], Iterator[Result]]) -> float:
        """Root mean square error in % vol."""
        values = np.array([result.value for result in self.by(estimator)])
        return float(np.sqrt(np.mean((values - self.drinks.abv) ** 2)))


def coverage(results: list[Result], truth: np.ndarray) -> float:
    intervals = np.array([result.interval_95() for result in results])
    return float(np.mean((intervals[:, 0] <= truth) & (truth <= intervals[:, 1])))


@pytest.mark.parametrize(
    "estimator", [gravity_and_brix, gravity_brix_and_acidity, sugar_balance, combined]
)
def test_intervals_hold_the_truth_as_often_as_they_say(estimator, estimates: Estimates) -> None:
    covered = coverage(estimates.by(estimator), estimates.drinks.abv)
    assert 0.92 <= covered <= 0.98


def test_combining_is_better_than_either_alone(estimates: Estimates) -> None:
    both = estimates.error(combined)
    assert both < estimates.error(gravity_brix_and_acidity)
    assert both < estimates.error(gravity_and_brix)


def test_the_gravity_drop_is_worse_than_guessing_the_average(estimates: Estimates) -> None:
    truth = estimates.drinks.abv
    assert estimates.error(gravity_drop) > truth.std()
    figures = np.array([result.value for result in estimates.by(gravity_drop)])
    assert np.mean(figures - truth) > 0.1


def test_the_gravity_drop_holds_as_an_upper_figure(estimates: Estimates) -> None:
    upper = [result.step("upper figure at 95 %") for result in estimates.by(gravity_drop)]
    assert np.mean(estimates.drinks.abv <= upper) >= 0.95


def test_the_ceiling_holds(drinks: Drinks) -> None:
    ceilings = np.array(
        [
            alcohol.ceiling(
                (sugar, drinks.u_initial_share * sugar),
                (left, 0.5),
                (max(acidity - 0.8, 0.0), drinks.u_acidity),
            ).step("ceiling at 95 %")
            for sugar, left, acidity in zip(
                drinks.initial_sugar_read,
                drinks.remaining_sugar,
                drinks.acidity_read,
                strict=True,
            )
        ]
    )
    assert np.mean(drinks.abv <= ceilings) >= 0.95


def test_the_general_expectation_holds_the_truth_as_often_as_it_says() -> None:
    d = make(COUNT, seed=10)
    gone = d.initial_sugar - d.remaining_sugar
    results = [alcohol_learning.from_sugar_gone((max(grams, 0.0), 1.5)) for grams in gone]
    assert 0.92 <= coverage(results, d.abv) <= 0.98


@pytest.mark.parametrize("pairs", [5, 8, 20])
def test_the_learned_line_holds_the_truth_as_often_as_it_says(pairs: int) -> None:
    # A brewery's own yield per sugar differs from the next one's; its batches scatter.
    draw = np.random.default_rng(40 + pairs)
    hits = []
    for _ in range(COUNT):
        slope, intercept = draw.normal(0.028, 0.008), draw.normal(0.0, 0.1)
        gone = np.append(np.linspace(10.0, 40.0, pairs), draw.uniform(12.0, 38.0))
        truth = np.clip(1.0 + intercept + slope * gone + 0.1 * draw.normal(size=pairs + 1), 0, 20)
        reckoned = gone + draw.normal(0.0, 0.8, pairs + 1)
        laboratory = truth + draw.normal(0.0, 0.03, pairs + 1)
        known = [
            LaboratoryPair(max(g, 0.0), max(a, 0.0))
            for g, a in zip(reckoned[:-1], laboratory[:-1], strict=True)
        ]
        result = alcohol_learning.from_sugar_gone((max(reckoned[-1], 0.0), 0.8), known)
        assert "laboratory results, with its prediction interval" in result.method
        low, high = result.interval_95()
        hits.append(low <= truth[-1] <= high)
    assert 0.92 <= np.mean(hits) <= 0.98


def test_learning_narrows_the_interval() -> None:
    d = make(12, seed=11)
    gone = np.maximum(d.initial_sugar - d.remaining_sugar, 0.0)
    # One brewery, one recipe: the same share of the sugar ends as alcohol, within a tenth.
    draw = np.random.default_rng(12)
    pairs = [
        LaboratoryPair(float(grams), float(0.02 * grams * draw.normal(1.0, 0.1))) for grams in gone
    ]
    middle = float(np.median(gone))
    general = alcohol_learning.from_sugar_gone((middle, 1.0))
    learned = alcohol_learning.from_sugar_gone((middle, 1.0), pairs)
    assert np.ptp(learned.interval_95()) < 0.5 * np.ptp(general.interval_95())
