"""Acids: titratable acidity, and the pH of starter mixed into sweet tea.

A liquid is described by its pools of weak acid and by its net strong charge (potassium and the
like, less chloride and the like), both in mol/L. Both mix in proportion; pH does not, and is
found from the charge balance. Titration fixes the pool, the measured pH fixes the charge.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from scipy.optimize import brentq

from brewlog.science.errors import OutOfRange, check_range
from brewlog.science.results import Result, Step
from brewlog.science.uncertainty import propagate

CALCULATION_VERSION = "1"

SOURCE_TITRATION = "AOAC 942.15: titration to pH 8.1, 0.060 g acetic acid per mmol (read)"
SOURCE_PH = (
    "charge balance with Davies activity coefficients; acid constants at 25 °C from memory "
    "(acetic 4.756, carbonic 6.352 and 10.329, malic 3.459 and 5.097, water 13.995); gluconic "
    "3.75, published values from 3.3 to 3.92"
)

ACETIC_MOLAR_MASS = 60.052
TITRATION_ENDPOINT_PH = 8.1
DAVIES_A = 0.509
PKW = 13.995
# No titration curve of tea has been published; this much diprotic acid is an assumption.
TEA_BUFFER_MMOL_PER_L = 3.0
GLUCONIC_SHARE = 0.15


@dataclass(frozen=True, eq=False)
class Acid:
    """A weak acid: name, dissociation constants as pKa at 25 °C, molar mass in g/mol.

    Each acid is one pool: two acids are the same only if they are the same object.
    """

    name: str
    pka: tuple[float, ...]
    molar_mass: float


ACETIC = Acid("acetic acid", (4.756,), ACETIC_MOLAR_MASS)
GLUCONIC = Acid("gluconic acid", (3.75,), 196.155)
MALIC = Acid("malic acid", (3.459, 5.097), 134.087)
CARBONIC = Acid("carbonic acid", (6.352, 10.329), 62.025)
# Tea's own buffering, as a diprotic acid with the constants of malic acid.
TEA_ACIDS = Acid("tea acids", MALIC.pka, MALIC.molar_mass)


@dataclass(frozen=True)
class AcidLiquid:
    """A liquid's acid pools and net strong positive charge, both in mol/L."""

    pools: Mapping[Acid, float] = field(default_factory=dict)
    strong_charge_mol_per_l: float = 0.0


def titratable_acidity(
    titrant_ml: float,
    titrant_mol_per_l: float,
    sample_ml: float,
    u_titrant_ml: float = 0.0,
    u_titrant_mol_per_l: float = 0.0,
    u_sample_ml: float = 0.0,
) -> Result:
    """Total acidity in g/L as acetic acid from a titration with sodium hydroxide to pH 8.1.

    Titrant 0 to 1000 mL of 0.001 to 2 mol/L, sample 0.1 to 1000 mL, degassed first: dissolved
    CO2 titrates too, 1.5 g/L of it as 2 g/L of acetic acid. Raises OutOfRange. Source:
    AOAC 942.15 (read).
    """
    check_range("titrant used", titrant_ml, 0.0, 1000.0, "mL")
    check_range("titrant strength", titrant_mol_per_l, 0.001, 2.0, "mol/L")
    check_range("sample", sample_ml, 0.1, 1000.0, "mL")

    def acidity(used: float, strength: float, sample: float) -> float:
        return used * strength * ACETIC_MOLAR_MASS / sample

    value, u = propagate(
        acidity,
        (titrant_ml, u_titrant_ml),
        (titrant_mol_per_l, u_titrant_mol_per_l),
        (sample_ml, u_sample_ml),
    )
    return Result(
        quantity="total acidity as acetic acid",
        value=value,
        unit="g/L",
        standard_uncertainty=u,
        method="mL titrant x mol/L x 60.052 / mL sample",
        source=SOURCE_TITRATION,
        steps=(Step("acid neutralised", titrant_ml * titrant_mol_per_l, "mmol"),),
        supports="following acidity, and the alcohol estimates that use it",
        cannot_support="how much of the acid is acetic and how much gluconic",
        calculation_version=CALCULATION_VERSION,
        lowest=0.0,
    )


