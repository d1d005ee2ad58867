"""Carbonation: round trips, conservation of CO2, order, and verdicts that never reassure."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewlog.science import bottle_pressure, carbonation
from brewlog.science.bottle_pressure import Bottle, BottleKind, Verdict
from brewlog.science.carbonation import Fermentable
from brewlog.science.errors import OutOfRange
from brewlog.science.results import Result

from .settings import bounded

temperatures = st.floats(0.0, 40.0)
carbonations = st.floats(0.0, 6.0)


@bounded
@given(volumes=carbonations)
def test_volumes_to_grams_and_back(volumes: float) -> None:
    grams = carbonation.co2_g_per_l_from_volumes(volumes)
    assert carbonation.volumes_from_co2_g_per_l(grams) == pytest.approx(volumes, abs=1e-12)


@bounded
@given(volumes=st.floats(0.3, 5.0), temperature_c=temperatures, sugar=st.floats(0.0, 100.0))
def test_pressure_to_volumes_and_back(volumes: float, temperature_c: float, sugar: float) -> None:
    gauge = carbonation.equilibrium_gauge_bar(volumes, temperature_c, sugar)
    back = carbonation.volumes_at_gauge(gauge, temperature_c, sugar)
    assert back == pytest.approx(volumes, abs=1e-8)


@bounded
@given(volumes=st.floats(0.5, 5.0), temperature_c=st.floats(0.0, 38.0))
def test_warmer_drinks_and_fuller_drinks_press_harder(volumes: float, temperature_c: float) -> None:
    gauge = carbonation.equilibrium_gauge_bar(volumes, temperature_c)
    assert carbonation.equilibrium_gauge_bar(volumes, temperature_c + 1.0) > gauge
    assert carbonation.equilibrium_gauge_bar(volumes + 0.1, temperature_c) > gauge
    assert carbonation.equilibrium_gauge_bar(volumes, temperature_c, 60.0) > gauge


def test_ten_thousand_carbonations_at_once() -> None:
    volumes = np.linspace(0.1, 5.0, 10_000)
    cold = np.full_like(volumes, 4.0)
    for calculation in (
        carbonation.equilibrium_gauge_bar,
        carbonation.volumes_at_gauge,
        lambda v, t: carbonation.co2_solubility_mol_per_l_atm(t + v),
    ):
        together = calculation(volumes, cold)
        one_by_one = [calculation(float(v), 4.0) for v in volumes[::997]]
        assert together[::997] == pytest.approx(one_by_one, rel=1e-9)


@bounded
@given(
    total=st.floats(0.5, 15.0),
    temperature_c=temperatures,
    headspace=st.floats(0.0, 0.5),
)
def test_carbon_dioxide_is_conserved_between_drink_and_headspace(
    total: float, temperature_c: float, headspace: float
) -> None:
    result = bottle_pressure.bottle_pressure((total, 0.0), (temperature_c, 0.0), (headspace, 0.0))
    co2_bar = result.step("pressure of the CO2")
    z = carbonation.co2_compressibility(temperature_c, co2_bar)
    gas = headspace * 1e-3 * co2_bar * 1e5 / (z * 8.314462618 * (temperature_c + 273.15))
    assert result.step("dissolved CO2") + gas * 44.0095 == pytest.approx(total, abs=1e-6)


@bounded
@given(total=st.floats(2.0, 12.0), temperature_c=st.floats(0.0, 39.0))
def test_pressure_grows_with_warmth_and_falls_with_purging(
    total: float, temperature_c: float
) -> None:
    def gauge(**changes) -> float:
        arguments = {"co2_g_per_l": (total, 0.0), "temperature_c": (temperature_c, 0.0)}
        return bottle_pressure.bottle_pressure(**{**arguments, **changes}).value

    assert gauge(temperature_c=(temperature_c + 1.0, 0.0)) > gauge()
    assert gauge(co2_g_per_l=(total + 0.5, 0.0)) > gauge()
    # Trapped air adds about one bar absolute.
    assert gauge() - gauge(air_trapped=False) == pytest.approx(1.0, abs=0.1)


def test_an_open_bottle_of_still_drink_has_no_pressure() -> None:
    result = bottle_pressure.bottle_pressure((0.0, 0.0), (20.0, 0.0), (0.05, 0.0))
    assert result.value == pytest.approx(0.0, abs=1e-9)


def test_the_uncertainty_of_pressure_is_what_repetition_shows() -> None:
    draw = np.random.default_rng(3)
    result = bottle_pressure.bottle_pressure((5.0, 0.3), (25.0, 1.0), (0.05, 0.01))
    drawn = [
        bottle_pressure.bottle_pressure((m, 0.0), (t, 0.0), (max(h, 0.0), 0.0)).value * 1.0
        for m, t, h in zip(
            draw.normal(5.0, 0.3, 2000),
            draw.normal(25.0, 1.0, 2000),
            draw.normal(0.05, 0.01, 2000),
            strict=True,
        )
    ]
    # The solubility's own three percent, on top of what is drawn here.
    truth = np.array(drawn) * (1.0 + draw.normal(0.0, 0.03, 2000))
    low, high = result.interval_95()
    assert 0.92 <= np.mean((low <= truth) & (truth <= high)) <= 0.98


@bounded
@given(
    target=st.floats(1.0, 5.0),
    residual=st.floats(0.0, 1.0),
    kind=st.sampled_from(Fermentable),
)
def test_the_sugar_makes_the_carbon_dioxide_asked_for(
    target: float, residual: float, kind: Fermentable
) -> None:
    result = carbonation.priming_sugar((target, 0.0), (residual, 0.0), kind)
    made = result.value * carbonation.CO2_PER_GRAM[kind]
    assert residual + made / 1.9768 == pytest.approx(target, abs=1e-9)


def test_fruit_sugar_is_taken_off_and_a_surplus_named() -> None:
    without = carbonation.priming_sugar((2.5, 0.0), (0.8, 0.0))
    some = carbonation.priming_sugar((2.5, 0.0), (0.8, 0.0), sugar_fermenting_g_per_l=(3.0, 0.0))
    plenty = carbonation.priming_sugar((2.5, 0.0), (0.8, 0.0), sugar_fermenting_g_per_l=(12.0, 0.0))
    assert without.value - some.value == pytest.approx(3.0)
    assert plenty.value == 0.0
    assert plenty.step("sugar beyond the target") == pytest.approx(12.0 - without.value)


def test_juice_by_its_brix_and_by_its_label_agree() -> None:
    # Apple juice of 11.2 Bx holds 11.7 g of sugar per 100 mL if all solids are sugar.
    by_brix = carbonation.addition_by_brix((100.0, 0.0), (11.2, 0.0))
    by_label = carbonation.addition_by_label((100.0, 0.0), (11.69, 0.0))
    assert by_brix.value == pytest.approx(by_label.value, rel=2e-3)
    assert by_label.value == pytest.approx(11.69)
    assert by_label.step("carbonation if all of it ferments") == pytest.approx(
        11.69 * 0.48857 / 1.9768, abs=1e-3
    )


def pressure(bar: float, u: float = 0.1) -> Result:
    template = bottle_pressure.bottle_pressure((4.0, 0.1), (20.0, 1.0))
    return dataclasses.replace(template, value=bar, standard_uncertainty=u)


RATED = Bottle(BottleKind.RATED, 10.0)


@pytest.mark.parametrize(
    ("bar", "verdict"),
    [
        (3.0, Verdict.BELOW_RATING),
        (4.83, Verdict.BELOW_RATING),  # 4.83 + 1.645 x 0.1 is 4.99, of 5.0 allowed
        (4.84, Verdict.CLOSE),
        (9.83, Verdict.CLOSE),
        (9.84, Verdict.TOO_HIGH),
        (15.0, Verdict.TOO_HIGH),
    ],
)
def test_verdicts_on_a_rated_bottle(bar: float, verdict: Verdict) -> None:
    assert bottle_pressure.judge(pressure(bar), RATED).verdict is verdict


@bounded
@given(
    bar=st.floats(-0.9, 30.0),
    kind=st.sampled_from([BottleKind.UNKNOWN, BottleKind.DECORATIVE, BottleKind.REUSED]),
    rated=st.one_of(st.none(), st.floats(0.0, 30.0)),
)
def test_bottles_of_unknown_strength_never_pass(
    bar: float, kind: BottleKind, rated: float | None
) -> None:
    judgement = bottle_pressure.judge(pressure(bar), Bottle(kind, rated))
    assert judgement.verdict is Verdict.TOO_HIGH
    assert kind.value in judgement.reason


def test_a_new_bottle_without_a_rating_never_passes() -> None:
    judgement = bottle_pressure.judge(pressure(0.0), Bottle(BottleKind.RATED))
    assert judgement.verdict is Verdict.TOO_HIGH
    assert "without a rating" in judgement.reason


@bounded
@given(bar=st.floats(0.0, 12.0), factor=st.floats(1.0, 5.0), u=st.floats(0.0, 1.0))
def test_more_doubt_never_makes_a_verdict_milder(bar: float, factor: float, u: float) -> None:
    order = list(Verdict)
    sure = bottle_pressure.judge(pressure(bar, u), RATED, factor)
    doubtful = bottle_pressure.judge(pressure(bar, u + 0.5), RATED, factor + 0.5)
    assert order.index(doubtful.verdict) >= order.index(sure.verdict)


def test_no_word_of_a_verdict_reassures() -> None:
    words = [
        *Verdict,
        *bottle_pressure.CAUTIONS,
        *(bottle_pressure.judge(pressure(bar), RATED).reason for bar in (1.0, 6.0, 12.0)),
        bottle_pressure.bottle_pressure((4.0, 0.1), (20.0, 1.0)).supports,
    ]
    assert not [text for text in words if "safe" in text.replace("safety factor", "").lower()]
    assert any("eye protection" in text for text in bottle_pressure.CAUTIONS)
    assert any("CO2 alarm" in text for text in bottle_pressure.CAUTIONS)


def test_more_gas_than_any_bottle_holds_is_refused() -> None:
    with pytest.raises(OutOfRange, match="CO2 in all of 40 g/L is outside the range 0 to"):
        bottle_pressure.bottle_pressure((40.0, 0.0), (40.0, 0.0))


@bounded
@given(temperature_c=temperatures)
def test_an_open_vessel_holds_what_one_atmosphere_of_gas_and_vapour_allows(
    temperature_c: float,
) -> None:
    residual = carbonation.residual_volumes(temperature_c)
    gauge = carbonation.equilibrium_gauge_bar(residual, temperature_c)
    assert gauge == pytest.approx(0.0, abs=1e-9)
