"""The acid calculations as pages use them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from brewlog.calculations import acid
from brewlog.science.errors import OutOfRange
from tests import factories


def test_a_titration_gives_grams_per_litre_as_acetic():
    # 10.0 mL of 0.1 mol/L on 10 mL: 0.1 x 60.052 = 6.005 g/L (AOAC 942.15, factor 0.060).
    answer = acid.titration(
        for_lot=None, titrant=Decimal(10), strength=Decimal("0.1"), sample=Decimal(10)
    )

    assert answer.results[0].value == pytest.approx(6.0052, abs=1e-4)


def test_a_tenth_of_sour_starter_lands_near_four():
    # Starter pH 3.0 and 8 g/L into tea of 1 mmol/L bicarbonate: pH 4.10 by PHREEQC at the
    # same constants.
    answer = acid.pitched_ph(
        share=Decimal(10),
        starter_ph=Decimal("3.0"),
        starter_acidity=Decimal(8),
        alkalinity=Decimal("50.04"),
    )

    assert answer.results[0].value == pytest.approx(4.10, abs=0.01)


def test_not_knowing_the_starters_acidity_makes_the_answer_less_certain():
    def u(starter_acidity):
        answer = acid.pitched_ph(
            share=Decimal(10),
            starter_ph=Decimal("3.0"),
            starter_acidity=starter_acidity,
            alkalinity=Decimal(50),
        )
        return answer.results[0].standard_uncertainty

    assert u(None) > u(Decimal(8))


def test_the_starter_needed_is_never_below_the_least_that_binds():
    answer = acid.starter_needed(
        target=Decimal("4.5"),
        starter_ph=Decimal("3.0"),
        starter_acidity=Decimal(8),
        alkalinity=Decimal(0),
        least_share=Decimal(10),
    )

    assert answer.results[0].value == 0.10
    assert answer.results[0].step("share by acidity alone") < 0.10


def test_a_target_no_share_reaches_is_a_sentence():
    with pytest.raises(OutOfRange, match="Target pH"):
        acid.starter_needed(
            target=Decimal("2.5"),
            starter_ph=Decimal("3.0"),
            starter_acidity=Decimal(8),
            alkalinity=None,
            least_share=None,
        )


@pytest.mark.django_db
def test_a_batch_knows_its_starter_share(operator):
    batch = factories.batch(operator, "60 L", starter_amount="6 L")

    assert acid.known_pitch(batch)["share"].text == "10.0"