def ph_of(liquid: AcidLiquid) -> float:
    """pH at 25 °C of a liquid described by pools and charge (0 to 2 mol/L each).

    Numerics within 0.002 of PHREEQC at the same constants up to ionic strength 0.1; the
    constants themselves leave 0.1. From 15 to 35 °C acetic acid moves it by less than 0.02.
    Raises OutOfRange for a negative pool. Source: `SOURCE_PH`.
    """
    for acid, pool in liquid.pools.items():
        check_range(acid.name, pool, 0.0, 2.0, "mol/L")
    check_range("strong charge", liquid.strong_charge_mol_per_l, -2.0, 2.0, "mol/L")
    strength, ph = 0.0, 7.0
    for _ in range(_MAX_ROUNDS):
        log_gamma = _log_gamma(strength)
        ph = float(brentq(_charge_at, -1.0, 15.0, args=(liquid, log_gamma), xtol=1e-10))
        _, updated = _ions(liquid, ph, log_gamma)
        if abs(updated - strength) < 1e-10:
            break
        strength = updated
    return ph


def titratable_acidity_of(liquid: AcidLiquid, endpoint_ph: float = TITRATION_ENDPOINT_PH) -> float:
    """g/L as acetic acid that a titration to `endpoint_ph` (6 to 9) would find in the liquid."""
    check_range("endpoint pH", endpoint_ph, 6.0, 9.0)
    base = _charge_needed(liquid.pools, endpoint_ph) - liquid.strong_charge_mol_per_l
    return base * ACETIC_MOLAR_MASS


# Cached: propagation moves one input at a time and describes the other liquid again.
@lru_cache(maxsize=64)
def describe_starter(
    ph: float, titratable_acidity_g_per_l: float, gluconic_share: float = GLUCONIC_SHARE
) -> AcidLiquid:
    """A starter of measured pH (2 to 5) and total acidity (0.5 to 40 g/L as acetic).

    The acid is taken as acetic with a mole share of gluconic acid (0 to 1). Raises OutOfRange,
    also where so little acid could not bring the liquid to so low a pH.
    """
    check_range("starter pH", ph, 2.0, 5.0)
    check_range("starter acidity", titratable_acidity_g_per_l, 0.5, 40.0, "g/L as acetic")
    check_range("gluconic share", gluconic_share, 0.0, 1.0)
    titratable = titratable_acidity_g_per_l / ACETIC_MOLAR_MASS
    shares = {ACETIC: 1.0 - gluconic_share, GLUCONIC: gluconic_share}
    # Acid not yet dissociated in the sample is what the titration finds: nearly all of it.
    total = titratable
    pools = shares
    for _ in range(_MAX_ROUNDS):
        pools = {acid: total * share for acid, share in shares.items()}
        found = _charge_needed(pools, TITRATION_ENDPOINT_PH) - _charge_needed(pools, ph)
        total *= titratable / found
        if abs(titratable - found) < 1e-11:
            break
    charge = _charge_needed(pools, ph)
    if charge < -0.01:
        raise OutOfRange("starter pH", ph, ph_of(AcidLiquid(pools)), 5.0)
    return AcidLiquid(pools, charge)


@lru_cache(maxsize=64)
def describe_tea(
    ph: float = 5.6,
    alkalinity_mmol_per_l: float = 0.0,
    buffer_mmol_per_l: float = TEA_BUFFER_MMOL_PER_L,
) -> AcidLiquid:
    """Sweet tea brewed in water of that bicarbonate alkalinity (0 to 10 mmol/L).

    `ph` (3.5 to 8) is that of the tea in pure water; the water's bicarbonate is added to it
    with none of its CO2 lost, the least favourable case. Divide alkalinity in mg/L as calcium
    carbonate by 50.04 for mmol/L. Tea's own buffering, 0 to 20 mmol/L of a diprotic acid, is
    an assumption. Raises OutOfRange.
    """
    check_range("tea pH", ph, 3.5, 8.0)
    check_range("alkalinity", alkalinity_mmol_per_l, 0.0, 10.0, "mmol/L")
    check_range("tea buffering", buffer_mmol_per_l, 0.0, 20.0, "mmol/L")
    pools = {TEA_ACIDS: buffer_mmol_per_l / 1000.0}
    charge = _charge_needed(pools, ph)
    bicarbonate = alkalinity_mmol_per_l / 1000.0
    return AcidLiquid({**pools, CARBONIC: bicarbonate}, charge + bicarbonate)


