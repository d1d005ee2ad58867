"""Net content of weighed bottles, and where the litres of a batch went."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from brewlog.science.errors import check_range
from brewlog.science.uncertainty import Measured, combined

CALCULATION_VERSION = "1"

SOURCE_CONTENT = (
    "net mass over density, with the buoyancy of air; one-sided Student interval on the average "
    "(from memory)"
)
AIR_G_PER_ML = 0.0012
# Scales are adjusted with weights taken to be of this density.
WEIGHTS_G_PER_ML = 8.0


@dataclass(frozen=True)
class FillCheck:
    """Fill of weighed bottles against the label, volumes in mL at 20 °C.

    `average_not_below_label` holds where the average reaches the label; `shown_at_95`, where
    the sample shows it with 95 % confidence. `short` are bottles under the label by more than
    the tolerated shortfall, by their place in the sample (from 1).
    """

    bottles: int
    average_ml: float
    standard_deviation_ml: float
    standard_uncertainty_ml: float
    lower_95_ml: float
    label_ml: float
    average_not_below_label: bool
    shown_at_95: bool
    under_label: int
    short: tuple[int, ...]
    volumes_ml: tuple[float, ...]
    suggested_target_ml: float
    source: str = SOURCE_CONTENT
    calculation_version: str = CALCULATION_VERSION


@dataclass(frozen=True)
class Loss:
    """Litres that left a batch at one step, and why."""

    step: str
    litres: float
    u_litres: float = 0.0


@dataclass(frozen=True)
class YieldAccount:
    """Where the litres of a batch went; shares are of the litres that came in."""

    litres_in: float
    litres_filled: float
    litres_lost: float
    unexplained_l: float
    standard_uncertainty_l: float
    unexplained_is_clear: bool
    yield_share: float
    by_step: dict[str, float]
    calculation_version: str = CALCULATION_VERSION


def net_volume_ml(gross_g: float, tare_g: float, density_g_per_ml: float) -> float:
    """mL in one bottle from its weight full and empty and the drink's density.

    Weights in g, tare 0 to gross; density at 20 °C 0.95 to 1.2 g/mL, of the degassed drink
    (dissolved CO2 adds about 0.1 %). Corrected for the buoyancy of air, which a litre would
    otherwise be short of by 1 mL. Raises OutOfRange.
    """
    check_range("tare", tare_g, 0.0, math.inf, "g")
    check_range("gross weight", gross_g, tare_g, math.inf, "g")
    check_range("density", density_g_per_ml, 0.95, 1.2, "g/mL")
    weighed = (gross_g - tare_g) * (1.0 - AIR_G_PER_ML / WEIGHTS_G_PER_ML)
    return weighed / (density_g_per_ml - AIR_G_PER_ML)


def check_fill(
    gross_g: Sequence[float],
    tare_g: float | Sequence[float],
    density_g_per_ml: Measured,
    label_ml: float,
    tolerated_shortfall_ml: float = 0.0,
    tare_spread_g: float = 0.0,
    u_scale_g: float = 0.5,
) -> FillCheck:
    """Average and spread of the fill of two or more weighed bottles against the label.

    `tare_g` is one weight per bottle, or the average of empty bottles; the standard deviation
    among those, `tare_spread_g`, is then taken out of the spread of the fills. Label > 0 mL; the
    tolerated shortfall of a single bottle is the law's, given by the caller. The suggested
    target is the average to set so that with this spread the label is reached on average,
    shown by a sample of this size. Raises OutOfRange; ValueError for fewer than two bottles.
    """
    n = len(gross_g)
    if n < 2:
        raise ValueError("Weigh at least two bottles.")
    check_range("label", label_ml, 1e-6, math.inf, "mL")
    check_range("tolerated shortfall", tolerated_shortfall_ml, 0.0, label_ml, "mL")
    density, u_density = density_g_per_ml
    tares = [tare_g] * n if isinstance(tare_g, float | int) else tare_g
    if len(tares) != n:
        raise ValueError("Give one tare per bottle, or the average tare.")
    check_range("spread of the tares", tare_spread_g, 0.0, math.inf, "g")
    volumes = np.array(
        [net_volume_ml(gross, tare, density) for gross, tare in zip(gross_g, tares, strict=True)]
    )
    average = float(volumes.mean())
    seen = float(volumes.std(ddof=1))
    of_tare = tare_spread_g / density
    deviation = math.sqrt(max(seen**2 - of_tare**2, 0.0))
    # The sample's scatter, tare's included, blurs the average; density and scale shift it.
    shared = combined(average * u_density / density, u_scale_g / density)
    u = combined(seen / math.sqrt(n), shared)
    factor = float(stdtrit(n - 1, 0.95))
    lower = average - factor * u
    short = tuple(
        i for i, ml in enumerate(volumes, start=1) if ml < label_ml - tolerated_shortfall_ml
    )
    return FillCheck(
        bottles=n,
        average_ml=average,
        standard_deviation_ml=deviation,
        standard_uncertainty_ml=u,
        lower_95_ml=lower,
        label_ml=label_ml,
        average_not_below_label=average >= label_ml,
        shown_at_95=lower >= label_ml,
        under_label=int((volumes < label_ml).sum()),
        short=short,
        volumes_ml=tuple(volumes.tolist()),
        suggested_target_ml=label_ml + factor * u,
    )


def yield_account(
    litres_in: Measured, litres_filled: Measured, losses: Sequence[Loss]
) -> YieldAccount:
    """Litres in against litres filled and lost by step, and what neither explains.

    Litres > 0 in, the rest >= 0; uncertainties are standard. Unexplained may be negative: more
    was filled than came in. It is clear where it exceeds 1.96 of its uncertainty. Raises
    OutOfRange. Exact subtraction.
    """
    check_range("litres in", litres_in[0], 1e-9, math.inf, "L")
    check_range("litres filled", litres_filled[0], 0.0, math.inf, "L")
    by_step: dict[str, float] = {}
    for loss in losses:
        check_range(f"loss at {loss.step}", loss.litres, 0.0, math.inf, "L")
        by_step[loss.step] = by_step.get(loss.step, 0.0) + loss.litres
    lost = sum(by_step.values())
    unexplained = litres_in[0] - litres_filled[0] - lost
    u = combined(litres_in[1], litres_filled[1], *(loss.u_litres for loss in losses))
    return YieldAccount(
        litres_in=litres_in[0],
        litres_filled=litres_filled[0],
        litres_lost=lost,
        unexplained_l=unexplained,
        standard_uncertainty_l=u,
        unexplained_is_clear=abs(unexplained) > 1.959964 * u,
        yield_share=litres_filled[0] / litres_in[0],
        by_step=by_step,
    )
