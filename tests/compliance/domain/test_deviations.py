"""Deviations, decisions about held lots, and about bottles that left."""

from __future__ import annotations

import pytest

from brewlog.domain.blocks import blocks
from brewlog.ledger import on_hand
from brewlog.models import CultureLot, StockAdjustment
from brewlog.recording import Refused
from compliance.domain import deviations
from compliance.models import Deviation, Disposition
from tests import factories
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db

PASSWORD = "living culture 7"
FOUR_PARTS = {
    "problem_corrected": "the vessel was emptied",
    "made_less_likely": "lids are checked each evening",
    "product_evaluated": "all bottles were looked at",
    "kept_out": "they stand locked in cage 2",
}


def dispose(actor, hold, lot, kind, **changes):
    details = {"why": "plated, nothing grew", "password": PASSWORD, "when": at(25)}
    return deviations.dispose(actor=actor, hold=hold, lot=lot, kind=kind, **{**details, **changes})


class TestWhatACauseAllows:
    @pytest.mark.parametrize("kind", ["release", "rework", "strong_starter"])
    def test_mould_is_destroyed_and_nothing_else(self, reviewer, kind):
        lot = factories.batch(reviewer)
        hold = factories.hold(reviewer, lot, "mould")

        with pytest.raises(Refused, match="there is only: destroy"):
            dispose(reviewer, hold, lot, kind)

        assert not Disposition.objects.exists()

    def test_failed_acidification_is_never_blended_or_kept(self, reviewer):
        lot = factories.batch(reviewer)
        hold = factories.hold(reviewer, lot, "acidification")

        for kind in ("rework", "strong_starter"):
            with pytest.raises(Refused, match="there is only"):
                dispose(reviewer, hold, lot, kind)

    def test_alcohol_over_the_line_asks_the_authority_first(self, reviewer):
        lot = factories.batch(reviewer)
        hold = factories.hold(reviewer, lot, "alcohol")

        with pytest.raises(Refused, match="the authority is asked first"):
            dispose(reviewer, hold, lot, "release")
        dispose(reviewer, hold, lot, "release", authority_asked="state office, 3 March: may go on")

        assert blocks(lot) == []


class TestCarryingOut:
    def test_destroying_writes_the_amount_off_before_a_witness(self, reviewer):
        lot = factories.batch(reviewer, "60 L")
        hold = factories.hold(reviewer, lot, "mould")

        found = dispose(
            reviewer, hold, lot, "destroy", quantity=quantity("60 L"), witness="Ana Reis"
        )

        adjustment = StockAdjustment.objects.get()
        assert found.adjustment == adjustment
        assert (adjustment.reason, adjustment.witness) == ("destroyed", "Ana Reis")
        assert on_hand([lot.pk])[lot.pk] == 0

    def test_destroying_without_a_witness_signs_nothing(self, reviewer):
        lot = factories.batch(reviewer)
        hold = factories.hold(reviewer, lot, "mould")

        with pytest.raises(Refused):
            dispose(reviewer, hold, lot, "destroy", quantity=quantity("60 L"))

        assert not Disposition.objects.exists()
        assert not StockAdjustment.objects.exists()

    def test_destroying_a_mouldy_culture_frees_nothing_made_from_it(self, reviewer):
        culture = factories.culture(reviewer, "10 L")
        batch = factories.batch(reviewer, starter=culture)
        hold = factories.hold(reviewer, culture, "mould")

        dispose(reviewer, hold, culture, "destroy", quantity=quantity("4 L"), witness="Ana Reis")

        assert len(blocks(batch)) == 1

    def test_releasing_a_descendant_ends_the_hold_there(self, reviewer):
        culture = factories.culture(reviewer)
        batch = factories.batch(reviewer, starter=culture)
        other = factories.batch(reviewer, starter=culture)
        hold = factories.hold(reviewer, culture, "foreign")

        dispose(reviewer, hold, batch, "release")

        assert blocks(batch) == []
        assert len(blocks(other)) == 1

    def test_too_acid_a_batch_is_blended_into_a_named_one(self, reviewer):
        sour, mild = factories.batch(reviewer, "60 L"), factories.batch(reviewer, "40 L")
        hold = factories.hold(reviewer, sour, "over_acid")

        dispose(reviewer, hold, sour, "rework", quantity=quantity("10 L"), target=mild)

        assert on_hand([sour.pk, mild.pk]) == {sour.pk: 50_000_000, mild.pk: 50_000_000}

    def test_too_acid_a_batch_is_kept_as_strong_starter(self, reviewer):
        sour = factories.batch(reviewer)
        hold = factories.hold(reviewer, sour, "over_acid")

        dispose(reviewer, hold, sour, "strong_starter", quantity=quantity("5 L"))

        kept = CultureLot.objects.get(origin="kept_back")
        assert kept.made == 5_000_000