def mix(starter: AcidLiquid, tea: AcidLiquid, starter_share: float) -> AcidLiquid:
    """The two liquids mixed, `starter_share` (0 to 1) of the volume being starter."""
    check_range("starter share", starter_share, 0.0, 1.0)
    acids = {**starter.pools, **tea.pools}
    pools = {
        acid: starter_share * starter.pools.get(acid, 0.0)
        + (1.0 - starter_share) * tea.pools.get(acid, 0.0)
        for acid in acids
    }
    charge = (
        starter_share * starter.strong_charge_mol_per_l
        + (1.0 - starter_share) * tea.strong_charge_mol_per_l
    )
    return AcidLiquid(pools, charge)


def starter_share_for_ph(starter: AcidLiquid, tea: AcidLiquid, target_ph: float) -> float:
    """Volume share of starter that brings the mixture to `target_ph`.

    Raises OutOfRange unless the target lies between the starter's pH and the tea's. Source:
    `SOURCE_PH`.
    """
    sour, mild = ph_of(starter), ph_of(tea)
    if not sour <= target_ph <= mild:
        raise OutOfRange("target pH", target_ph, sour, mild)
    return _share_at(starter, tea, target_ph)


def ph_after_pitching(
    starter_ph: tuple[float, float],
    starter_acidity_g_per_l: tuple[float, float],
    starter_share: tuple[float, float],
    alkalinity_mmol_per_l: tuple[float, float] = (1.0, 0.5),
    tea_ph: tuple[float, float] = (5.6, 0.3),
) -> Result:
    """pH expected after pitching, every input a (value, standard uncertainty) pair.

    Ranges as `describe_starter`, `describe_tea` and `mix`. Also carried: the gluconic share
    0.15 +- 0.15 and the tea's buffering 3 +- 1.5 mmol/L, both assumed, and 0.05 pH for the acid
    constants, of which gluconic acid's is known to 0.2. Raises OutOfRange. Source: `SOURCE_PH`.
    """

    starter = describe_starter(starter_ph[0], starter_acidity_g_per_l[0])
    tea = describe_tea(tea_ph[0], alkalinity_mmol_per_l[0])
    blend = mix(starter, tea, starter_share[0])
    value = ph_of(blend)

    # Charge left over at the pH found; its uncertainty over its slope is that of the pH.
    def left_over(
        ph: float, ta: float, share: float, alkalinity: float, tea_at: float, g: float, b: float
    ) -> float:
        liquid = mix(describe_starter(ph, ta, g), describe_tea(tea_at, alkalinity, b), share)
        return liquid.strong_charge_mol_per_l - _charge_needed(liquid.pools, value)

    _, u_charge = propagate(
        left_over,
        starter_ph,
        starter_acidity_g_per_l,
        starter_share,
        alkalinity_mmol_per_l,
        tea_ph,
        *_ASSUMED,
    )
    slope = (
        _charge_needed(blend.pools, value + 0.005) - _charge_needed(blend.pools, value - 0.005)
    ) / 0.01
    u = u_charge / slope
    return Result(
        quantity="pH after pitching",
        value=value,
        unit="pH",
        # The acid constants move starter and mixture alike, so little of their doubt is left.
        standard_uncertainty=math.hypot(u, _U_CONSTANTS),
        method="charge balance of starter and tea with Davies activity",
        source=SOURCE_PH,
        steps=(
            *(Step(f"{acid.name} in the mixture", c, "mol/L") for acid, c in blend.pools.items()),
            Step("net strong charge", blend.strong_charge_mol_per_l, "mol/L"),
            Step("total acidity of the mixture", titratable_acidity_of(blend), "g/L as acetic"),
        ),
        supports="choosing how much starter to keep back and add",
        cannot_support="that the limit was met: only the measured pH of the mixture counts",
        calculation_version=CALCULATION_VERSION,
    )


