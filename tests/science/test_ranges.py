"""Every stated range holds: its ends are answered, and just beyond is refused in a sentence."""

from __future__ import annotations

import math

import pytest

from brewlog.science import (
    acidity,
    alcohol,
    alcohol_learning,
    attenuation,
    bottle_pressure,
    bottling_plan,
    carbonation,
    composition,
    ethanol,
    instruments,
    kinetics,
    mixing,
    ph_meter,
    sugar,
    water,
)
from brewlog.science.alcohol_learning import LaboratoryPair
from brewlog.science.errors import OutOfRange
from brewlog.science.mixing import Liquid

SG, BX, TA = (1.014, 0.0), (4.6, 0.0), (5.0, 0.0)
SUGAR = (60.0, 0.0)
WATER = Liquid(5.0, 60.0)

RANGES = {
    "water density": (water.water_density_kg_per_m3, 0.0, 100.0),
    "vapour pressure": (water.water_vapour_pressure_kpa, 0.0, 100.0),
    "sucrose density by sugar": (
        lambda x: sugar.sucrose_solution_density_kg_per_m3(x, 20.0), 0.0, 80.0,
    ),
    "sucrose density by temperature": (
        lambda x: sugar.sucrose_solution_density_kg_per_m3(10.0, x), 0.0, 80.0,
    ),
    "gravity from Brix": (sugar.specific_gravity_from_brix, 0.0, 80.0),
    "Brix from gravity": (sugar.brix_from_specific_gravity, 0.99, 1.41),
    "sugar per litre": (lambda x: sugar.sugar_g_per_l_from_brix(x), 0.0, 80.0),
    "Brix from sugar": (lambda x: sugar.brix_from_sugar_g_per_l(x), 0.0, 1100.0),
    "refractive index": (instruments.refractive_index_from_brix, -1.0, 30.0),
    "Brix from index": (instruments.brix_from_refractive_index, 1.3315, 1.3812),
    "refractometer reading": (
        lambda x: instruments.refractometer_correction_brix(x, 25.0), 0.0, 30.0,
    ),
    "refractometer temperature": (
        lambda x: instruments.refractometer_correction_brix(10.0, x), 10.0, 30.0,
    ),
    "hydrometer reading": (lambda x: instruments.hydrometer_gravity_at_20c(x, 20.0), 0.99, 1.13),
    "hydrometer temperature": (
        lambda x: instruments.hydrometer_gravity_at_20c(1.02, x), 0.0, 40.0,
    ),
    "hydrometer calibration": (
        lambda x: instruments.hydrometer_gravity_at_20c(1.02, 20.0, x), 15.0, 25.0,
    ),
    "liquid temperature": (
        lambda x: mixing.mixing_temperature([Liquid(1.0, x), WATER]), 0.0, 100.0,
    ),
    "ice temperature": (lambda x: mixing.mixing_temperature([WATER], 0.5, x), -40.0, 0.0),
    "headspace of a vessel": (lambda x: mixing.largest_batch({"tea": 5.0}, {}, 20.0, x), 0.0, 0.9),
    "concentrate sugar": (lambda x: mixing.largest_concentrate(50, x, 30, 10, 40), 0.0, 500.0),
    "titrant": (lambda x: acidity.titratable_acidity(x, 0.1, 10.0), 0.0, 1000.0),
    "titrant strength": (lambda x: acidity.titratable_acidity(5.0, x, 10.0), 0.001, 2.0),
    "titrated sample": (lambda x: acidity.titratable_acidity(5.0, 0.1, x), 0.1, 1000.0),
    "starter acidity": (lambda x: acidity.describe_starter(3.6, x), 0.5, 40.0),
    "tea pH": (acidity.describe_tea, 3.5, 8.0),
    "alkalinity": (lambda x: acidity.describe_tea(5.6, x), 0.0, 10.0),
    "tea buffering": (lambda x: acidity.describe_tea(5.6, 0.0, x), 0.0, 20.0),
    "endpoint": (
        lambda x: acidity.titratable_acidity_of(acidity.describe_tea(), x), 6.0, 9.0,
    ),
    "buffer temperature": (
        lambda x: ph_meter.buffer_ph(ph_meter.Buffer.PHOSPHATE, x), 0.0, 50.0,
    ),
    "ideal slope": (ph_meter.nernst_slope_mv_per_ph, -10.0, 100.0),
    "calibration potential": (
        lambda x: ph_meter.calibrate([(4.0, x), (7.0, 0.0)], 25.0), -1000.0, 1000.0,
    ),
    "ethanol by mass": (
        lambda x: ethanol.ethanol_water_density_kg_per_m3(x, 20.0), 0.0, 100.0,
    ),
    "ethanol temperature": (
        lambda x: ethanol.ethanol_water_density_kg_per_m3(5.0, x), -20.0, 40.0,
    ),
    "strength by volume": (ethanol.abw_from_abv, 0.0, 100.0),
    "strength by mass": (ethanol.abv_from_abw, 0.0, 100.0),
    "original extract": (lambda x: attenuation.real_extract_plato(x, -3.0), 0.0, 30.0),
    "apparent extract": (lambda x: attenuation.real_extract_plato(12.0, x), -3.0, 12.0),
    "original gravity": (
        lambda x: alcohol.upper_figure_from_gravity_drop((x, 0.0), (0.99, 0.0)), 1.0, 1.129,
    ),
    "gravity": (lambda x: alcohol.from_gravity_and_brix((x, 0.0), BX), 0.98, 1.13),
    "Brix": (lambda x: alcohol.from_gravity_and_brix(SG, (x, 0.0)), 0.0, 30.0),
    "acidity": (lambda x: alcohol.from_gravity_brix_and_acidity(SG, BX, (x, 0.0)), 0.0, 40.0),
    "initial sugar": (lambda x: alcohol.from_sugar_balance((x, 0.0), SUGAR, TA), 0.0, 300.0),
    "sugar left": (lambda x: alcohol.from_sugar_balance(SUGAR, (x, 0.0), TA), -5.0, 300.0),
    "sugar left under a ceiling": (lambda x: alcohol.ceiling(SUGAR, (x, 0.0)), -5.0, 300.0),
    "sugar for the best estimate": (
        lambda x: alcohol.combined_estimate(SG, BX, TA, (x, 0.0)), 0.0, 300.0,
    ),
    "alcohol now": (lambda x: alcohol.potential_alcohol((x, 0.0), SUGAR), 0.0, 20.0),
    "fermentable sugar": (
        lambda x: alcohol.potential_alcohol((0.5, 0.0), (x, 0.0)), 0.0, 300.0,
    ),
    "fermented fraction": (
        lambda x: alcohol.potential_alcohol((0.5, 0.0), SUGAR, x), 0.0, 1.0,
    ),
    "sugar gone": (lambda x: alcohol_learning.from_sugar_gone((x, 0.0)), 0.0, 300.0),
    "laboratory alcohol": (
        lambda x: alcohol_learning.learn([LaboratoryPair(20.0, x)]), 0.0, 20.0,
    ),
    "composition": (lambda x: composition.expected_readings(40.0, x), 0.0, 80.0),
    "volumes": (carbonation.co2_g_per_l_from_volumes, 0.0, 20.0),
    "solubility": (carbonation.co2_solubility_mol_per_l_atm, 0.0, 40.0),
    "solubility in sugar": (
        lambda x: carbonation.co2_solubility_mol_per_l_atm(20.0, x), 0.0, 150.0,
    ),
    "gas pressure": (lambda x: carbonation.co2_compressibility(20.0, x), 0.0, 40.0),
    "equilibrium": (lambda x: carbonation.equilibrium_gauge_bar(x, 20.0), 0.0, 10.0),
    "gauge": (lambda x: carbonation.volumes_at_gauge(x, 20.0), -0.9, 30.0),
    "target": (lambda x: carbonation.priming_sugar((x, 0.0), (0.8, 0.0)), 0.0, 6.0),
    "residual": (lambda x: carbonation.priming_sugar((2.5, 0.0), (x, 0.0)), 0.0, 6.0),
    "juice": (lambda x: carbonation.addition_by_brix((100.0, 0.0), (x, 0.0)), 0.0, 70.0),
    "label sugar": (
        lambda x: carbonation.addition_by_label((100.0, 0.0), (x, 0.0)), 0.0, 100.0,
    ),
    "bottle temperature": (
        lambda x: bottle_pressure.bottle_pressure((4.0, 0.0), (x, 0.0)), 0.0, 40.0,
    ),
    "headspace": (
        lambda x: bottle_pressure.bottle_pressure((4.0, 0.0), (20.0, 0.0), (x, 0.0)), 0.0, 1.0,
    ),
    "warm sugar": (
        lambda x: bottle_pressure.pressure_if_all_ferments((x, 0.0), (20.0, 0.0), (0.5, 0.0)),
        0.0, 80.0,
    ),
    "safety factor": (
        lambda x: bottle_pressure.judge(
            bottle_pressure.bottle_pressure((4.0, 0.0), (20.0, 0.0)),
            bottle_pressure.Bottle(bottle_pressure.BottleKind.RATED, 8.0),
            x,
        ),
        1.0, 10.0,
    ),
    "filling loss": (
        lambda x: bottling_plan.drink_available((50.0, 0.0), loss_share=(x, 0.0)), 0.0, 0.5,
    ),
    "growth temperature": (kinetics.temperature_factor, -10.0, 60.0),
}  # fmt: skip


@pytest.mark.parametrize("name", RANGES)
def test_a_range_is_answered_to_its_ends_and_no_further(name: str) -> None:
    calculation, low, high = RANGES[name]
    calculation(low)
    calculation(high)
    margin = 1e-4 * (high - low)
    for beyond in (low - margin, high + margin, math.nan):
        with pytest.raises(OutOfRange, match=" is outside the range ") as refusal:
            calculation(beyond)
        assert (refusal.value.low, refusal.value.high) == pytest.approx((low, high))
        assert str(refusal.value).endswith("for which this calculation holds.")