class TestWhoDecides:
    def test_an_operator_does_not(self, operator, reviewer):
        lot = factories.batch(operator)
        hold = factories.hold(reviewer, lot, "other")

        with pytest.raises(Refused, match="Only a reviewer"):
            dispose(operator, hold, lot, "release")

    def test_a_wrong_password_decides_nothing(self, reviewer):
        lot = factories.batch(reviewer)
        hold = factories.hold(reviewer, lot, "other")

        with pytest.raises(Refused, match="Nothing was signed"):
            dispose(reviewer, hold, lot, "release", password="guess")

        assert len(blocks(lot)) == 1


class TestCorrecting:
    def correct(self, actor, deviation, **changes):
        return deviations.correct_deviation(
            actor=actor, deviation=deviation, **{**FOUR_PARTS, "password": PASSWORD, **changes}
        )

    @pytest.fixture
    def deviation(self, reviewer):
        return deviations.open_deviation(
            actor=reviewer,
            kind="procedure",
            title="lid left open",
            what_happened="found open in the morning",
            lots=[factories.batch(reviewer)],
        )

    @pytest.mark.parametrize("part", FOUR_PARTS)
    def test_asks_for_each_of_the_four_parts(self, reviewer, deviation, part):
        with pytest.raises(Refused) as refusal:
            self.correct(reviewer, deviation, **{part: " "})

        assert list(refusal.value.error_dict) == [part]
        assert deviation.is_open

    def test_closes_the_deviation_with_a_signature(self, reviewer, deviation):
        action = self.correct(reviewer, deviation)

        assert not deviation.is_open
        assert action.signature.printed_name == str(reviewer)

    def test_waits_for_the_hold_behind_it(self, reviewer):
        lot = factories.batch(reviewer)
        hold = factories.hold(reviewer, lot, "other")
        deviation = deviations.open_deviation(
            actor=reviewer, kind="limit", title="x", what_happened="y", hold=hold, lots=[lot]
        )

        with pytest.raises(Refused, match="still open"):
            self.correct(reviewer, deviation)

    def test_of_what_nobody_had_thought_of_asks_for_the_plan(self, reviewer):
        deviation = deviations.open_deviation(
            actor=reviewer, kind="unanticipated", title="x", what_happened="y"
        )

        with pytest.raises(Refused, match="hazard plan"):
            self.correct(reviewer, deviation)
        self.correct(reviewer, deviation, plan_reanalysed=True)

        assert not deviation.is_open


class TestLookingBack:
    def test_lists_every_reading_and_lot_since_the_last_good_calibration(self, reviewer):
        meter = factories.instrument(reviewer)
        factories.calibration(reviewer, meter, "in", when=at(2))
        early, leaned = factories.batch(reviewer), factories.batch(reviewer)
        factories.reading(reviewer, early, when=at(3), instrument=meter)
        factories.reading(reviewer, leaned, when=at(4), instrument=meter)
        calibration = factories.calibration(reviewer, meter, "out", when=at(9))

        deviation = deviations.open_look_back(actor=reviewer, calibration=calibration)

        assert set(deviation.lots.values_list("lot_id", flat=True)) == {early.pk, leaned.pk}
        assert "2 readings since 2026-03-02" in deviation.title

    def test_of_a_good_calibration_is_refused(self, reviewer):
        calibration = factories.calibration(reviewer, factories.instrument(reviewer))

        with pytest.raises(Refused, match="was not out"):
            deviations.open_look_back(actor=reviewer, calibration=calibration)

        assert not Deviation.objects.exists()