def starter_needed(
    starter_ph: tuple[float, float],
    starter_acidity_g_per_l: tuple[float, float],
    target_ph: float,
    alkalinity_mmol_per_l: tuple[float, float] = (1.0, 0.5),
    tea_ph: tuple[float, float] = (5.6, 0.3),
    least_share: float = 0.0,
) -> Result:
    """Volume share of starter that brings sweet tea to `target_ph`, never below `least_share`.

    Inputs as `ph_after_pitching`; `least_share` (0 to 1) is whatever minimum binds. Raises
    OutOfRange, also where no share of this starter reaches the target. Source: `SOURCE_PH`.
    """
    check_range("least starter share", least_share, 0.0, 1.0)

    def outcome(ph: float, ta: float, alkalinity: float, tea: float, g: float, b: float) -> float:
        return _share_at(describe_starter(ph, ta, g), describe_tea(tea, alkalinity, b), target_ph)

    starter = describe_starter(starter_ph[0], starter_acidity_g_per_l[0])
    tea = describe_tea(tea_ph[0], alkalinity_mmol_per_l[0])
    starter_share_for_ph(starter, tea, target_ph)
    share, u = propagate(
        outcome, starter_ph, starter_acidity_g_per_l, alkalinity_mmol_per_l, tea_ph, *_ASSUMED
    )
    chosen = max(share, least_share)
    return Result(
        quantity="starter needed",
        value=chosen,
        unit="share of the volume",
        standard_uncertainty=u,
        method="charge balance solved for the share, not below the minimum that binds",
        source=SOURCE_PH,
        steps=(
            Step("share by acidity alone", share),
            Step("least share that binds", least_share),
            Step("pH expected at the share chosen", ph_of(mix(starter, tea, chosen))),
        ),
        supports="choosing how much starter to keep back and add",
        cannot_support="that the limit was met: only the measured pH of the mixture counts",
        calculation_version=CALCULATION_VERSION,
        lowest=0.0,
        highest=1.0,
    )


_MAX_ROUNDS = 60
# mol/L; worth 1e-7 in pH.
_SETTLED_STRENGTH = 1e-7
_U_CONSTANTS = 0.05
_ASSUMED = ((GLUCONIC_SHARE, 0.15), (TEA_BUFFER_MMOL_PER_L, 1.5))


def _share_at(starter: AcidLiquid, tea: AcidLiquid, ph: float) -> float:
    # At a known pH and ionic strength the charge balance is linear in the share.
    share, strength = 0.1, 0.0
    for _ in range(_MAX_ROUNDS):
        log_gamma = _log_gamma(strength)
        of_starter, starter_strength = _ions(starter, ph, log_gamma)
        of_tea, tea_strength = _ions(tea, ph, log_gamma)
        updated = min(max(of_tea / (of_tea - of_starter), 0.0), 1.0)
        strength = updated * starter_strength + (1.0 - updated) * tea_strength
        if abs(updated - share) < 1e-10:
            break
        share = updated
    return updated


def _log_gamma(ionic_strength: float) -> float:
    """log10 of the activity coefficient of a singly charged ion (Davies)."""
    root = math.sqrt(ionic_strength)
    return -DAVIES_A * (root / (1.0 + root) - 0.3 * ionic_strength)


def _ions(liquid: AcidLiquid, ph: float, log_gamma: float) -> tuple[float, float]:
    """Net charge and ionic strength in mol/L at that pH (an activity)."""
    hydrogen, hydroxide = 10.0 ** (-ph - log_gamma), 10.0 ** (ph - PKW - log_gamma)
    charge = hydrogen - hydroxide + liquid.strong_charge_mol_per_l
    doubled_strength = hydrogen + hydroxide + abs(liquid.strong_charge_mol_per_l)
    for acid, pool in liquid.pools.items():
        # {A^z} / {HA} = 10^(sum(pH - pKa)); a concentration is its activity over gamma^(z z).
        log_ratio, ratios, charges, squares = 0.0, 1.0, 0.0, 0.0
        for z, pka in enumerate(acid.pka, start=1):
            log_ratio += ph - pka
            ratio = 10.0 ** (log_ratio - z * z * log_gamma)
            ratios += ratio
            charges += z * ratio
            squares += z * z * ratio
        charge -= pool * charges / ratios
        doubled_strength += pool * squares / ratios
    return charge, 0.5 * doubled_strength


def _charge_at(ph: float, liquid: AcidLiquid, log_gamma: float) -> float:
    return _ions(liquid, ph, log_gamma)[0]


def _charge_needed(pools: Mapping[Acid, float], ph: float) -> float:
    """Net strong charge, mol/L, that holds these pools at that pH."""
    alone = AcidLiquid(pools)
    strength, charge = 0.0, 0.0
    for _ in range(_MAX_ROUNDS):
        balance, of_acids = _ions(alone, ph, _log_gamma(strength))
        charge = -balance
        updated = of_acids + 0.5 * abs(charge)
        if abs(updated - strength) < _SETTLED_STRENGTH:
            break
        strength = updated
    return charge
