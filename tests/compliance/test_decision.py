"""Values against limits. Sources stand beside the numbers."""

from __future__ import annotations

import pytest

from compliance.decision import (
    Operator,
    Verdict,
    can_decide,
    decide,
    guard_band,
    meets,
    probability_of_conformity,
)


@pytest.mark.parametrize(
    ("value", "sign", "limit", "inside"),
    [
        (4.19, "<", 4.2, True), (4.2, "<", 4.2, False), (4.21, "<", 4.2, False),
        (4.19, "<=", 4.2, True), (4.2, "<=", 4.2, True), (4.21, "<=", 4.2, False),
        (2.51, ">", 2.5, True), (2.5, ">", 2.5, False), (2.49, ">", 2.5, False),
        (2.51, ">=", 2.5, True), (2.5, ">=", 2.5, True), (2.49, ">=", 2.5, False),
    ],
)  # fmt: skip
def test_a_bare_value_meets_its_limit_as_the_operator_says(value, sign, limit, inside):
    assert meets(value, Operator(sign), limit) is inside


class TestPublishedNumbers:
    def test_breakdown_voltage_of_jcgm_106(self):
        # JCGM 106:2012 worked example (from memory): -5.47 V, u 0.05 V, limit -5.40 V: 0.92.
        p = probability_of_conformity(-5.47, 0.05, Operator.AT_MOST, -5.40)

        assert p == pytest.approx(0.9192, abs=5e-5)

    def test_speed_of_jcgm_106(self):
        # JCGM 106:2012 (from memory): act at 107 km/h for 99.9 % that 100 km/h is passed at
        # u/v = 2 %: 100 / (1 - 3.090 x 0.02) = 106.6.
        conforms = [
            probability_of_conformity(v, 0.02 * v, Operator.AT_MOST, 100) for v in (106, 107)
        ]

        assert conforms[0] > 0.001 > conforms[1]

    # Guard bands for ethanol at 0.5 % vol with u = 0.030 (AOAC SMPR 2016.001, reproducibility
    # 6 %): ILAC-G8:09/2019 rules, arithmetic of JCGM 106.
    @pytest.mark.parametrize(("risk", "accept_up_to"), [(0.05, 0.451), (0.02275, 0.440)])
    def test_guard_band_for_ethanol(self, risk, accept_up_to):
        assert 0.5 - guard_band(0.030, risk) == pytest.approx(accept_up_to, abs=5e-4)

    @pytest.mark.parametrize(("result", "risk"), [(0.45, 0.048), (0.49, 0.369)])
    def test_risk_of_a_result_below_the_ethanol_line(self, result, risk):
        p = probability_of_conformity(result, 0.030, Operator.BELOW, 0.5)

        assert 1 - p == pytest.approx(risk, abs=5e-4)

    def test_guard_band_for_ph(self):
        # Buffer 0.010, repeatability 0.030, temperature 0.0115, drift 0.0058, resolution 0.0058:
        # u = 0.0346; 5 % one-sided accepts 4.143 at 4.2 and 2.557 at 2.5; 4.15 risks 7.4 %.
        u = 0.0346

        assert decide(4.15, u, Operator.AT_MOST, 4.2).acceptance_limit == pytest.approx(
            4.143, abs=5e-4
        )
        assert decide(3.0, u, Operator.AT_LEAST, 2.5).acceptance_limit == pytest.approx(
            2.557, abs=5e-4
        )
        assert 1 - probability_of_conformity(4.15, u, Operator.AT_MOST, 4.2) == pytest.approx(
            0.074, abs=5e-4
        )


@pytest.mark.parametrize(
    ("value", "u", "sign", "limit", "verdict"),
    [
        (0.44, 0.03, "<", 0.5, Verdict.CONFORMS),
        (0.46, 0.03, "<", 0.5, Verdict.NEEDS_REVIEW),
        (0.50, 0.03, "<", 0.5, Verdict.FAILS),
        (0.50, 0.03, "<=", 0.5, Verdict.NEEDS_REVIEW),
        (0.51, 0.03, "<", 0.5, Verdict.FAILS),
        (0.54, 0.03, "<=", 0.5, Verdict.NEEDS_REVIEW),
        (0.56, 0.03, "<", 0.5, Verdict.FAILS),
        (4.20, 0.0, "<=", 4.2, Verdict.CONFORMS),
        (4.20, 0.0, "<", 4.2, Verdict.FAILS),
        (4.21, 0.0, "<=", 4.2, Verdict.FAILS),
        (2.55, 0.05, ">=", 2.5, Verdict.NEEDS_REVIEW),
        (2.60, 0.05, ">=", 2.5, Verdict.CONFORMS),
        (2.40, 0.05, ">=", 2.5, Verdict.FAILS),
    ],
)
def test_a_value_conforms_fails_or_needs_review(value, u, sign, limit, verdict):
    assert decide(value, u, Operator(sign), limit).verdict is verdict


def test_the_floor_is_told_in_plain_words():
    assert decide(4.19, 0.05, Operator.AT_MOST, 4.2).plain == "too close, measure again"


def test_a_value_far_outside_is_less_than_nothing_inside():
    assert decide(4.6, 0.05, Operator.AT_MOST, 4.2).margin == pytest.approx(-0.4)
    assert decide(2.3, 0.05, Operator.AT_LEAST, 2.5).margin == pytest.approx(-0.2)


@pytest.mark.parametrize(("value", "sign", "limit"), [(0.44, "<", 0.5), (2.60, ">=", 2.5)])
def test_a_value_on_the_acceptance_limit_conforms(value, sign, limit):
    # JCGM 106: the acceptance interval holds its own ends.
    on_it = decide(value, 0.03, Operator(sign), limit).acceptance_limit

    assert decide(on_it, 0.03, Operator(sign), limit).verdict is Verdict.CONFORMS


def test_a_coarse_hydrometer_cannot_decide_an_alcohol_line():
    # 0.001 of specific gravity is 0.13 % vol; headspace gas chromatography u = 0.03.
    assert not can_decide(0.13, 0.5)
    assert can_decide(0.03, 0.5)


def test_a_guard_band_of_a_third_of_the_spread_can_decide_and_a_wider_one_cannot():
    # Common practice; 1.645 u = 0.5 / 3 at u = 0.1013.
    assert can_decide(0.101, 0.5)
    assert not can_decide(0.102, 0.5)


@pytest.mark.parametrize(("value", "probability"), [(4.1, 1.0), (4.2, 1.0), (4.3, 0.0)])
def test_without_uncertainty_a_value_is_surely_inside_or_surely_not(value, probability):
    assert probability_of_conformity(value, 0.0, Operator.AT_MOST, 4.2) == probability


def test_at_a_risk_of_one_half_there_is_no_guard_band():
    # Simple acceptance, ILAC-G8:09/2019: the acceptance limit is the limit itself.
    assert guard_band(0.1, 0.5) == 0.0


@pytest.mark.parametrize("u", [-0.1, float("nan")])
def test_an_uncertainty_below_nothing_is_an_error(u):
    with pytest.raises(ValueError, match="cannot be"):
        probability_of_conformity(4.0, u, Operator.BELOW, 4.2)


@pytest.mark.parametrize("risk", [0, 0.51])
def test_a_risk_outside_its_range_is_an_error(risk):
    with pytest.raises(ValueError, match="outside 0 to 0.5"):
        guard_band(0.1, risk)
