"""The shapes in which pH and sugar fall, and what is generally expected of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from brewlog.science.errors import Array

CALCULATION_VERSION = "1"


@dataclass(frozen=True)
class Prior:
    """What is expected of a curve's parameters before the batch is read."""

    mean: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    batches: int
    source: str


@dataclass(frozen=True)
class Curve:
    """A family of falling curves: its parameters' names, shape, crossing and general prior.

    `value(parameters, days)` and `crossing(parameters, limit)` take one parameter per leading
    row; days are at 25 °C. `u_shape` is how far real batches stray from the shape, in `unit`,
    and `u_calibration` the part of a reading's error that all readings of a batch share.
    """

    name: str
    unit: str
    parameters: tuple[str, ...]
    value: Callable[[Array, Array], Array]
    crossing: Callable[[Array, Array], Array]
    general: Prior
    u_shape: float
    u_calibration: float
    lowest: float
    highest: float


def _ph_value(parameters: Array, days: Array) -> Array:
    start, end, ln_rate = (parameters[..., i, None] for i in range(3))
    value: Array = end + (start - end) * np.exp(-np.exp(ln_rate) * days)
    return value


def _ph_crossing(parameters: Array, limit: Array) -> Array:
    start, end, ln_rate = (parameters[..., i] for i in range(3))
    with np.errstate(divide="ignore", invalid="ignore"):
        days = np.log((start - end) / (limit - end)) / np.exp(ln_rate)
    days = np.where(limit <= end, np.inf, days)
    crossed: Array = np.where(limit >= start, 0.0, days)
    return crossed


def _sugar_value(parameters: Array, days: Array) -> Array:
    start, left_share, ln_middle, ln_width = (parameters[..., i, None] for i in range(4))
    end = start * left_share
    exponent = np.clip((days - np.exp(ln_middle)) / np.exp(ln_width), -500.0, 500.0)
    # Boltzmann's curve, scaled to begin at `start` on day 0.
    at_zero = 1.0 / (1.0 + np.exp(-np.clip(np.exp(ln_middle - ln_width), 0.0, 500.0)))
    value: Array = end + (start - end) / (1.0 + np.exp(exponent)) / at_zero
    return value


def _sugar_crossing(parameters: Array, limit: Array) -> Array:
    start, left_share, ln_middle, ln_width = (parameters[..., i] for i in range(4))
    end = start * left_share
    at_zero = 1.0 / (1.0 + np.exp(-np.clip(np.exp(ln_middle - ln_width), 0.0, 500.0)))
    with np.errstate(divide="ignore", invalid="ignore"):
        odds = (start - end) / ((limit - end) * at_zero) - 1.0
        days = np.exp(ln_middle) + np.exp(ln_width) * np.log(odds)
    days = np.where(limit <= end, np.inf, days)
    crossed: Array = np.where(limit >= start, 0.0, np.maximum(days, 0.0))
    return crossed


def _independent(mean: Sequence[float], u: Sequence[float], source: str) -> Prior:
    covariance = np.diag(np.square(u))
    return Prior(tuple(mean), tuple(tuple(row) for row in covariance.tolist()), 0, source)


PH = Curve(
    name="pH",
    unit="pH",
    parameters=("pH at pitching", "final pH", "ln of the rate per day at 25 °C"),
    value=_ph_value,
    crossing=_ph_crossing,
    general=_independent(
        (4.3, 2.95, math.log(0.25)),
        (0.6, 0.30, 0.8),
        "general expectation: pH falls exponentially (fits with R2 above 0.98 reported, read); "
        "2.9 to 4.5 after 7 to 60 days (abstract read) and 5 to 2.5 (Sreeramulu et al., J. Agric. "
        "Food Chem. 48 (2000) 2589, abstract read); the spreads are assumed",
    ),
    u_shape=0.04,
    u_calibration=0.03,
    lowest=0.0,
    highest=14.0,
)

SUGAR = Curve(
    name="sugar",
    unit="g/L",
    parameters=(
        "sugar at pitching",
        "share left at the end",
        "ln of the middle day at 25 °C",
        "ln of the width in days at 25 °C",
    ),
    value=_sugar_value,
    crossing=_sugar_crossing,
    general=_independent(
        (65.0, 0.40, math.log(8.0), math.log(3.5)),
        (20.0, 0.20, 0.6, 0.4),
        "general expectation: sugar falls as Boltzmann's sigmoid from about 66 g/L (Loncar et al., "
        "CICEQ (2014), abstract read), 48 to 55 g/L used at most (Kuzu et al., Processes 11 (2023) "
        "2100, abstract read); times and spreads are assumed",
    ),
    u_shape=1.0,
    u_calibration=0.5,
    lowest=-5.0,
    highest=300.0,
)
