"""Refractometer and hydrometer against the published tables."""

from __future__ import annotations

import pytest
from iapws._iapws import _Refractive

from brewlog.science import instruments, sugar
from brewlog.science.water import water_density_kg_per_m3

from .tables import rows

# The OIV table itself was read; rows below 10 and above 26 Bx are from memory.
INDEX = rows("refractive_index_brix")
# Water at a reading of zero: computed by iapws from the refractive index of water.
REFRACTOMETER = [
    row for row in rows("refractometer_temp_correction") if 10 <= float(row["T_C"]) <= 30
]
HYDROMETER = rows("hydrometer_temp_correction")


@pytest.mark.parametrize("row", INDEX, ids=lambda row: row["brix"])
def test_refractive_index_scale(row: dict[str, str]) -> None:
    brix, index = float(row["brix"]), float(row["nD20_reference"])
    assert instruments.refractive_index_from_brix(brix) == pytest.approx(index, abs=1e-5)
    assert instruments.brix_from_refractive_index(index) == pytest.approx(brix, abs=0.01)


def test_water_refracts_as_the_iapws_formulation_says() -> None:
    # IAPWS R9-97 at 589.3 nm, over the index of air at 20 C (1.000271, from memory).
    in_vacuum = _Refractive(water_density_kg_per_m3(20.0), 293.15, 0.5893)
    in_air = in_vacuum / 1.000271
    assert instruments.refractive_index_from_brix(0.0) == pytest.approx(in_air, abs=1e-5)


@pytest.mark.parametrize(
    "row", REFRACTOMETER, ids=lambda row: f"{row['T_C']}C-{row['brix_read']}Bx"
)
def test_refractometer_temperature_correction(row: dict[str, str]) -> None:
    correction = instruments.refractometer_correction_brix(
        float(row["brix_read"]), float(row["T_C"])
    )
    assert correction == pytest.approx(float(row["correction_to_add"]), abs=0.03)


@pytest.mark.parametrize(
    "row", HYDROMETER, ids=lambda row: f"{row['reading_SG_20_20']}-{row['T_C']}C"
)
def test_hydrometer_correction_by_sucrose_expansion(row: dict[str, str]) -> None:
    corrected = instruments.hydrometer_gravity_at_20c(
        float(row["reading_SG_20_20"]), float(row["T_C"])
    )
    assert corrected == pytest.approx(float(row["corrected_SG_full_sucrose_expansion"]), abs=1e-6)


@pytest.mark.parametrize("reading", [1.0, 1.012, 1.033, 1.05])
@pytest.mark.parametrize("temperature_c", [10.0, 16.0, 24.0, 30.0])
def test_hydrometer_correction_is_near_the_water_only_form(
    reading: float, temperature_c: float
) -> None:
    glass = 1.0 - 25e-6 * (temperature_c - 20.0)
    water = water_density_kg_per_m3(20.0) / water_density_kg_per_m3(temperature_c)
    corrected = instruments.hydrometer_gravity_at_20c(reading, temperature_c)
    assert corrected == pytest.approx(reading * water * glass, abs=6e-4)


@pytest.mark.parametrize(
    ("brix", "published_correction"),
    # NBS Circular 440 hydrometer table at 30 C (from memory).
    [(5.0, 0.62), (10.0, 0.66)],
)
def test_brix_hydrometer_at_thirty_degrees(brix: float, published_correction: float) -> None:
    reading = sugar.specific_gravity_from_brix(brix)
    gravity = instruments.hydrometer_gravity_at_20c(reading, 30.0)
    correction = sugar.brix_from_specific_gravity(gravity) - brix
    assert correction == pytest.approx(published_correction, abs=0.02)
