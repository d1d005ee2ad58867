"""Ethanol and water: density, and strength by volume, by mass and in g/L."""

from __future__ import annotations

from scipy.optimize import brentq

from brewlog.science.errors import Number, check_range

CALCULATION_VERSION = "1"

SOURCE = (
    "OIML R 22 (1973), printed in the annex of Council Directive 76/766/EEC (formula, ranges, A "
    "and B read; C read, its last fourth-order term from memory)"
)

_A = (
    9.982012300e2, -1.929769495e2, 3.891238958e2, -1.668103923e3, 1.352215441e4, -8.829278388e4,
    3.062874042e5, -6.138381234e5, 7.470172998e5, -5.478461354e5, 2.234460334e5, -3.903285426e4,
)  # fmt: skip
_B = (-2.0618513e-1, -5.2682542e-3, 3.6130013e-5, -3.8957702e-7, 7.1693540e-9, -9.9739231e-11)
_C = (
    (
        1.693443461530087e-1, -1.046914743455169e1, 7.196353469546523e1, -7.047478054272792e2,
        3.924090430035045e3, -1.210164659068747e4, 2.248646550400788e4, -2.605562982188164e4,
        1.852373922069467e4, -7.420201433430137e3, 1.285617841998974e3,
    ),
    (
        -1.193013005057010e-2, 2.517399633803461e-1, -2.170575700536993, 1.353034988843029e1,
        -5.029988758547014e1, 1.096355666577570e2, -1.422753946421155e2, 1.080435942856230e2,
        -4.414153236817392e1, 7.442971530188783,
    ),
    (
        -6.802995733503803e-4, 1.876837790289664e-2, -2.002561813734156e-1, 1.022992966719220,
        -2.895696483903638, 4.810060584300675, -4.672147440794683, 2.458043105903461,
        -5.411227621436812e-1,
    ),
    (4.075376675622027e-6, -8.763058573471110e-6, 6.515031360099368e-6, -1.515784836987210e-6),
    (-2.788074354782409e-8, 1.345612883493354e-8),
)  # fmt: skip


def ethanol_water_density_kg_per_m3(ethanol_mass_percent: Number, temperature_c: Number) -> Number:
    """Density of an ethanol-water mixture in kg/m3: 0 to 100 % by mass, -20 to 40 °C.

    Accuracy 0.001 kg/m3 within its own scale, whose water lies 0.0055 kg/m3 under today's:
    form gravities against 0 % from this same function. Takes numbers or arrays. Raises
    OutOfRange. Source: OIML R 22 (read).
    """
    check_range("ethanol content", ethanol_mass_percent, 0.0, 100.0, "% by mass")
    check_range("temperature", temperature_c, -20.0, 40.0, "°C")
    return _density(ethanol_mass_percent / 100.0, temperature_c - 20.0)


def abv_from_abw(abw_percent: Number) -> Number:
    """% vol at 20 °C from % by mass (0 to 100) of ethanol in water. Number or array. R 22."""
    check_range("ethanol content", abw_percent, 0.0, 100.0, "% by mass")
    return abw_percent * _density(abw_percent / 100.0, 0.0 * abw_percent) / ETHANOL_KG_PER_M3


def abw_from_abv(abv_percent: float) -> float:
    """% by mass from % vol at 20 °C (0 to 100) of ethanol in water: inverse of `abv_from_abw`."""
    check_range("alcohol by volume", abv_percent, 0.0, 100.0, "% vol")
    return float(brentq(lambda abw: abv_from_abw(abw) - abv_percent, 0.0, 100.0, xtol=1e-12))


def ethanol_g_per_l_from_abv(abv_percent: Number) -> Number:
    """Grams of ethanol per litre at 20 °C from % vol (0 to 100), in any drink. R 22."""
    check_range("alcohol by volume", abv_percent, 0.0, 100.0, "% vol")
    return abv_percent * ETHANOL_KG_PER_M3 / 100.0


def abv_from_ethanol_g_per_l(ethanol_g_per_l: Number) -> Number:
    """% vol at 20 °C from grams of ethanol per litre (0 to 789.2), in any drink. R 22."""
    check_range("ethanol", ethanol_g_per_l, 0.0, ETHANOL_KG_PER_M3, "g/L")
    return ethanol_g_per_l * 100.0 / ETHANOL_KG_PER_M3


def _series(coefficients: tuple[float, ...], x: Number) -> Number:
    """c0 + c1 x + c2 x^2 + ..."""
    total = 0.0 * x + coefficients[-1]
    for coefficient in reversed(coefficients[:-1]):
        total = total * x + coefficient
    return total


def _density(p: Number, d: Number) -> Number:
    """R 22 with p the mass fraction and d the temperature less 20 °C."""
    density = _series(_A, p)
    power = d
    for k, b in enumerate(_B):
        density = density + power * (b + (p * _series(_C[k], p) if k < len(_C) else 0.0))
        power = power * d
    return density


ETHANOL_KG_PER_M3 = _density(1.0, 0.0)
