from __future__ import annotations

import datetime as dt

import pytest
from biip import ParseConfig
from biip.gs1_messages import GS1Message
from hypothesis import given
from hypothesis import strategies as st

from brewlog import gs1

# GS1, "How to calculate a check digit manually" (gs1.org); GS1 UK and GS1 Sweden sheets;
# the UPC-A example printed in encyclopedias. The 952 prefix is kept for demonstrations.
PUBLISHED_CHECK_DIGITS = [
    ("629104150021", "3"),
    ("501234567890", "0"),
    ("501234567421", "6"),
    ("730001100001", "7"),
    ("03600024145", "7"),
    ("952012345678", "8"),
    ("1952012345678", "5"),
    ("39520123456789012", "3"),
]


@pytest.mark.parametrize(("digits", "expected"), PUBLISHED_CHECK_DIGITS)
def test_check_digit_matches_published_examples(digits, expected):
    assert gs1.check_digit(digits) == expected


def test_check_digit_refuses_what_is_not_digits():
    with pytest.raises(gs1.Gs1Error, match="not all digits"):
        gs1.check_digit("62910A")


@pytest.mark.parametrize(
    ("gtin", "padded"),
    [
        ("96385074", "00000096385074"),  # the usual example of an EAN-8, from memory
        ("6291041500213", "06291041500213"),
        ("036000241457", "00036000241457"),
        ("9520123 456788", "09520123456788"),
        ("19520123456785", "19520123456785"),
    ],
)
def test_gtin_is_padded_to_fourteen_digits(gtin, padded):
    assert gs1.gtin14(gtin) == padded


def test_gtin_with_a_wrong_check_digit_is_refused_with_the_right_one():
    with pytest.raises(gs1.Gs1Error, match="ends in 4.*would be 3"):
        gs1.gtin14("6291041500214")


@pytest.mark.parametrize("gtin", ["", "123", "629104150021x", "٦٢٩١٠٤١٥٠٠٢١٣"])
def test_gtin_of_another_shape_is_refused(gtin):
    with pytest.raises(gs1.Gs1Error, match="is not a GTIN"):
        gs1.gtin14(gtin)


@pytest.mark.parametrize("code", ["", "L 1", "Lé", "L#1", "L" * 21])
def test_lot_code_that_gs1_cannot_carry_is_refused(code):
    with pytest.raises(gs1.Gs1Error, match="does not fit a GS1 barcode"):
        gs1.lot_element(code)


def test_trade_item_puts_the_lot_last_and_needs_no_separator():
    elements = gs1.trade_item("9520123456788", dt.date(2027, 2, 27), "KB2611A")
    assert gs1.element_string(elements) == "010952012345678815270227" + "10KB2611A"
    assert gs1.readable(elements) == "(01)09520123456788(15)270227(10)KB2611A"


def test_lot_before_a_date_is_ended_by_a_separator():
    # The worked example of the case 19520123456785, expiring 27 Feb 2027.
    elements = [
        gs1.Element("01", "19520123456785"),
        gs1.lot_element("KB2611A"),
        gs1.date_element("17", dt.date(2027, 2, 27)),
    ]
    assert gs1.element_string(elements) == "011952012345678510KB2611A\x1d17270227"


# GS1 General Specifications, "Element strings with predefined length" (from memory): a net
# weight (3103) has one, a serial number (21) and a count (37) have none.
@pytest.mark.parametrize(
    ("identifier", "is_predefined"),
    [("00", True), ("11", True), ("17", True), ("19", True), ("20", True), ("3103", True),
     ("3639", True), ("410", True), ("10", False), ("21", False), ("30", False), ("37", False)],
)  # fmt: skip
def test_scanners_know_the_length_of_some_elements(identifier, is_predefined):
    assert gs1.Element(identifier, "000750").is_predefined is is_predefined


@pytest.mark.parametrize(
    ("best_before", "code", "address"),
    [
        (None, "KB2611A", "https://id.gs1.org/01/09520123456788/10/KB2611A"),
        (dt.date(2027, 2, 27), "K/1", "https://id.gs1.org/01/09520123456788/10/K%2F1?15=270227"),
    ],
)
def test_a_digital_link_names_the_lot_in_its_path_and_the_date_behind_it(
    best_before, code, address
):
    assert gs1.digital_link(gs1.trade_item("9520123456788", best_before, code)) == address


LOT_CODES = st.text(
    alphabet="ABCDEFGHIJKLMNOPQRSTUVWXYZabcxyz0123456789!\"%&'()*+,-./:;<=>?_",
    min_size=1,
    max_size=20,
)


@given(
    digits=st.text(alphabet="0123456789", min_size=12, max_size=12),
    day=st.dates(dt.date(2000, 1, 1), dt.date(2049, 12, 31)),
    code=LOT_CODES,
)
def test_every_trade_item_is_read_back_by_an_independent_parser(digits, day, code):
    gtin = digits + gs1.check_digit(digits)
    # Prefixes 02 and 20 to 29 are a region's own to price by weight: their inside is not ours.
    config = ParseConfig(rcn_verify_variable_measure=False)
    message = GS1Message.parse(gs1.element_string(gs1.trade_item(gtin, day, code)), config=config)
    assert [(e.ai.ai, e.value) for e in message.element_strings] == [
        ("01", gtin.rjust(14, "0")),
        ("15", f"{day:%y%m%d}"),
        ("10", code),
    ]
