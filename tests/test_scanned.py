"""What a scanner typed, read back into what it names."""

from __future__ import annotations

import datetime as dt
from urllib.parse import quote

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewlog import gs1
from brewlog.gs1 import SEPARATOR, Element, Gs1Error
from brewlog.scanned import from_brackets, from_link, read_scan, readings

# The worked example of a case: GTIN 19520123456785, expiring 27 Feb 2027, lot KB2611A.
LOT_LAST = "01195201234567851727022710KB2611A"
LOT_BEFORE_DATE = "011952012345678510KB2611A\x1d17270227"


@pytest.mark.parametrize(
    "typed",
    [
        LOT_LAST,
        f"]C1{LOT_LAST}",
        f"]d2{LOT_LAST}\r\n",
        f"]Q3{SEPARATOR}{LOT_LAST}",
        f"]d2{LOT_BEFORE_DATE}",
        LOT_BEFORE_DATE,
        LOT_BEFORE_DATE.replace(SEPARATOR, "\u241d"),
        LOT_BEFORE_DATE.replace(SEPARATOR, "{GS}"),
        f"{LOT_LAST}{SEPARATOR}",
        "(01)19520123456785(17)270227(10)KB2611A",
        "(01) 19520123456785 (10) KB2611A",
        "https://id.gs1.org/01/19520123456785/10/KB2611A?17=270227",
        "HTTP://brewery.example/eu/01/19520123456785/22/2/10/KB2611A/21/7?linkType=all",
        "]Q1https://brewery.example/01/19520123456785/10/KB2611A/",
    ],
)
def test_every_way_a_scan_arrives_names_the_lot_and_its_product(typed):
    found = read_scan(typed)

    assert (found.lots, found.gtin) == (("KB2611A",), "19520123456785")


def test_a_separator_lost_on_the_way_leaves_each_lot_code_it_may_be():
    found = read_scan(f"]C1{LOT_BEFORE_DATE.replace(SEPARATOR, '')}")

    assert found.lots[0] == "KB2611A17270227"
    assert "KB2611A" in found.lots


@pytest.mark.parametrize("day", ["280229", "280200"])
def test_a_leap_day_and_the_end_of_a_month_are_days(day):
    assert read_scan(f"]C1011952012345678517{day}10A").lots == ("A",)


def test_a_retail_code_is_a_gtin_and_a_plain_one_its_own_text():
    assert read_scan("]E06291041500213").gtin == "06291041500213"
    assert read_scan("]A0TANK 4").text == "TANK 4"


@pytest.mark.parametrize(
    "typed", ["B26147A", "ginger", "01 lemon", "(no label)", "0123456789012345678", "10KB2611A", ""]
)
def test_what_somebody_typed_is_no_scan(typed):
    assert read_scan(typed) is None


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("]C10119520123456786", "check digit of .01. 19520123456786 does not fit"),
        ("]C101195201234", "cut short"),
        ("]d2", "nothing in it"),
        (f"]d2{LOT_LAST}{SEPARATOR}zz9", "No application identifier begins with 'zz9'"),
        ("]C1" + "9" * 500, "longer than any barcode"),
        ("]C10119520123456785" + "17271327" + "10A", "is a date as YYMMDD, not '271327'"),
        ("]C10119520123456785" + "17290229" + "10A", "is a date as YYMMDD, not '290229'"),
        ("]C1100" + "A" * 19 + "é", "cannot hold|cut short|identifier begins"),
        ("(01)1952012345678(10)A", "takes 14 characters"),
        ("(77)1(10)A", "stands at the front"),
        ("(00)395201234567890123", "neither a product nor a lot: it holds .00."),
        ("https://brewery.example/lots/", "names no product"),
        ("https://x.example/01/19520123456785/10", "in this order; this one goes on with '/10'"),
        ("https://x.example/01/19520123456785/21/7/10/A", "in this order"),
        ("https://x.example/01/19520123456784/10/A", "check digit would be 5"),
        ("https://[x/01/19520123456785", "is not an address"),
    ],
)
def test_a_scan_that_cannot_be_read_gets_a_sentence(typed, said):
    with pytest.raises(Gs1Error, match=said):
        read_scan(typed)


def test_brackets_of_no_identifier_belong_to_the_lot_code():
    assert from_brackets("(10)A(B)(7)") == (Element("10", "A(B)(7)"),)


def test_a_hostile_string_is_given_up_soon():
    # Each digit could begin another identifier: without memory this would take for ever.
    with pytest.raises(Gs1Error):
        readings("9" * 398 + "é")


# There and back --------------------------------------------------------------------------

_CODES = st.text("ABCXYZabcxyz0123456789!\"%&'*+,-./:;<=>?_()", min_size=1, max_size=20)
_DAYS = st.dates(dt.date(2000, 1, 1), dt.date(2049, 12, 31))


@st.composite
def _gtins(draw):
    digits = draw(st.text("0123456789", min_size=13, max_size=13))
    return digits + gs1.check_digit(digits)


@st.composite
def _elements(draw, codes=_CODES):
    """A GTIN, then a lot, a serial number, a date and a weight in any order."""
    rest = draw(
        st.permutations(
            [
                gs1.Element("10", draw(codes)),
                gs1.Element("21", draw(codes)),
                gs1.date_element("15", draw(_DAYS)),
                gs1.Element("3103", f"{draw(st.integers(0, 999_999)):06}"),
            ]
        )
    )
    return (gs1.Element("01", draw(_gtins())), *rest[: draw(st.integers(1, 4))])


@given(_elements(), st.sampled_from(["", "]C1", "]d2", "]Q3"]))
def test_every_element_string_is_read_back(elements, symbol):
    text = gs1.element_string(list(elements))

    assert readings(text) == [elements] or SEPARATOR not in text
    assert elements in readings(text)
    lots = [each.value for each in elements if each.identifier == "10"]
    assert set(lots) <= set(read_scan(symbol + text).lots)


@given(_elements(codes=_CODES.filter(lambda code: "(" not in code)))
def test_every_printed_line_is_read_back(elements):
    assert from_brackets(gs1.readable(list(elements))) == elements


@given(_gtins(), st.none() | _CODES, st.none() | _CODES, st.none() | _DAYS)
def test_every_digital_link_is_read_back(gtin, lot, serial, day):
    elements = [gs1.Element("01", gtin)]
    elements += [gs1.lot_element(lot)] if lot else []
    elements += [gs1.Element("21", serial)] if serial else []
    link = "https://id.gs1.org" + "".join(
        f"/{each.identifier}/{quote(each.value, safe='')}" for each in elements
    )
    if day:
        elements.append(gs1.date_element("17", day))
        link += f"?17={day:%y%m%d}"

    assert from_link(link) == tuple(elements)
