"""Typed in other units and converted by pint, the calculations give the same answers."""

from __future__ import annotations

import pint
import pytest

from brewlog.science import carbonation, instruments, mixing, sugar

UNITS = pint.UnitRegistry()


def celsius(fahrenheit: float) -> float:
    return float(UNITS.Quantity(fahrenheit, "degF").to("degC").magnitude)


def test_a_sixty_fahrenheit_stem_reads_true_at_sixty_fahrenheit() -> None:
    at_60f = celsius(60.0)
    gravity = instruments.hydrometer_gravity_at_20c(1.040, at_60f, at_60f)
    scale = sugar.GravityScale
    expected = sugar.convert_specific_gravity(1.040, scale.TRUE_60_60_F, scale.TRUE_20_20)
    assert gravity == pytest.approx(expected, abs=1e-6)


def test_a_keg_set_in_psi_and_fahrenheit() -> None:
    bar = UNITS.Quantity(12.0, "psi").to("bar").magnitude
    # 12 psi at 38 F: 2.57 volumes on the usual chart for beer (from memory), which holds less.
    volumes = carbonation.volumes_at_gauge(bar, celsius(38.0))
    assert volumes == pytest.approx(2.57, rel=0.07)


@pytest.mark.parametrize("unit", ["gallon", "imperial_gallon", "quart", "liter"])
def test_a_recipe_scaled_in_any_unit_of_volume_is_the_same_recipe(unit: str) -> None:
    litres = UNITS.Quantity(5.0, unit).to("liter").magnitude
    per_unit = {"sugar": UNITS.Quantity(70.0, "gram/liter").to(f"gram/{unit}").magnitude}
    by_litre = mixing.scale_recipe({"sugar": 70.0}, litres).amounts["sugar"]
    by_unit = mixing.scale_recipe(per_unit, 5.0).amounts["sugar"]
    assert by_unit == pytest.approx(by_litre, rel=1e-9)
