"""pH meters: buffer values by temperature, electrode slope and offset, and acceptance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from brewlog.science.errors import OutOfRange, check_range

CALCULATION_VERSION = "1"

SOURCE_ELECTRODE = "Nernst slope ln(10) R T / F with the exact SI constants (CODATA 2018)"
SOURCE_ACCEPTANCE = "common practice of instrument makers (from memory)"

_GAS_CONSTANT = 8.31446261815324
_FARADAY = 96485.33212331


class Buffer(StrEnum):
    """Buffers whose pH by temperature is known here."""

    TETROXALATE = "tetroxalate 0.05 mol/kg"
    PHTHALATE = "phthalate 0.05 mol/kg"
    PHOSPHATE = "phosphate 0.025 mol/kg, equimolal"
    PHOSPHATE_1_TO_3_5 = "phosphate 1:3.5"
    BORAX = "borax 0.01 mol/kg"
    CARBONATE = "carbonate 0.025 mol/kg"
    TECHNICAL_4 = "technical pH 4.00 (US)"
    TECHNICAL_7 = "technical pH 7.00 (US)"
    TECHNICAL_10 = "technical pH 10.01 (US)"


class Acceptance(StrEnum):
    """What to do with a meter after calibration."""

    GOOD = "good"
    CLEAN = "clean or replace soon"
    REJECT = "do not use until cleaned and calibrated again"


_TABLE_C = (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0)
# The pH standards: IUPAC 2002 (Buck et al.) and NBS/NIST tables, from memory; phthalate agrees
# within 0.01 with Hetzer et al., J. Res. NBS 81A (1977) 21, which was read. The technical
# buffers: an instrument maker's printed table, read.
_BUFFERS: dict[Buffer, tuple[float, ...]] = {
    Buffer.TETROXALATE: (
        1.666, 1.668, 1.670, 1.672, 1.675, 1.679, 1.683, 1.688, 1.694, 1.700, 1.707,
    ),
    Buffer.PHTHALATE: (
        4.000, 3.998, 3.997, 3.998, 4.000, 4.005, 4.011, 4.018, 4.027, 4.038, 4.050,
    ),
    Buffer.PHOSPHATE: (
        6.984, 6.951, 6.923, 6.900, 6.881, 6.865, 6.853, 6.844, 6.838, 6.834, 6.833,
    ),
    Buffer.PHOSPHATE_1_TO_3_5: (
        7.534, 7.500, 7.472, 7.448, 7.429, 7.413, 7.400, 7.389, 7.380, 7.373, 7.367,
    ),
    Buffer.BORAX: (
        9.464, 9.395, 9.332, 9.276, 9.225, 9.180, 9.139, 9.102, 9.068, 9.038, 9.011,
    ),
    Buffer.CARBONATE: (
        10.317, 10.245, 10.179, 10.118, 10.062, 10.012, 9.966, 9.925, 9.889, 9.856, 9.828,
    ),
    Buffer.TECHNICAL_4: (4.00, 4.00, 4.00, 4.00, 4.00, 4.00, 4.01, 4.02, 4.03, 4.04, 4.06),
    Buffer.TECHNICAL_7: (7.12, 7.09, 7.06, 7.04, 7.02, 7.00, 6.99, 6.99, 6.98, 6.98, 6.97),
    Buffer.TECHNICAL_10: (
        10.32, 10.25, 10.18, 10.12, 10.06, 10.01, 9.97, 9.93, 9.89, 9.86, 9.83,
    ),
}  # fmt: skip

GOOD_SLOPE_PERCENT = (95.0, 102.0)
USABLE_SLOPE_PERCENT = (90.0, 105.0)
MAX_OFFSET_MV = 30.0
MAX_RESIDUAL_PH = 0.05


@dataclass(frozen=True)
class Calibration:
    """A straight line of electrode potential over pH - 7, with the verdict on it."""

    temperature_c: float
    slope_mv_per_ph: float
    offset_mv: float
    slope_percent: float
    largest_residual_ph: float
    acceptance: Acceptance
    reasons: tuple[str, ...]
    source: str = SOURCE_ELECTRODE
    calculation_version: str = CALCULATION_VERSION


def buffer_ph(buffer: Buffer, temperature_c: float) -> float:
    """pH of a fresh buffer at 0 to 50 °C, between the table's 5 °C steps by straight line.

    Uncertainty 0.005, 0.01 below 10 °C; technical buffers 0.01 as printed. Raises OutOfRange.
    Source: IUPAC 2002 and NIST tables (from memory); technical buffers from a maker's table
    (read).
    """
    check_range("buffer temperature", temperature_c, 0.0, 50.0, "°C")
    return float(np.interp(temperature_c, _TABLE_C, _BUFFERS[buffer]))


def nernst_slope_mv_per_ph(temperature_c: float) -> float:
    """Potential per unit of pH of an ideal electrode, mV, -10 to 100 °C. Exact (CODATA 2018)."""
    check_range("temperature", temperature_c, -10.0, 100.0, "°C")
    return 1000.0 * math.log(10.0) * _GAS_CONSTANT * (temperature_c + 273.15) / _FARADAY


def calibrate(points: Sequence[tuple[float, float]], temperature_c: float) -> Calibration:
    """Electrode slope and offset from two or more (buffer pH, potential in mV) points.

    Least squares of mV = offset + slope (pH - 7); with two points the line through both.
    Slope percent is against the ideal electrode at `temperature_c` (0 to 50 °C). Raises
    OutOfRange for a pH outside 0 to 14, a potential beyond 1000 mV, or buffers less than one
    pH unit apart; ValueError for fewer than two points. Source: `SOURCE_ELECTRODE`.
    """
    if len(points) < 2:
        raise ValueError("A calibration needs at least two buffers.")
    for ph, potential_mv in points:
        check_range("buffer pH", ph, 0.0, 14.0)
        check_range("potential", potential_mv, -1000.0, 1000.0, "mV")
    check_range("buffer temperature", temperature_c, 0.0, 50.0, "°C")
    x = np.array([ph - 7.0 for ph, _ in points])
    y = np.array([potential_mv for _, potential_mv in points])
    spread = float(np.ptp(x))
    if spread < 1.0:
        raise OutOfRange("distance between the buffers", spread, 1.0, 14.0, "pH")
    slope = float(((x - x.mean()) * (y - y.mean())).sum() / ((x - x.mean()) ** 2).sum())
    offset = float(y.mean() - slope * x.mean())
    slope_percent = -100.0 * slope / nernst_slope_mv_per_ph(temperature_c)
    # A line can be drawn through dead electrodes too: without slope there is no pH residual.
    residual = float(np.abs((y - offset - slope * x) / slope).max()) if slope else math.inf
    acceptance, reasons = _accept(slope_percent, offset, residual)
    return Calibration(temperature_c, slope, offset, slope_percent, residual, acceptance, reasons)


def _accept(
    slope_percent: float, offset_mv: float, residual_ph: float
) -> tuple[Acceptance, tuple[str, ...]]:
    reject, clean = [], []
    if not USABLE_SLOPE_PERCENT[0] <= slope_percent <= USABLE_SLOPE_PERCENT[1]:
        reject.append(f"slope {slope_percent:.1f} % is outside 90 to 105 %")
    elif not GOOD_SLOPE_PERCENT[0] <= slope_percent <= GOOD_SLOPE_PERCENT[1]:
        clean.append(f"slope {slope_percent:.1f} % is outside 95 to 102 %")
    if abs(offset_mv) > MAX_OFFSET_MV:
        clean.append(f"offset {offset_mv:+.1f} mV is beyond 30 mV")
    if residual_ph > MAX_RESIDUAL_PH:
        reject.append(f"a buffer lies {residual_ph:.2f} pH off the line, more than 0.05")
    if reject:
        return Acceptance.REJECT, tuple(reject + clean)
    if clean:
        return Acceptance.CLEAN, tuple(clean)
    return Acceptance.GOOD, ()
