"""Buffers and electrodes against the published equations and the constants of nature."""

from __future__ import annotations

import pytest
from scipy import constants

from brewlog.science import ph_meter
from brewlog.science.ph_meter import Acceptance, Buffer

from .tables import rows


def hetzer_phthalate(temperature_c: float) -> float:
    """Hetzer et al., J. Res. NBS 81A (1977) 21, 0 to 60 C (read)."""
    kelvin = temperature_c + 273.15
    return 2073.44 / kelvin - 13.3270 + 0.045199 * kelvin - 3.4846e-5 * kelvin**2


def hamer_phthalate(temperature_c: float) -> float:
    """Hamer, J. Res. NBS 36 (1946) 47 (read)."""
    kelvin = temperature_c + 273.15
    return 1336.08 / kelvin - 5.2678 + 0.016069 * kelvin


@pytest.mark.parametrize(
    "temperature_c", [0.5, 8.0, 12.5, 18.0, 20.0, 25.0, 31.0, 37.0, 44.0, 50.0]
)
def test_phthalate_follows_the_published_equations(temperature_c: float) -> None:
    value = ph_meter.buffer_ph(Buffer.PHTHALATE, temperature_c)
    assert value == pytest.approx(hetzer_phthalate(temperature_c), abs=0.011)
    # Hamer's older scale runs up to 0.013 higher at the cold end.
    assert value == pytest.approx(hamer_phthalate(temperature_c), abs=0.014)


COLUMNS = ("0C", "5C", "10C", "15C", "20C", "25C", "30C", "35C", "40C", "45C", "50C")


@pytest.mark.parametrize(
    ("buffer", "name"),
    [
        (Buffer.TECHNICAL_4, "4.00 (US technical)"),  # read, an instrument maker's table
        (Buffer.TECHNICAL_7, "7.00 (US technical)"),  # read
        (Buffer.TECHNICAL_10, "10.01 (US technical)"),  # read
        (Buffer.TETROXALATE, "tetroxalate 0.05m"),  # from memory, NIST and IUPAC 2002
        (Buffer.PHOSPHATE, "phosphate equimolal 0.025m"),  # from memory
        (Buffer.PHOSPHATE_1_TO_3_5, "phosphate 1:3.5"),  # from memory
        (Buffer.BORAX, "borax 0.01m"),  # from memory
        (Buffer.CARBONATE, "carbonate 0.025m"),  # from memory
        (Buffer.PHTHALATE, "phthalate 0.05m (IUPAC2002)"),  # from memory
    ],
)
def test_buffers_have_their_tabulated_values(buffer: Buffer, name: str) -> None:
    (row,) = (row for row in rows("ph_buffers") if row["buffer"] == name)
    for column in COLUMNS:
        value = ph_meter.buffer_ph(buffer, float(column[:-1]))
        assert value == pytest.approx(float(row[column]), abs=1e-9), column


@pytest.mark.parametrize("row", rows("nernst_slope"), ids=lambda row: row["T_C"])
def test_the_ideal_slope_is_that_of_codata(row: dict[str, str]) -> None:
    temperature_c = float(row["T_C"])
    slope = ph_meter.nernst_slope_mv_per_ph(temperature_c)
    assert slope == pytest.approx(float(row["slope_mV_per_pH"]), abs=1e-3)
    faraday = constants.value("Faraday constant")
    by_scipy = 2302.585092994046 * constants.R * (temperature_c + 273.15) / faraday
    assert slope == pytest.approx(by_scipy, abs=1e-6)


@pytest.mark.parametrize(
    ("points", "temperature_c", "slope", "offset", "percent"),
    # Worked by hand from the two- and three-point lines.
    [
        ([(4.005, 172.1), (6.865, 5.2)], 25.0, -58.357, -2.68, 98.64),
        ([(4.005, 172.1), (6.865, 5.2), (9.180, -128.4)], 25.0, -58.079, -2.09, 98.17),
        ([(4.002, 168.0), (6.881, 4.0)], 20.0, -56.964, None, 97.93),
    ],
)
def test_calibration_examples(points, temperature_c, slope, offset, percent) -> None:
    calibration = ph_meter.calibrate(points, temperature_c)
    assert calibration.slope_mv_per_ph == pytest.approx(slope, abs=1e-3)
    assert calibration.slope_percent == pytest.approx(percent, abs=0.01)
    assert calibration.acceptance is Acceptance.GOOD
    if offset is not None:
        assert calibration.offset_mv == pytest.approx(offset, abs=0.01)


@pytest.mark.parametrize(
    ("points", "ph"),
    [
        ([(4.005, 172.1), (6.865, 5.2)], 3.184),
        ([(4.005, 172.1), (6.865, 5.2), (9.180, -128.4)], 3.176),
    ],
)
def test_a_sample_at_220_millivolts(points, ph: float) -> None:
    calibration = ph_meter.calibrate(points, 25.0)
    by_the_line = 7.0 + (220.0 - calibration.offset_mv) / calibration.slope_mv_per_ph
    assert by_the_line == pytest.approx(ph, abs=1e-3)
