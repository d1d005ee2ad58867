"""Balling's relations for a beer-like fermentation: real extract and alcohol.

They assume that all sugar lost became alcohol, carbon dioxide and yeast. In live-culture
drinks it did not, which is why they are offered only as an upper figure.
"""

from __future__ import annotations

from brewlog.science.errors import check_range

CALCULATION_VERSION = "1"

SOURCE = (
    "Balling: 2.0665 g extract give 1 g ethanol, 0.9565 g CO2 and 0.11 g yeast (ratios read in "
    "his own text); real extract 0.1808 OE + 0.8192 AE"
)


def real_extract_plato(original_plato: float, apparent_plato: float) -> float:
    """Real extract in °P from original (0 to 30) and apparent extract (-3 to the original)."""
    _check(original_plato, apparent_plato)
    return 0.1808 * original_plato + 0.8192 * apparent_plato


def alcohol_by_mass_percent(original_plato: float, apparent_plato: float) -> float:
    """% ethanol by mass by Balling; ranges as `real_extract_plato`. 0.1 % for beer, no other."""
    attenuated = original_plato - real_extract_plato(original_plato, apparent_plato)
    return attenuated / (2.0665 - 0.010665 * original_plato)


def alcohol_by_volume_percent(
    original_plato: float, apparent_plato: float, final_gravity: float
) -> float:
    """% vol by Balling, from % by mass, the drink's SG 20/20 (0.98 to 1.13) and ethanol's."""
    check_range("final gravity", final_gravity, 0.98, 1.13)
    return alcohol_by_mass_percent(original_plato, apparent_plato) * final_gravity / 0.7907


def _check(original_plato: float, apparent_plato: float) -> None:
    check_range("original extract", original_plato, 0.0, 30.0, "°P")
    check_range("apparent extract", apparent_plato, -3.0, max(original_plato, 0.0), "°P")
