"""Carbonation and bottles as pages use them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from brewlog.calculations import carbonation
from brewlog.models import Format
from brewlog.science.bottle_pressure import BottleKind, Verdict
from brewlog.science.carbonation import Fermentable


def format_of(**fields) -> Format:
    return Format(name="x", container="bottle", holds=500_000, holds_text="500 mL", **fields)


def press(format: Format, sugar: str, temperature: str = "25"):
    return carbonation.pressure(
        format=format,
        sugar=Decimal(sugar),
        u_sugar=Decimal(1),
        co2=None,
        temperature=Decimal(temperature),
        headspace=None,
        safety=None,
    )


RATED = {"rating": "rated", "rated_bar": Decimal(16)}


def test_a_volume_of_sparkle_adds_a_quarter_of_a_percent():
    # 1 vol CO2 costs 4.0 g/L hexose and adds about 0.26 % vol (stoichiometry).
    answer = carbonation.priming(
        target=Decimal(2), warmest=Decimal(20), kind=Fermentable.SUCROSE.value, fermenting=None
    )

    gained = 2 - 0.85
    assert answer.results[0].step("alcohol added") == pytest.approx(0.26 * gained, abs=0.02)
    assert "% vol of alcohol" in answer.headline


class TestPressure:
    def test_rises_past_a_strong_bottle_with_much_sugar_left(self):
        # 40 g/L hexose with 1 g/L CO2 already there is 14 bar of CO2 at 25 °C, headspace 5 %.
        answer = press(format_of(**RATED), "40")

        assert answer.results[0].value == pytest.approx(14, abs=0.7)
        assert answer.verdict == Verdict.CLOSE or answer.verdict == Verdict.TOO_HIGH

    def test_of_little_sugar_is_below_the_rating_by_calculation(self):
        assert press(format_of(**RATED), "4").verdict == "below the rating by calculation"

    @pytest.mark.parametrize(
        "fields",
        [
            {"rating": "unknown"},
            {"rating": "decorative"},
            {**RATED, "is_reused": True},
        ],
    )
    def test_never_passes_in_an_unknown_decorative_or_reused_bottle(self, fields):
        assert press(format_of(**fields), "0").verdict == "do not keep warm"

    def test_is_never_called_safe(self):
        for sugar in ("0", "8", "40"):
            answer = press(format_of(**RATED), sugar)
            told = " ".join([answer.headline, answer.verdict, *answer.warnings]).lower()
            assert "safe" not in told.replace("safety", "")

    def test_stands_beside_the_alcohol_it_means(self):
        rows = dict(press(format_of(**RATED), "7.7").tables[0].rows)

        assert rows["alcohol the sugar adds"] == "0.50 % vol"


def test_a_reused_bottle_has_no_rating_whatever_it_says():
    assert carbonation.bottle_of(format_of(**RATED, is_reused=True)).kind is BottleKind.REUSED


def test_gauge_pressure_of_two_and_a_half_volumes_at_twenty_degrees():
    # 1.97 bar by Weiss 1974 with virial and vapour, at sea level.
    answer = carbonation.gauge(volumes=Decimal("2.5"), temperature=Decimal(20), sugar=None)

    assert answer.headline.startswith("1.97 bar")