class TestBottlesThatLeft:
    @pytest.fixture
    def held(self, reviewer):
        culture = factories.culture(reviewer)
        batch = factories.batch(reviewer, starter=culture)
        bottles = factories.bottles(reviewer, count=100, batch=batch, drawn="34 L", when=at(12))
        factories.shipment(reviewer, bottles, "40", when=at(15))
        return factories.hold(reviewer, culture, "mould")

    def test_need_a_decision(self, reviewer, held):
        assert deviations.shipped_under(held) == 40
        assert deviations.market_decision_needed(held)

        deviations.decide_market(
            actor=reviewer,
            hold=held,
            kind="recall",
            why="mould in the mother culture",
            hazard="toxins cannot be ruled out",
            password=PASSWORD,
        )

        assert not deviations.market_decision_needed(held)

    def test_are_none_where_nothing_left(self, reviewer):
        hold = factories.hold(reviewer, factories.batch(reviewer), "mould")

        with pytest.raises(Refused, match="has left"):
            deviations.decide_market(
                actor=reviewer, hold=hold, kind="recall", why="x", hazard="y", password=PASSWORD
            )


def test_mould_suggests_parents_and_siblings_and_holds_none_of_them(reviewer):
    mother = factories.culture(reviewer)
    mouldy = factories.batch(reviewer, starter=mother)
    sibling = factories.batch(reviewer, starter=mother)
    stranger = factories.batch(reviewer)
    hold = factories.hold(reviewer, mouldy, "mould")

    suggested = {lot.pk for lot in deviations.suggested_with(hold)}

    assert {mother.pk, sibling.pk} <= suggested
    assert stranger.pk not in suggested
    assert blocks(sibling) == []


class TestAddingLots:
    """A deviation is often found to be wider than it was first thought."""

    @pytest.fixture
    def deviation(self, operator):
        return deviations.open_deviation(
            actor=operator,
            kind="procedure",
            title="Lid left open overnight",
            what_happened="The lid of the kettle stood open.",
            lots=[factories.batch(operator, code="B1")],
        )

    def test_names_them_with_how_it_was_found_out(self, operator, deviation):
        other = factories.batch(operator, code="B2")

        deviations.add_lots(actor=operator, deviation=deviation, lots=[other], reason="same kettle")

        assert [link.lot.code for link in deviation.lots.live()] == ["B1", "B2"]
        written = deviation.lots.last().history.get()
        assert (written.history_user, written.history_change_reason) == (operator, "same kettle")

    def test_is_refused_for_one_it_names_and_without_a_reason(self, operator, deviation):
        named = deviation.lots.get().lot

        with pytest.raises(Refused, match="B1 is named there already"):
            deviations.add_lots(actor=operator, deviation=deviation, lots=[named], reason="again")
        with pytest.raises(Refused, match="Say how it was found"):
            deviations.add_lots(
                actor=operator, deviation=deviation, lots=[factories.batch(operator)], reason=" "
            )

        assert deviation.lots.count() == 1

    def test_is_over_once_it_is_closed_and_signed(self, reviewer, operator, deviation):
        deviations.correct_deviation(
            actor=reviewer,
            deviation=deviation,
            problem_corrected="closed",
            made_less_likely="a latch",
            product_evaluated="tasted, pH read",
            kept_out="none unsafe",
            password="living culture 7",
        )

        with pytest.raises(Refused, match="Open another deviation"):
            deviations.add_lots(
                actor=operator,
                deviation=deviation,
                lots=[factories.batch(operator)],
                reason="same kettle",
            )
