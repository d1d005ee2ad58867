"""Reading what people write as a reading."""

from __future__ import annotations

from decimal import Decimal

import pytest

from brewlog.domain.readings import read_at_most, read_value
from brewlog.recording import Refused


@pytest.mark.parametrize(
    ("measurand", "typed", "kept", "shown"),
    [
        ("ph", "3.45", "3.45", "3.45"),
        ("ph", "3,45", "3.45", "3,45"),
        ("ph", "3.4512", "3.4512", "3.4512"),
        ("ph", " pH 3.1 ", "3.1", "pH 3.1"),
        ("ph", "0", "0", "0"),
        ("ph", "13.9", "13.9", "13.9"),  # unlikely, possible
        ("temperature", "21.5", "21.5", "21.5 °C"),
        ("temperature", "21,5 °C", "21.5", "21,5 °C"),
        ("temperature", "70 °F", "21.11", "70 °F"),
        ("temperature", "-18", "-18", "-18 °C"),
        ("sg", "1.045", "1.045", "1.045"),
        ("sg", "1,045", "1.045", "1,045"),
        ("brix", "8.5 °Bx", "8.5", "8.5 °Bx"),
        ("total_acidity", "5.2 g/L", "5.2", "5.2 g/L"),
        ("alcohol", "0.42 % vol", "0.42", "0.42 % vol"),
        ("pressure", "2.5", "2.5", "2.5 bar"),
        # NIST SP 811, appendix B.8: 1 psi = 6.894757 kPa, so 36 psi = 2.482 bar.
        ("pressure", "36 psi", "2.4821", "36 psi"),
        ("pressure", "250 kPa", "2.5", "250 kPa"),
        ("fill", "330", "330", "330 mL"),
        # US fluid ounce 29.5735295625 mL (NIST SP 811): 12 fl oz = 354.882 mL.
        ("fill", "12 fl oz", "354.882", "12 fl oz"),
    ],
)
def test_a_reading_is_kept_in_its_unit_beside_the_text(measurand, typed, kept, shown):
    read = read_value(measurand, typed)

    assert (read.value, read.text) == (Decimal(kept), shown)


def test_a_bare_temperature_is_in_the_units_of_the_one_who_reads():
    read = read_value("temperature", "68", temperature_unit="F")

    assert (read.value, read.text) == (Decimal("20"), "68 °F")


@pytest.mark.parametrize(
    ("measurand", "typed", "words"),
    [
        ("ph", "31", r"Did you mean 3\.1\?"),
        ("ph", "345", r"Did you mean 3\.45\?"),
        ("ph", "7.0.3", r"Did you mean 7\.03\?"),
        ("ph", "3,3,1", r"Did you mean 3\.31\?"),
        ("ph", "70 °F", "is a temperature"),
        ("ph", "-1", "between 0 and 14"),
        ("ph", "14.01", "between 0 and 14"),
        ("ph", "sour", "not a reading. Write it like 3.45"),
        ("sg", "1045", r"Did you mean 1\.045\?"),
        ("sg", "0.89", "between 0.9 and 1.2"),
        ("brix", "85", r"Did you mean 8\.5\?"),
        ("temperature", "140", "Did you mean 140 °F"),
        ("temperature", "140 °C", "Did you mean 14"),
        ("temperature", "-40", "between -30 and 110"),
        ("alcohol", "101", r"Did you mean 10\.1\?"),
        ("pressure", "36", r"Did you mean 3\.6\?"),
        ("pressure", "hard", "not a pressure"),
        ("fill", "330 g", "is a mass"),
    ],
)
def test_what_cannot_have_been_read_is_refused_with_the_likely_slip(measurand, typed, words):
    with pytest.raises(Refused, match=words) as refusal:
        read_value(measurand, typed)

    assert list(refusal.value.message_dict) == ["value"]


def test_a_result_below_what_the_laboratory_can_see_keeps_its_sign():
    read = read_at_most("alcohol", "<0.05 %")

    assert (read.value, read.text) == (Decimal("0.05"), "< 0.05 %")
