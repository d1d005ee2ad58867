"""Fitting a curve to readings, drawn towards what earlier batches lead one to expect."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from brewlog.science.curves import Curve, Prior
from brewlog.science.errors import Array
from brewlog.science.kinetics import REFERENCE_C, equivalent_days

CALCULATION_VERSION = "1"

FEWEST_READINGS = 3
SHORTEST_SPAN_DAYS = 0.5
DRAWS = 1000

# Heavier tails than the normal, so that a curved posterior is covered by its proposals.
_TAIL_FREEDOM = 6.0
# Batches of one recipe are taken to vary half as much (a quarter of the variance) as recipes.
_WITHIN_OVER_BETWEEN = 0.25
_MAX_STEPS = 60
_POOLING_ROUNDS = 6
_SEED = 1729


@dataclass(frozen=True)
class Reading:
    """A value read so many days after pitching, with the standard uncertainty of one reading."""

    day: float
    value: float
    u: float


@dataclass(frozen=True)
class Room:
    """The room's (better: the vessel's) temperature at some days; straight lines between."""

    days: tuple[float, ...] = (0.0,)
    temperatures_c: tuple[float, ...] = (REFERENCE_C,)


AT_25C = Room()


@dataclass(frozen=True)
class Fit:
    """Most probable parameters, with the calibration offset last, and their covariance."""

    centre: Array
    covariance: Array
    target: Target


class Target:
    """Weighted residuals of readings and expectations: half their square is the surprise."""

    def __init__(self, curve: Curve, prior: Prior, readings: Sequence[Reading], room: Room) -> None:
        self.curve = curve
        self.days = equivalent_days(
            np.array([reading.day for reading in readings]), room.days, room.temperatures_c
        )
        self.values = np.array([reading.value for reading in readings])
        self.u = np.hypot([reading.u for reading in readings], curve.u_shape)
        size = len(curve.parameters) + 1
        self.mean = np.append(prior.mean, 0.0)
        covariance = np.zeros((size, size))
        covariance[:-1, :-1] = prior.covariance
        covariance[-1, -1] = curve.u_calibration**2
        self.scale = np.linalg.cholesky(covariance)
        self.whiten = np.linalg.inv(self.scale)

    def residuals(self, parameters: Array) -> Array:
        """One row of residuals for each row of parameters."""
        predicted = self.curve.value(parameters[..., :-1], self.days) + parameters[..., -1:]
        of_readings = (self.values - predicted) / self.u
        of_prior = (parameters - self.mean) @ self.whiten.T
        stacked: Array = np.concatenate([of_readings, of_prior], axis=-1)
        return stacked


def enough(readings: Sequence[Reading]) -> bool:
    """Three readings at different times, not all within half a day."""
    days = {reading.day for reading in readings}
    return len(days) >= FEWEST_READINGS and max(days) - min(days) >= SHORTEST_SPAN_DAYS


def fit(curve: Curve, prior: Prior, readings: Sequence[Reading], room: Room) -> Fit:
    """The most probable parameters (penalised least squares, Levenberg-Marquardt)."""
    target = Target(curve, prior, readings, room)
    steps = 1e-5 * np.diag(target.scale)
    centre, damping = target.mean.copy(), 1e-3
    jacobian = np.zeros((1, centre.size))
    surprise = np.inf
    for _ in range(_MAX_STEPS):
        rows = target.residuals(np.vstack([centre, centre + np.diag(steps)]))
        residuals = rows[0]
        jacobian = ((rows[1:] - residuals) / steps[:, None]).T
        surprise = float(residuals @ residuals)
        curvature = jacobian.T @ jacobian
        gradient = jacobian.T @ residuals
        moved = False
        while damping < 1e9:
            step = np.linalg.solve(curvature + damping * np.diag(np.diag(curvature)), -gradient)
            tried = target.residuals((centre + step)[None, :])[0]
            if tried @ tried < surprise:
                centre, damping, moved = centre + step, damping * 0.2, True
                break
            damping *= 5.0
        # Settled once no parameter moves by a thousandth of its expected spread.
        if not moved or (np.abs(step) < 1e-3 * np.diag(target.scale)).all():
            break
    covariance = np.linalg.inv(jacobian.T @ jacobian).astype(np.float64)
    return Fit(centre, covariance, target)


def posterior_draws(fitted: Fit) -> Array:
    """Equally likely parameter rows: proposals about the centre, resampled by importance."""
    generator = np.random.default_rng(_SEED)
    size = fitted.centre.size
    normal = generator.standard_normal((DRAWS, size))
    stretch = np.sqrt(_TAIL_FREEDOM / generator.chisquare(_TAIL_FREEDOM, DRAWS))
    standard = normal * stretch[:, None]
    proposals = fitted.centre + standard @ np.linalg.cholesky(fitted.covariance).T
    rows = fitted.target.residuals(proposals)
    tail = 0.5 * (_TAIL_FREEDOM + size)
    log_weight = -0.5 * (rows**2).sum(axis=1)
    log_weight += tail * np.log1p((standard**2).sum(axis=1) / _TAIL_FREEDOM)
    weight = np.exp(log_weight - log_weight.max())
    cumulative = np.cumsum(weight) / weight.sum()
    # Evenly spaced through the cumulative weight: no luck added to the weights themselves.
    chosen = np.searchsorted(cumulative, (np.arange(DRAWS) + 0.5) / DRAWS)
    kept: Array = proposals[np.minimum(chosen, DRAWS - 1)]
    return kept


def learn_prior(curve: Curve, earlier: Sequence[tuple[Sequence[Reading], Room]]) -> Prior:
    """What earlier batches of the recipe lead one to expect, shrunk to the general expectation.

    Each batch is fitted on its own; the mean and spread of the fits, each fit's own uncertainty
    included, are weighed against the general expectation: for the spread it counts as one batch
    with half its own width, for the mean as a quarter of one. Twice over: the second time the
    fits are drawn to what the first time found. Batches with too few readings are left out.
    """
    usable = [(readings, room) for readings, room in earlier if enough(readings)]
    prior = curve.general
    for _ in range(_POOLING_ROUNDS if usable else 0):
        prior = _pool(curve, [fit(curve, prior, readings, room) for readings, room in usable])
    return prior


def _pool(curve: Curve, fits: Sequence[Fit]) -> Prior:
    n = len(fits)
    centres = np.array([fitted.centre[:-1] for fitted in fits])
    general = np.array(curve.general.mean)
    mean = (centres.sum(axis=0) + _WITHIN_OVER_BETWEEN * general) / (n + _WITHIN_OVER_BETWEEN)
    apart = centres - centres.mean(axis=0)
    spread = _WITHIN_OVER_BETWEEN * np.array(curve.general.covariance) + apart.T @ apart
    for fitted in fits:
        spread = spread + fitted.covariance[:-1, :-1]
    # A new batch differs from the mean, and the mean is only known from n batches.
    covariance = spread / (n + 1.0) * (1.0 + 1.0 / (n + _WITHIN_OVER_BETWEEN))
    return Prior(
        tuple(mean.tolist()),
        tuple(tuple(row) for row in covariance.tolist()),
        n,
        f"{n} earlier batches of the recipe; beside them the {curve.general.source}",
    )
