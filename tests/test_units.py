"""Typed amounts and temperatures against tables, against pint in fractions, and at random."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewlog.units import (
    _MASS_UNITS,
    _VOLUME_UNITS,
    METRIC,
    US,
    Dimension,
    Quantity,
    UnitError,
    amounts_in,
    ask_degrees,
    fitting_unit,
    in_unit,
    parse_number,
    parse_quantity,
    parse_temperature,
    show_quantity,
    show_temperature,
    temperatures_in,
    typed_in,
)


@pytest.mark.parametrize(
    ("typed", "unit"), [("75", "C"), ("68.5", "C"), ("100°", "C"), ("22", "F")]
)
def test_bare_degrees_that_are_usual_in_the_other_are_asked_about(typed, unit):
    number = typed.rstrip("°")
    with pytest.raises(UnitError, match=f"Write {number} C or {number} F"):
        ask_degrees(typed, unit)


@pytest.mark.parametrize(
    ("typed", "unit"),
    [
        ("24", "C"),
        ("75 F", "C"),
        ("75 C", "C"),
        ("-18", "C"),
        ("75", "F"),
        ("22 C", "F"),
        ("-1", "F"),
        ("", "C"),
    ],
)
def test_degrees_that_say_which_or_are_usual_are_taken_as_they_are(typed, unit):
    ask_degrees(typed, unit)


MASS, VOLUME, COUNT = Dimension.MASS, Dimension.VOLUME, Dimension.COUNT


# Exact by definition: NIST Handbook 44, Appendix C (pound 453.592 37 g, US gallon
# 3.785 411 784 L); the Weights and Measures Act 1985, Schedule 1 (gallon 4.546 09 L).
@pytest.mark.parametrize(
    ("typed", "canonical", "dimension"),
    [
        ("12.5 kg", 12_500_000, MASS),
        ("12,5kg", 12_500_000, MASS),
        ("  12.5   KG ", 12_500_000, MASS),
        ("12.5\u00a0kg", 12_500_000, MASS),
        ("12.5 kg.", 12_500_000, MASS),
        ("500 g", 500_000, MASS),
        (".5 g", 500, MASS),
        ("1 234,5 kg", 1_234_500_000, MASS),
        ("1'234.5 kg", 1_234_500_000, MASS),
        ("1.234,5 kg", 1_234_500_000, MASS),
        ("1,234.5 kg", 1_234_500_000, MASS),
        ("1 t", 1_000_000_000, MASS),
        ("1 lb", 453_592, MASS),  # 453 592.37 mg
        ("16 oz", 453_592, MASS),
        ("40 L", 40_000_000, VOLUME),
        ("40 litres", 40_000_000, VOLUME),
        ("40 \u2113", 40_000_000, VOLUME),
        ("250 µL", 250, VOLUME),
        ("250 \u03bcL", 250, VOLUME),  # the Greek letter instead of the micro sign
        ("1 gal", 3_785_412, VOLUME),  # 3 785 411.784 µL
        ("1.5 US gal", 5_678_118, VOLUME),  # 5 678 117.676 µL
        ("1 imp gal", 4_546_090, VOLUME),
        ("12 fl oz", 354_882, VOLUME),  # 354 882.354 75 µL
        ("12 fl. oz.", 354_882, VOLUME),
        ("2 hl", 200_000_000, VOLUME),
        ("240", 240, COUNT),
        ("240.0", 240, COUNT),
        ("1 240 bottles", 1_240, COUNT),
        ("0", 0, COUNT),
        ("0 kg", 0, MASS),
    ],
)
def test_an_amount_is_read_into_whole_canonical_units(typed, canonical, dimension):
    found = parse_quantity(typed, *Dimension)
    assert (found.canonical, found.dimension) == (canonical, dimension)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("1,234 kg", "could be a thousand or a decimal"),
        ("-1,234 kg", "could be a thousand or a decimal"),
        ("7.0.3 kg", "too many decimal marks"),
        ("1,2,3 kg", "too many decimal marks"),
        ("1.23,4.5 kg", "too many decimal marks"),
        ("1,2345.6 kg", "too many decimal marks"),
        ("1 23 kg", "not an amount"),
        ("-5 kg", "less than nothing"),
        ("\u22125 kg", "less than nothing"),
        ("5 kg 3 g", "not an amount"),
        ("kg", "not an amount"),
        ("", "not an amount"),
        ("-", "not an amount"),
        ("some", "not an amount"),
        ("\u00bd kg", "not an amount"),
        ("10\u00b2 kg", "not an amount"),
        ("\u0665 kg", "not an amount"),  # an Arabic-Indic five
        ("1e3 kg", "not an amount"),
        ("NaN kg", "not an amount"),
        ("5 stone", "not a unit known here"),
        ("5 \u212a", "not an amount"),  # the Kelvin sign is no kilogram
        ("2.5 bottles", "not a whole number"),
        ("1000000000000 L", "more than any brewery"),
        ("9" * 50 + " kg", "more than any brewery"),
        ("1" + "0" * 80 + " kg", "too long"),
    ],
)
def test_what_is_not_an_amount_is_refused_with_what_to_write(typed, words):
    with pytest.raises(UnitError, match=words) as refusal:
        parse_quantity(typed, *Dimension)
    assert str(refusal.value).endswith(".")


def test_a_bare_number_is_a_mass_or_volume_only_where_a_unit_is_agreed():
    with pytest.raises(UnitError, match="has no unit. Write it like 12.5 kg"):
        parse_quantity("12.5", MASS)
    assert parse_quantity("12.5", MASS, default_unit="kg") == Quantity(12_500_000, MASS, "12.5 kg")
    assert parse_quantity("3.", VOLUME, default_unit="gal").text == "3 gal"


def test_the_unit_written_wins_over_the_agreed_one():
    assert parse_quantity("500 g", MASS, default_unit="kg") == Quantity(500_000, MASS, "500 g")


def test_another_dimension_is_refused_by_name():
    with pytest.raises(UnitError, match="'5 kg' is a mass; here a volume is needed, like 40 L"):
        parse_quantity("5 kg", VOLUME)
    with pytest.raises(UnitError, match="'5 bottles'|'bottles' is not a unit"):
        parse_quantity("5 bottles", MASS)


def test_half_a_unit_goes_to_the_even_one():
    assert parse_quantity("0.5 mg", MASS).canonical == 0
    assert parse_quantity("1.5 mg", MASS).canonical == 2
    assert parse_quantity("2.5 mg", MASS).canonical == 2


def test_three_tenths_less_three_times_a_tenth_is_nothing():
    a_tenth = parse_quantity("0.1 kg", MASS).canonical
    assert parse_quantity("0.3 kg", MASS).canonical - 3 * a_tenth == 0


@pytest.mark.parametrize(
    ("unit", "name", "canonical_unit"),
    [(unit, name, "milligram") for unit, name in _MASS_UNITS.items()]
    + [(unit, name, "microliter") for unit, name in _VOLUME_UNITS.items()],
)
def test_every_unit_agrees_with_pint_in_exact_fractions(unit, name, canonical_unit):
    exact = pint.UnitRegistry(non_int_type=Fraction)
    factor = exact.Quantity(Fraction(37, 10), name).to(canonical_unit).magnitude
    found = parse_quantity(f"3.7 {unit}", MASS, VOLUME).canonical
    assert abs(found - factor) <= Fraction(1, 2)


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("12.5", "12.5"),
        ("12,5", "12.5"),
        ("0,125", "0.125"),
        (",5", "0.5"),
        ("1.048", "1.048"),
        ("-0.3", "-0.3"),
        ("\u22120,3", "-0.3"),
        ("+4", "4"),
        ("1 234 567", "1234567"),
        ("1\u202f234,5", "1234.5"),
        ("1,234,567", "1234567"),
        ("1.234.567,8", "1234567.8"),
        ("1,234,567.8", "1234567.8"),
    ],
)
def test_a_number_is_read_with_a_point_or_a_comma(typed, number):
    assert parse_number(typed) == Decimal(number)


@pytest.mark.parametrize(
    "typed",
    ["1,048", "3 31", "1_000", "1e5", "inf", "nan", "7.0.3", "1,23,456", "4.", "--1", "", "0x10"],
)
def test_what_could_be_misread_is_no_number(typed):
    with pytest.raises(UnitError):
        parse_number(typed)


@given(st.decimals(-(10**9), 10**9, places=4, allow_nan=False))
def test_any_number_written_with_a_point_or_grouped_comes_back(number):
    assert parse_number(f"{number:f}") == number
    assert parse_number(f"{number:,f}".replace(",", " ")) == number


@given(
    st.decimals(0, 10**6, places=3, allow_nan=False),
    st.sampled_from([*_MASS_UNITS, *_VOLUME_UNITS]),
)
def test_the_text_kept_reads_back_as_the_same_amount(number, unit):
    try:
        first = parse_quantity(f"{number:f} {unit}", MASS, VOLUME)
    except UnitError as refusal:
        assert "more than any brewery" in str(refusal)  # noqa: PT017
        return
    assert parse_quantity(first.text, MASS, VOLUME) == first


@given(
    st.integers(0, 10**14),
    st.sampled_from([MASS, VOLUME]),
    st.sampled_from([METRIC, US]),
)
def test_what_is_shown_reads_back_within_four_figures(canonical, dimension, system):
    shown = parse_quantity(show_quantity(canonical, dimension, system), dimension)
    assert abs(shown.canonical - canonical) <= max(1, canonical * 0.0005)


@given(st.integers(0, 10**15))
def test_a_count_is_shown_whole(count):
    assert parse_quantity(show_quantity(count, COUNT), COUNT).canonical == count


@pytest.mark.parametrize(
    ("canonical", "dimension", "metric", "us"),
    [
        (40_000_000, VOLUME, "40 L", "10.57 gal"),
        (999_000, VOLUME, "999 mL", "33.78 fl oz"),
        (12_345, VOLUME, "12.34 mL", "0.4174 fl oz"),
        (12_500_000, MASS, "12.5 kg", "27.56 lb"),
        (1_000_000, MASS, "1 kg", "2.205 lb"),
        (1_234_567_890, MASS, "1 235 kg", "2 722 lb"),
        (-2_500_000, VOLUME, "-2.5 L", "-84.54 fl oz"),
        (0, VOLUME, "0 L", "0 gal"),
        (0, MASS, "0 kg", "0 lb"),
        (1_240, COUNT, "1 240", "1 240"),
    ],
)
def test_amounts_are_shown_in_the_readers_units(canonical, dimension, metric, us):
    assert show_quantity(canonical, dimension, METRIC) == metric
    assert show_quantity(canonical, dimension, US) == us


@pytest.mark.parametrize(
    ("typed", "celsius"),
    [
        ("70 °F", "21.11"),  # 190/9
        ("70F", "21.11"),
        ("212 °F", "100.00"),
        ("-40 °F", "-40.00"),
        ("21.5 °C", "21.50"),
        ("21,5", "21.50"),
        ("21 °", "21.00"),
        ("21 \u00baC", "21.00"),  # the ordinal sign of an Iberian keyboard
        ("21 \u2103", "21.00"),
        ("70 \u2109", "21.11"),
        ("\u22122 °C", "-2.00"),
        ("0", "0.00"),
        ("294.15 K", "21.00"),
    ],
)
def test_a_temperature_is_read_into_degrees_celsius(typed, celsius):
    assert parse_temperature(typed) == Decimal(celsius)


def test_a_bare_temperature_is_in_the_readers_degrees():
    assert parse_temperature("70", "F") == Decimal("21.11")
    assert parse_temperature("70 °", "F") == Decimal("21.11")
    assert parse_temperature("70 °C", "F") == Decimal("70.00")


@pytest.mark.parametrize("typed", ["", "warm", "°C", "21 X", "1,234 °C", "2150", "-300", "7.0.3"])
def test_what_no_brewery_meets_is_no_temperature(typed):
    with pytest.raises(UnitError):
        parse_temperature(typed)


def test_a_temperature_is_read_as_cold_and_as_hot_as_a_brewery_meets_it_and_no_further():
    assert [parse_temperature(typed) for typed in ("-60", "160")] == [-60, 160]
    for typed in ("-60.1", "160.1"):
        with pytest.raises(UnitError, match="a brewery meets"):
            parse_temperature(typed)


@given(st.decimals(-40, 150, places=1, allow_nan=False))
def test_a_temperature_shown_reads_back(celsius):
    assert parse_temperature(show_temperature(celsius, METRIC)) == celsius
    assert abs(parse_temperature(show_temperature(celsius, US)) - celsius) <= Decimal("0.04")


@pytest.mark.parametrize(
    ("canonical", "dimension", "system", "unit", "amount"),
    [
        (2_500_000, "mass", METRIC, "kg", 2.5),
        (250_000, "mass", METRIC, "g", 250),
        (1_000_000, "mass", METRIC, "kg", 1),
        (0, "volume", METRIC, "L", 0),
        (7, "volume", METRIC, "µL", 7),
        (3_785_412, "volume", US, "gal", 1.0),
        (12, "count", US, "pieces", 12),
    ],
)
def test_an_amount_is_drawn_in_the_largest_unit_it_has_one_of(
    canonical, dimension, system, unit, amount
):
    assert fitting_unit(canonical, dimension, system) == unit
    assert in_unit(canonical, dimension, unit) == pytest.approx(amount, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("temperature 6.2 °C", "temperature 43.2 °F"),
        ("read at 21.11 °C (70 °F)", "read at 70 °F"),
        # A limit is law in its own unit.
        ("6.2 °C; the limit is ≤ 5 °C", "43.2 °F; the limit is ≤ 41.0 °F (5 °C)"),
        ("≤\u00a05\u00a0°C", "≤\u00a041.0 °F (5 °C)"),
        ("the limit is ≤ 21.11 °C (70 °F)", "the limit is ≤ 70 °F (21.11 °C)"),
        ("kept at 20 to 24 °C", "kept at 68.0 to 75.2 °F"),
        ("kept at 20\u201324 °C", "kept at 68.0\u201375.2 °F"),
        ("\u221218 °C", "\u22120.4 °F"),
        ("Write it like 21.5 °C or 70 °F.", "Write it like 21.5 °C or 70 °F."),
        ("'300 °C' is none", "'300 °C' is none"),
        ("pH 3.40 and 6.2 °C", "pH 3.40 and 43.2 °F"),
        ("pH 4.60; the limit is ≤ 4.2 pH", "pH 4.60; the limit is ≤ 4.2 pH"),
    ],
)
def test_the_temperatures_of_a_sentence_are_the_readers(text, read):
    assert temperatures_in(text, US) == read
    assert temperatures_in(text, METRIC) == text


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("5.00 % starter (1.5 L of 30 L)", "5.00 % starter (50.72 fl oz of 7.925 gal)"),
        ("1 500 g more left than was there (2.0 %)", "3.307 lb more left than was there (2.0 %)"),
        ("4.2 g/L and 12 left", "4.2 g/L and 12 left"),
    ],
)
def test_the_amounts_of_a_sentence_are_the_readers(text, read):
    assert amounts_in(text, US) == read
    assert amounts_in(text, METRIC) == text


@pytest.mark.parametrize("reader", [METRIC, US])
def test_amounts_beside_typed_ones_are_in_their_system_where_they_agree(reader):
    assert typed_in(["600 g", "5 g/L", "1 t"], reader) is METRIC
    assert typed_in(["1.5 lb", "2 oz"], reader) is US
    assert typed_in(["600 g", "1 lb"], reader) is reader
    assert typed_in(["12", "3 bottles", ""], reader) is reader
