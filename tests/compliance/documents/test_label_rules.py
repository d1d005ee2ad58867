"""Type heights against the tables of the rules, without a database."""

from __future__ import annotations

import pytest

from brewlog.fonts import REGULAR, width_of
from compliance.documents.ingredient_list import EMPHASIS, set_apart
from compliance.documents.label_layout import size_for
from compliance.documents.label_packet import day_in_words, net_contents
from compliance.documents.label_rules import (
    BOTH,
    MM_PER_INCH,
    WARNING,
    Market,
    Measured,
    Panel,
    markets_of,
    most_letters_an_inch,
    net_heights,
    text_heights,
    warning_heights,
)
from tests.factories import at

US, EU = frozenset({Market.US}), frozenset({Market.EU})


def inches(width, height):
    return Panel(width * MM_PER_INCH, height * MM_PER_INCH)


@pytest.mark.parametrize(
    ("keys", "markets"),
    [
        (["us-federal-alcohol", "house"], US),
        (["eu", "de", "kombucha-guidance"], EU),
        (["uk"], EU),
        (["us-new-york", "eu"], BOTH),
        (["kombucha-guidance", "ca-federal"], BOTH),
        ([], BOTH),
    ],
)
def test_markets_follow_from_the_rule_sets_that_bind(keys, markets):
    assert markets_of(keys) == markets


@pytest.mark.parametrize(
    ("width", "height", "sixteenths"),
    [
        # 21 CFR 101.7(i)(1)-(5): 5, 25, 100 and 400 square inches are the steps.
        (2, 2.5, 1),
        (2, 2.6, 2),
        (5, 5, 2),
        (5, 5.1, 3),
        (10, 10, 3),
        (10, 10.1, 4),
        (20, 20, 4),
        (20, 20.1, 8),
        # The derived example of a bottle 5.0 in high and 8.6 in around: 40 % is 17.2 in².
        (5.0, 8.6 * 0.4, 2),
    ],
)
def test_us_net_contents_grow_with_the_panel(width, height, sixteenths):
    tallest = max(each.mm for each in net_heights(US, inches(width, height), 330))
    assert tallest == pytest.approx(MM_PER_INCH * sixteenths / 16)


@pytest.mark.parametrize(
    ("millilitres", "mm"),
    [(50, 2), (51, 3), (200, 3), (201, 4), (330, 4), (1000, 4), (1001, 6)],
)
def test_eu_figures_of_the_net_contents_grow_with_the_amount(millilitres, mm):
    # Directive 76/211/EEC annex I 3.1.
    [figures] = [
        each.mm
        for each in net_heights(EU, Panel(99, 67), millilitres)
        if each.on == Measured.FIGURE
    ]
    assert figures == mm


@pytest.mark.parametrize(
    ("markets", "panel", "mm"),
    [
        (US, Panel(60, 40), [1.5875]),  # 1/16 in, 21 CFR 101.2(c)
        (EU, Panel(100, 80), [1.2]),  # EU 1169/2011 art. 13(2): 80 cm² and more
        (EU, Panel(100, 79.9), [0.9]),  # art. 13(3)
        (BOTH, Panel(100, 80), [1.5875, 1.2]),
    ],
)
def test_small_type_is_measured_on_its_small_letters(markets, panel, mm):
    assert [each.mm for each in text_heights(markets, panel)] == mm


@pytest.mark.parametrize(("millilitres", "mm"), [(237, 1), (238, 2), (3000, 2), (3001, 3)])
def test_the_warning_grows_with_the_container(millilitres, mm):
    assert [each.mm for each in warning_heights(millilitres)] == [mm]  # 27 CFR 16.22(b)


def test_the_warning_has_its_two_sentences():
    assert WARNING.startswith("(1) According to the Surgeon General, women should not drink")
    assert WARNING.endswith("and may cause health problems.")


@pytest.mark.parametrize(
    ("microlitres", "words"),
    [
        # 1 US fl oz = 29.5735295625 mL (NIST Handbook 44, appendix C); rounded down.
        (330_000, "330 mL (11.1 fl oz)"),
        (355_000, "355 mL (12 fl oz)"),
        # 21 CFR 101.7(m)(3): a quart is 'Net 32 fl. oz. (1 qt.)'; (4): 56 fl oz is 1 qt 1 pt 8 oz
        # and never quarts and ounces alone.
        (946_353, "946.353 mL (32 fl oz, 1 qt)"),
        (1_656_118, "1.656118 L (56 fl oz, 1 qt 1 pt 8 fl oz)"),
        (473_177, "473.177 mL (16 fl oz, 1 pt)"),
        (500_000, "500 mL (16.9 fl oz, 1 pt 0.9 fl oz)"),
        (1_000_000, "1 L (33.8 fl oz, 1 qt 1.8 fl oz)"),
        # From a gallon on, in gallons.
        (18_900_000, "18.9 L (4.99 gal)"),
    ],
)
def test_net_contents_are_metric_and_us_and_never_promise_more(microlitres, words):
    assert net_contents(microlitres) == words


def test_days_are_written_in_the_brewerys_order_with_the_month_in_words():
    day = at(10).at.date()
    assert day_in_words(day) == "10 Mar 2026"
    assert day_in_words(day, day_first=False) == "Mar 10, 2026"
    assert day_in_words(None) == ""


@pytest.mark.parametrize(
    ("names", "allergens", "marked"),
    [
        # EU 1169/2011 art. 21(1)(b): set apart from the other ingredients.
        (["water", "almond milk"], ["almonds"], ["water", "*almond milk"]),
        (["barley malt"], ["barley"], ["*barley malt"]),
        (["flavouring"], ["tree nuts"], ["flavouring", "contains *tree *nuts"]),
        (["eggplant"], ["eggs"], ["eggplant", "contains *eggs"]),
    ],
)
def test_allergens_are_set_apart_in_the_list(names, allergens, marked):
    assert [each.replace(EMPHASIS, "*") for each in set_apart(names, allergens)] == marked


@pytest.mark.parametrize("millilitres", [200, 330, 5000])
def test_the_letters_of_the_warning_stand_no_closer_than_they_may(millilitres):
    """27 CFR 16.22(a)(4): at most 40, 25 and 12 letters an inch, by their least height."""
    [height] = warning_heights(millilitres)
    inches = width_of(WARNING, REGULAR, size_for(height, REGULAR)) / 72
    assert len(WARNING) / inches <= most_letters_an_inch(height.mm)
