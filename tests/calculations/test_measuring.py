"""Readings put right, as pages use them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from brewlog.calculations import measuring
from brewlog.calculations.measuring import MeterForm
from brewlog.models import User


def test_a_warm_hydrometer_reading_is_lifted():
    # 1.050 read at 30 °C on a 20 °C stem is 1.05284 (first principles, glass 25e-6 per K).
    answer = measuring.hydrometer(
        reading=Decimal("1.050"), temperature=Decimal(30), calibrated=None
    )

    assert answer.headline == "1.0528 at 20 °C."


def test_a_cold_refractometer_reading_is_lowered():
    # OIV-MA-AS2-02 Table I: -0.62 at 10 °C and 15 %.
    answer = measuring.refractometer(reading=Decimal(15), temperature=Decimal(10))

    assert answer.headline.startswith("14.38 °Bx") or answer.headline.startswith("14.39 °Bx")


@pytest.mark.parametrize(
    ("value", "scale"),
    [("10", "brix"), ("1.03998", "SG 20/20 °C, true (in vacuum)"), ("1.34782", "index")],
)
def test_ten_brix_is_ten_brix_from_every_scale(value, scale):
    # NBS Circular 440 and ICUMSA: 10 % is SG 1.03998 and refractive index 1.34782.
    answer = measuring.scales(value=Decimal(value), scale=scale)

    assert answer.headline in {"10.00 °Bx.", "9.99 °Bx.", "10.01 °Bx."}


class TestTheMeter:
    def test_slope_and_offset_of_two_buffers(self):
        # (4.005, +172.1), (6.865, +5.2) at 25 °C: slope -58.357 mV, 98.64 %, offset -2.68 mV.
        answer = measuring.meter(points=[(4.005, 172.1), (6.865, 5.2)], temperature=Decimal(25))

        assert answer.headline == "Slope 98.6 %, offset -2.7 mV."

    def test_buffers_are_typed_a_line_each(self):
        form = MeterForm(
            {"points": "4.01 172,1\n\n7.00: 0.5 mV", "temperature": "25 C"}, actor=User()
        )

        assert form.is_valid(), form.errors
        assert form.cleaned_data["points"] == [(4.01, 172.1), (7.0, 0.5)]

    def test_what_is_no_buffer_is_named(self):
        form = MeterForm({"points": "four and some", "temperature": "25 C"}, actor=User())

        assert "'four and some' is not a buffer" in form.errors["points"][0]
