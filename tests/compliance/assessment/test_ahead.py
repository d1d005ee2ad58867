"""Limits on what is still to come: alcohol at the end of shelf life, pressure."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from brewlog.domain.batches import record_step
from brewlog.domain.checkpoints import record_alcohol_estimate
from compliance.decision import Verdict
from tests import factories
from tests.compliance.assessment import helpers

pytestmark = pytest.mark.django_db

FAILS, REVIEW, CLEAR = Verdict.FAILS, Verdict.NEEDS_REVIEW, None
at = factories.at
LINE = {"lot_kind": "bottling", "measurand": "alcohol", "operator": "<", "value": "0.5",
        "unit": "% vol"}  # fmt: skip


def brix(actor, lot, said, when=None):
    refractometer = factories.instrument(
        actor, kind="refractometer", resolution="0.1", accuracy="0.1"
    )
    factories.reading(
        actor, lot, said, when=when or at(20), measurand="brix", instrument=refractometer
    )


class TestShelfLife:
    @pytest.fixture
    def recipe(self, manager, brewery):
        return factories.recipe_version(manager)

    @pytest.fixture
    def flavour(self, manager, brewery):
        return factories.flavour(manager, best_before_days=30)

    @pytest.fixture
    def batch(self, manager, recipe):
        return factories.batch(manager, recipe=recipe)

    @pytest.fixture
    def bottles(self, manager, batch, flavour):
        """Filled on 20 March, best before 19 April."""
        return factories.bottles(
            manager, count=50, batch=batch, drawn="17 L", flavour=flavour,
            best_before=dt.date(2026, 4, 19),
        )  # fmt: skip

    # 1 g/L of hexose can make 0.065 % vol (0.5114 / 789.3 g/L x 100), sucrose 1.05 of it; a
    # Brix is about 10 g/L. 0.30 now and 0.2 Bx: 0.44 +- u; 0.5 Bx: 0.64.
    @pytest.mark.parametrize(
        ("sign", "line", "sugar", "found"),
        [
            ("<", "0.5", "0", CLEAR), ("<", "0.5", "0.2", REVIEW), ("<", "0.5", "0.5", REVIEW),
            ("<=", "0.5", "0.5", REVIEW), ("<=", "1.15", "0.5", CLEAR), ("<", "1.15", "5", REVIEW),
        ],
    )  # fmt: skip
    def test_by_calculation_only_asks_for_a_look(self, manager, bottles, sign, line, sugar, found):
        helpers.limit(manager, "shelf_life", **{**LINE, "operator": sign, "value": line})
        factories.lab_result(
            manager, bottles, "0.30", when=at(21), standard_uncertainty=Decimal("0.02")
        )
        brix(manager, bottles, sugar)

        assert helpers.verdict(bottles) is found

    def test_opens_to_what_was_reckoned_with(self, manager, bottles):
        helpers.limit(manager, "shelf_life", **LINE)
        factories.lab_result(manager, bottles, "0.30", when=at(21))
        brix(manager, bottles, "4.0")

        found = helpers.finding(bottles)
        # About 40 g/L: 0.30 + 40 x 0.065 = 2.9 and a little for the water taken up.
        assert found.decision.value == pytest.approx(2.95, abs=0.1)
        assert "no bottle of its kind was tested at the end of its shelf life" in found.text
        assert [each.record.split(":")[0] for each in found.evidence] == ["checkpoint", "labresult"]

    def test_takes_the_sugar_of_its_batch_where_the_bottles_were_not_read(
        self, manager, batch, bottles
    ):
        helpers.limit(manager, "shelf_life", **LINE)
        assert helpers.verdict(bottles) is CLEAR  # nothing is known of its sugar

        brix(manager, batch, "4.0", when=at(19))
        assert helpers.verdict(bottles) is REVIEW

    def test_takes_an_estimate_of_alcohol_where_there_is_no_result(self, manager, bottles):
        helpers.limit(manager, "shelf_life", **LINE)
        brix(manager, bottles, "0.1")
        assert helpers.verdict(bottles) is CLEAR
        record_alcohol_estimate(
            actor=manager, lot=bottles, value=Decimal("0.42"), method="by gravity",
            standard_uncertainty=Decimal("0.13"), inputs="1.040 to 1.037", when=at(20),
        )  # fmt: skip

        assert helpers.finding(bottles).evidence[1].text.endswith("(by gravity)")

    # The best-before day is 19 April; u = 0.03.
    @pytest.mark.parametrize(
        ("result", "found"), [("0.44", CLEAR), ("0.47", REVIEW), ("0.50", FAILS), ("0.7", FAILS)]
    )
    def test_is_told_by_a_result_of_the_end(self, manager, bottles, result, found):
        helpers.limit(manager, "shelf_life", **LINE)
        brix(manager, bottles, "4.0")
        factories.lab_result(manager, bottles, result, when=at(19, month=4))

        assert helpers.verdict(bottles) is found

    def test_a_result_before_the_end_does_not_tell_it(self, manager, bottles):
        helpers.limit(manager, "shelf_life", **LINE)
        brix(manager, bottles, "4.0")
        factories.lab_result(manager, bottles, "0.3", when=at(18, month=4))

        assert helpers.verdict(bottles) is REVIEW

    @pytest.mark.parametrize(
        ("result", "found"), [("0.40", CLEAR), ("0.47", REVIEW), ("0.8", REVIEW)]
    )
    def test_the_same_flavour_at_its_end_speaks_for_the_next(
        self, manager, batch, bottles, flavour, result, found
    ):
        helpers.limit(manager, "shelf_life", **LINE)
        later = factories.bottles(
            manager, count=50, batch=batch, drawn="17 L", flavour=flavour, when=at(21)
        )
        brix(manager, later, "4.0", when=at(21))
        factories.lab_result(manager, bottles, result, when=at(19, month=4))

        assert helpers.verdict(later) is found

    def test_another_flavour_does_not_speak_for_it(self, manager, batch, bottles):
        helpers.limit(manager, "shelf_life", **LINE)
        other = factories.bottles(manager, count=50, batch=batch, drawn="17 L", when=at(21))
        brix(manager, other, "4.0", when=at(21))
        factories.lab_result(manager, bottles, "0.40", when=at(19, month=4))

        assert helpers.verdict(other) is REVIEW

    def test_is_silent_once_nothing_is_left(self, manager, bottles):
        helpers.limit(manager, "shelf_life", **LINE)
        brix(manager, bottles, "4.0")
        factories.shipment(manager, bottles, "50")

        assert helpers.verdict(bottles) is CLEAR

    def test_is_silent_after_heat_treatment_of_its_batch(self, manager, batch, bottles):
        helpers.limit(manager, "shelf_life", **LINE)
        brix(manager, bottles, "4.0")
        record_step(
            actor=manager, lot=batch, kind="pasteurise", when=at(19), temperature=Decimal(82)
        )

        assert helpers.verdict(bottles) is CLEAR


class TestPressure:
    @pytest.fixture(autouse=True)
    def limit(self, manager, brewery):
        return helpers.limit(manager, "pressure", lot_kind="bottling", measurand="pressure")

    def filled(self, actor, sugar: str | None, **strength):
        fields = {"rating": "rated", "rated_bar": "8", **strength}
        bottles = factories.bottles(
            actor, format=factories.bottle_format(actor, **fields), already_done=True
        )
        if sugar:
            brix(actor, bottles, sugar)
        return bottles

    # 1 g/L of hexose makes 0.489 g/L of CO2 (0.25 vols); at 30 °C a volume of CO2 stands at
    # about 1.5 bar. Safety factor 2: a bottle rated 8 bar is let be up to 4.
    @pytest.mark.parametrize(
        ("sugar", "rated", "found"),
        [
            ("0.2", "8", CLEAR), ("1.0", "8", REVIEW), ("4.0", "8", REVIEW), ("1.0", "30", CLEAR),
            ("80", "8", REVIEW), ("1.0", "60", REVIEW),  # nobody rates a bottle at 60 bar
        ],
    )  # fmt: skip
    def test_is_against_the_rating_over_its_safety_factor(self, manager, sugar, rated, found):
        assert helpers.verdict(self.filled(manager, sugar, rated_bar=rated)) is found

    @pytest.mark.parametrize("sugar", [None, "0"])
    @pytest.mark.parametrize(
        "strength",
        [
            {"rating": "unknown", "rated_bar": None},
            {"rating": "decorative", "rated_bar": None},
            {"is_reused": True},
        ],
    )
    def test_never_passes_what_has_no_rating_to_lean_on(self, manager, strength, sugar):
        bottles = self.filled(manager, sugar, **strength)
        cooler = factories.location(manager, is_cold=True)
        factories.move(manager, bottles, "100", cooler)

        found = helpers.finding(bottles)
        assert found.verdict is REVIEW
        assert "no rating to compare with" in found.text

    def test_a_keg_that_comes_back_keeps_its_rating(self, manager):
        kegs = self.filled(manager, "0.2", container="keg", is_reused=True)
        unrated = self.filled(manager, "0.2", container="keg", rating="unknown", rated_bar=None)

        assert helpers.verdict(kegs) is CLEAR
        assert helpers.verdict(unrated) is REVIEW

    def test_is_let_be_only_while_all_of_it_stands_cold(self, manager):
        bottles = self.filled(manager, "4.0")
        cooler = factories.location(manager, is_cold=True)
        shelf = factories.location(manager, kind="warm_room")
        factories.move(manager, bottles, "99", cooler)
        assert helpers.verdict(bottles) is REVIEW

        factories.move(manager, bottles, "1", cooler, when=at(23))
        assert helpers.verdict(bottles) is CLEAR

        factories.move(manager, bottles, "10", shelf, when=at(24), from_location=cooler)
        assert helpers.verdict(bottles) is REVIEW

    @pytest.mark.parametrize("carbonation", ["natural", "forced", "still"])
    def test_a_live_drink_works_on_whatever_it_is_called(self, manager, carbonation):
        format = factories.bottle_format(manager, rating="rated", rated_bar="8")
        bottles = factories.bottles(manager, format=format, carbonation=carbonation)
        brix(manager, bottles, "4.0")

        assert helpers.verdict(bottles) is REVIEW

    def test_is_silent_once_nothing_is_left(self, manager):
        gone = self.filled(manager, "4.0")
        factories.shipment(manager, gone, "100")

        assert helpers.verdict(gone) is CLEAR

    def test_is_silent_after_heat_treatment_of_its_batch(self, manager):
        batch = factories.batch(manager)
        format = factories.bottle_format(manager, rating="rated", rated_bar="8")
        bottles = factories.bottles(manager, batch=batch, drawn="34 L", format=format)
        brix(manager, batch, "4.0", when=at(18))
        assert helpers.verdict(bottles) is REVIEW

        record_step(
            actor=manager, lot=batch, kind="pasteurise", when=at(19), temperature=Decimal(82)
        )
        assert helpers.verdict(bottles) is CLEAR

    def test_never_calls_it_safe(self, manager):
        found = helpers.finding(self.filled(manager, "4.0"))

        assert found.text.startswith("do not keep warm: ")
        assert "safe" not in found.text.replace("safety factor", "")
