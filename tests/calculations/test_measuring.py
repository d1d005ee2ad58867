"""Readings put right, as pages use them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from brewlog.calculations import acid, measuring
from brewlog.calculations.measuring import MeterForm
from brewlog.domain import checkpoints
from brewlog.entries import BY_SLUG as ENTRY
from brewlog.models import User
from tests import factories


def test_a_warm_hydrometer_reading_is_lifted():
    # 1.050 read at 30 °C on a 20 °C stem is 1.05284 (first principles, glass 25e-6 per K).
    answer = measuring.hydrometer(
        for_lot=None, reading=Decimal("1.050"), temperature=Decimal(30), calibrated=None
    )

    assert answer.headline == "1.0528 at 20 °C."


def test_a_cold_refractometer_reading_is_lowered():
    # OIV-MA-AS2-02 Table I: -0.62 at 10 °C and 15 %.
    answer = measuring.refractometer(for_lot=None, reading=Decimal(15), temperature=Decimal(10))

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


@pytest.mark.django_db
class TestKeeping:
    @pytest.fixture
    def batch(self, operator):
        return factories.batch(operator, code="B7")

    def kept(self, actor, answer):
        """The reading recorded as the entry would, with the fields as they are sent."""
        form = ENTRY[answer.keep.entry].form(
            {**answer.keep.fields, "when": "2026-03-12 09:00", "reason": "test"}, actor=actor
        )
        assert form.is_valid(), form.errors
        return checkpoints.record_reading(actor=actor, **form.cleaned_data)

    def test_a_corrected_gravity_keeps_what_was_read_and_how(self, operator, batch):
        answer = measuring.hydrometer(
            for_lot=batch, reading=Decimal("1.0200"), temperature=Decimal(28), calibrated=None
        )

        reading = self.kept(operator, answer)

        assert (reading.lot_id, reading.measurand) == (batch.pk, "sg")
        assert answer.headline == f"{reading.value:.4f} at 20 °C."
        assert "read 1.0200 at 28 °C, made for 20 °C" in reading.note
        assert reading.note.endswith("calculation 1.")

    def test_a_corrected_brix_keeps_what_was_read(self, operator, batch):
        answer = measuring.refractometer(
            for_lot=batch, reading=Decimal(10), temperature=Decimal(25)
        )

        reading = self.kept(operator, answer)

        assert answer.headline.startswith(f"{reading.value:.2f} °Bx at 20 °C")
        assert reading.value > 10
        assert "Refractometer read 10 °Bx at 25 °C" in reading.note

    def test_a_titration_keeps_what_ran_from_the_burette(self, operator, batch):
        answer = acid.titration(
            for_lot=batch, titrant=Decimal("8.3"), strength=Decimal("0.1"), sample=Decimal(10)
        )

        reading = self.kept(operator, answer)

        # 8.3 x 0.1 x 60.052 / 10 = 4.98 g/L (AOAC 942.15, factor 0.060).
        assert (reading.measurand, float(reading.value)) == ("total_acidity", 4.98)
        assert "8.3 mL of 0.1 mol/L sodium hydroxide on 10 mL" in reading.note

    def test_without_a_lot_nothing_is_offered(self):
        answer = measuring.refractometer(for_lot=None, reading=Decimal(10), temperature=Decimal(25))

        assert answer.keep is None
