"""Answers in the reader's units, and the range beside each input."""

from __future__ import annotations

import pytest

from brewlog.calculations import BY_SLUG
from brewlog.calculations.base import METRIC, Units
from brewlog.calculations.carbonation import GaugeForm
from brewlog.calculations.measuring import HydrometerForm
from brewlog.models import User
from brewlog.science.errors import OutOfRange

US = Units(us=True)


# One gallon is 3.785411784 L, one fluid ounce 29.5735 mL, one pound 0.45359237 kg, one psi
# 0.0689476 bar (NIST SP 811, appendix B.8).
@pytest.mark.parametrize(
    ("shown", "metric", "us"),
    [
        (lambda units: units.volume(37.85411784), "37.9 L", "10.00 gal"),
        (lambda units: units.fill(354.882), "354.9 mL", "12.00 fl oz"),
        (lambda units: units.mass(4.5359237), "4.54 kg", "10.00 lb"),
        (lambda units: units.temperature(20), "20 °C", "68 °F"),
        (lambda units: units.pressure(2.0684), "2.1 bar", "30 psi (2.1 bar)"),
        (lambda units: units.strength(7.489), "7.5 g/L", "1.00 oz/gal (7.5 g/L)"),
    ],
)
def test_an_amount_is_told_in_the_readers_units(shown, metric, us):
    assert (shown(METRIC), shown(US)) == (metric, us)


def test_a_temperature_out_of_range_is_told_in_the_readers_degrees():
    error = OutOfRange("target temperature", 10, 20, 80, "°C")

    assert METRIC.sentence(error) == str(error)
    assert US.sentence(error) == (
        "Target temperature of 50 °F is outside the range 68 to 176 °F for which this "
        "calculation holds."
    )


def test_what_is_no_temperature_is_told_as_it_is():
    error = OutOfRange("sugar", 900, 0, 500, "g/L")

    assert US.sentence(error) == str(error)


@pytest.mark.parametrize(("units", "reach"), [("metric", "0 to 40 °C."), ("us", "32 to 104 °F.")])
def test_the_range_of_an_input_stands_beside_it(units, reach):
    form = GaugeForm(actor=User(units=units))

    assert form.fields["temperature"].help_text == reach
    assert form.fields["volumes"].help_text == "0 to 10."


def test_a_temperature_beyond_its_range_is_asked_again():
    typed = {"reading": "1.02", "temperature": "110"}

    metric = HydrometerForm(typed, actor=User(units="metric"))
    us = HydrometerForm(typed, actor=User(units="us"))

    assert metric.errors["temperature"] == ["110 is outside 0 to 40 °C, for which this holds."]
    assert us.errors["temperature"] == ["110 is outside 32 to 104 °F, for which this holds."]


@pytest.mark.parametrize("slug", sorted(BY_SLUG))
def test_every_number_asked_for_says_its_range(slug):
    form = BY_SLUG[slug].form(actor=User())

    silent = [
        name
        for name, field in form.fields.items()
        if hasattr(field, "least") and not any(mark.isdigit() for mark in field.help_text)
    ]
    assert silent == []
