"""Invented drinks whose true composition is known, made by more than the estimators assume.

Density comes from the sucrose and ethanol polynomials themselves, not from increments; the
increments of acids and tea vary from drink to drink; part of the acetic acid is eaten further,
some glycerol forms, a little carbon dioxide stays in the sample, the thermometer is off, and
instruments have a zero error that stays for the day beside the noise of each reading.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from brewlog.science import instruments, sugar
from brewlog.science.ethanol import ethanol_water_density_kg_per_m3

Array = npt.NDArray[np.float64]

INVERT = 0.052628  # water taken up by sucrose as it is split, g/g


@dataclass(frozen=True)
class Drinks:
    """True values and readings of many drinks, one per draw."""

    abv: Array
    initial_sugar: Array  # g/L, by the scale
    remaining_sugar: Array  # g/L as sucrose, true
    acidity: Array  # g/L as acetic, true
    initial_acidity: Array
    original_gravity: Array
    gravity: Array  # as read
    brix: Array  # as read
    acidity_read: Array
    initial_sugar_read: Array
    u_gravity: float
    u_brix: float
    u_acidity: float
    u_initial_share: float


def ethanol_rise(ethanol_g_per_l: Array) -> Array:
    """By how much ethanol changes the density of water at 20 C, kg/m3 (OIML R 22)."""
    percent = ethanol_g_per_l / 10.0
    twenty = np.full_like(percent, 20.0)
    water = ethanol_water_density_kg_per_m3(0.0, 20.0)
    for _ in range(4):
        density = ethanol_water_density_kg_per_m3(percent, twenty)
        percent = ethanol_g_per_l * 100.0 / density
    return ethanol_water_density_kg_per_m3(percent, twenty) - water


def gravity_and_index(
    draw: np.random.Generator,
    sucrose_like: Array,
    inverted: Array,
    ethanol: Array,
    acetic: Array,
    gluconic: Array,
    tea: Array,
    glycerol: Array,
) -> tuple[Array, Array]:
    n = sucrose_like.size
    brix = sugar.brix_from_sugar_g_per_l(np.maximum(sucrose_like, 0.0))
    rise = sugar.density_rise(brix, np.full(n, 20.0)) + ethanol_rise(ethanol)
    rise += (0.1423 - 5.3e-5 * acetic) * acetic + draw.normal(0.385, 0.01, n) * gluconic
    rise += draw.normal(0.40, 0.05, n) * tea + 0.21 * glycerol
    dimming = 1.0 - draw.normal(0.013, 0.006, n) * inverted
    index = (instruments.refractive_index_from_brix(brix) - instruments.WATER_INDEX) * dimming
    index += (0.595e-4 + 6.6e-8 * ethanol) * ethanol + 0.72e-4 * acetic
    index += draw.normal(1.35e-4, 0.05e-4, n) * gluconic + draw.normal(1.6e-4, 0.2e-4, n) * tea
    index += 1.15e-4 * glycerol
    return 1.0 + rise / 998.2067, instruments.WATER_INDEX + index


def make(n: int, seed: int, fine: bool = False) -> Drinks:
    """`n` drinks; `fine` instruments are a tenth degree and a density meter of four decimals."""
    draw = np.random.default_rng(seed)
    initial = np.clip(draw.normal(60.0, 10.0, n), 35.0, 90.0)
    hexose_at_start = initial * (1.0 + INVERT)
    consumed = draw.uniform(0.05, 0.60, n) * hexose_at_start
    growth = draw.uniform(0.03, 0.12, n)
    oxidised = draw.uniform(0.2, 0.9, n)
    acid_share = draw.uniform(0.0, 0.25, n)
    yields = draw.uniform(0.484, 0.511, n)
    evaporated = draw.uniform(0.0, 0.03, n)
    inverted = draw.beta(4.0, 3.0, n)
    eaten_further = draw.uniform(0.0, 0.04, n)

    glycerol = draw.uniform(0.0, 0.02, n) * consumed * 0.5
    gluconic_per_acetic = acid_share / (1.0 - acid_share) * 196.155 / 60.052
    made_acid = 1.30355 * oxidised
    # Sugar to gluconic acid follows the acetic acid, which follows the ethanol made.
    ethanol_made = (
        yields
        * (consumed * (1.0 - growth) - glycerol)
        / (1.0 + yields * gluconic_per_acetic * made_acid / 1.08881)
    )
    acetic = made_acid * ethanol_made * (1.0 - eaten_further)
    gluconic = gluconic_per_acetic * made_acid * ethanol_made
    lost = draw.uniform(0.0, 0.03, n) * ethanol_made
    ethanol = np.maximum(ethanol_made * (1.0 - oxidised) - lost, 0.0)
    starter_acetic = draw.uniform(0.2, 0.8, n)

    concentrated = 1.0 / (1.0 - evaporated)
    ethanol, gluconic, glycerol = (x * concentrated for x in (ethanol, gluconic, glycerol))
    acetic = (acetic + starter_acetic) * concentrated
    hexose_left = (hexose_at_start - consumed) * concentrated
    remaining = hexose_left / (1.0 + INVERT * (1.0 - inverted))
    tea = np.clip(draw.normal(2.0, 0.4, n), 0.5, None)
    acidity = acetic + gluconic * 60.052 / 196.155

    parts = (remaining, inverted, ethanol, acetic, gluconic, tea, glycerol)
    gravity, index = gravity_and_index(draw, *parts)
    zero = np.zeros(n)
    original, _ = gravity_and_index(
        draw, initial, 0.1 * np.ones(n), zero, starter_acetic, zero, tea, zero
    )

    u_gravity, u_brix, u_acidity = (0.0002, 0.05, 0.1) if fine else (0.0005, 0.1, 0.2)
    off_c = draw.normal(0.0, 0.5, n)
    # 0.0002 in gravity and 0.06 Bx per degree: part of what the stated uncertainties hold.
    gravity_noise = np.hypot(u_gravity * 0.8, 1e-9) * draw.normal(0.0, 1.0, n)
    gravity_zero = u_gravity * 0.6 * draw.normal(0.0, 1.0, n)
    brix_noise = u_brix * 0.7 * draw.normal(0.0, 1.0, n)
    brix_zero = u_brix * 0.7 * draw.uniform(-1.732, 1.732, n)
    carbonation = np.abs(draw.normal(0.0, 0.03, n))  # g/L of CO2 left in
    index_per_brix = 1.46e-3
    brix_read = instruments.brix_from_refractive_index(index + 0.8e-4 * carbonation)
    brix_read = brix_read + brix_noise + brix_zero + 0.1 * u_brix * off_c / index_per_brix * 1e-3
    gravity_read = gravity + gravity_noise + gravity_zero + 0.00025 * carbonation / 1.0
    acidity_read = acidity + u_acidity * draw.normal(0.0, 1.0, n) + 0.05 * carbonation
    return Drinks(
        abv=ethanol * 100.0 / 789.239,
        initial_sugar=initial,
        remaining_sugar=remaining,
        acidity=acidity,
        initial_acidity=starter_acetic,
        original_gravity=original,
        gravity=gravity_read,
        brix=brix_read,
        acidity_read=np.maximum(acidity_read, 0.0),
        initial_sugar_read=initial * (1.0 + 0.01 * draw.normal(0.0, 1.0, n)),
        u_gravity=u_gravity,
        u_brix=u_brix,
        u_acidity=u_acidity,
        u_initial_share=0.01,
    )
