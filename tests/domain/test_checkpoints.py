"""Readings, laboratory results, estimates and looking at cultures."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from brewlog.domain import checkpoints, shipping
from brewlog.domain.blocks import blocks
from brewlog.domain.lots import void
from brewlog.domain.stages import usual_stage
from brewlog.models import Checkpoint, ConditionCheck, Hold, LabResult, ReviewFlag
from brewlog.recording import Forbidden, Refused
from brewlog.when import on_day
from tests import factories
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db


class TestReadings:
    def test_keep_the_number_the_text_who_read_and_when(self, operator, reviewer):
        batch = factories.batch(operator)
        meter = factories.instrument(operator)

        found = checkpoints.record_reading(
            actor=operator,
            lot=batch,
            measurand="ph",
            value="3,42",
            when=at(9, 14, 20),
            sample_temperature=Decimal("22.50"),
            instrument=meter,
            done_by=reviewer,
            note="from the middle of the jar",
            reason="the sheet was found again",
        )

        found.refresh_from_db()
        assert (found.lot_id, found.value, found.value_text) == (batch.pk, Decimal("3.42"), "3,42")
        assert (found.when, found.stage, found.replicate) == (at(9, 14, 20), "ferment", 1)
        assert (found.instrument, found.sample_temperature) == (meter, Decimal("22.5"))
        assert (found.done_by, found.recorded_by) == (reviewer, operator)
        row = found.history.get()
        assert (row.history_user, row.history_change_reason) == (
            operator,
            "the sheet was found again",
        )
        assert found.is_late

    def test_of_this_minute_are_not_late(self, operator):
        place = factories.location(operator)

        found = checkpoints.record_reading(
            actor=operator, location=place, measurand="temperature", value="4", when=factories.now()
        )

        assert not found.is_late

    def test_of_a_place_are_in_storage(self, operator):
        cooler = factories.location(operator, is_cold=True)

        found = checkpoints.record_reading(
            actor=operator, location=cooler, measurand="temperature", value="39 °F", when=at(9)
        )

        assert (found.location, found.value, found.stage) == (cooler, Decimal("3.89"), "storage")

    def test_of_the_same_minute_are_replicates(self, operator):
        batch = factories.batch(operator)
        first = factories.reading(operator, batch)
        again = factories.reading(operator, batch, "3.47")
        later = factories.reading(operator, batch, when=at(10, 9, 1))

        assert [each.replicate for each in (first, again, later)] == [1, 2, 1]

    @pytest.mark.parametrize("value", ["31", "7.0.3", ""])
    def test_that_cannot_be_leave_nothing_behind(self, operator, value):
        batch = factories.batch(operator)

        with pytest.raises(Refused):
            factories.reading(operator, batch, value)

        assert Checkpoint.objects.count() == 0

    def test_of_a_voided_lot_are_refused(self, operator):
        lot = factories.ingredient_lot(operator)
        void(actor=operator, record=lot, reason="entered twice")

        with pytest.raises(Refused, match="voided: entered twice"):
            factories.reading(operator, lot)

    def test_before_the_lot_was_there_are_refused(self, operator):
        batch = factories.batch(operator, when=at(3))

        with pytest.raises(Refused, match="did not exist before"):
            factories.reading(operator, batch, when=at(2))

    def test_still_to_come_are_refused(self, operator):
        batch = factories.batch(operator)

        with pytest.raises(Refused, match="still to come"):
            factories.reading(operator, batch, when=factories.now(days=1))

    def test_need_a_lot_or_a_place_and_not_both(self, operator):
        batch, place = factories.batch(operator), factories.location(operator)
        fields = {"actor": operator, "measurand": "ph", "value": "3.4", "when": at(9)}

        with pytest.raises(Refused, match="Name the lot, or the place"):
            checkpoints.record_reading(**fields)
        with pytest.raises(Refused, match="Leave one empty"):
            checkpoints.record_reading(lot=batch, location=place, **fields)

    def test_by_an_instrument_that_cannot_read_it_are_refused(self, operator):
        scale = factories.instrument(operator, kind="scale")

        with pytest.raises(Refused, match="is a scale; it does not read pH"):
            factories.reading(operator, factories.batch(operator), instrument=scale)

    def test_by_an_instrument_that_failed_are_recorded_and_flagged(self, operator):
        meter = factories.instrument(operator, "Meter A")
        factories.calibration(operator, meter, "failed", when=at(5))
        batch = factories.batch(operator)

        found = factories.reading(operator, batch, "3.45", when=at(10), instrument=meter)

        assert found.value == Decimal("3.45")
        flag = ReviewFlag.objects.get()
        assert flag.lot_id == batch.pk
        assert "read by Meter A, could not be brought into tolerance" in flag.text


class TestTheUsualStage:
    @pytest.mark.parametrize(
        ("when", "stage"),
        [
            (at(3, 8), "sweet_tea"),
            (at(3, 11, 30), "pitch"),
            (at(3, 14), "ferment"),
            (at(9), "ferment"),
        ],
    )
    def test_of_a_batch_follows_its_pitching(self, operator, when, stage):
        batch = factories.batch(operator, when=at(3, 11))
        batch.when = at(3, 7)

        assert usual_stage(batch, "ph", when) == stage

    def test_just_after_pitching_is_taken_once_for_each_measurand(self, operator):
        batch = factories.batch(operator, when=at(3, 11))

        stages = [
            factories.reading(operator, batch, "4.4", when=at(3, 11, 10)).stage,
            factories.reading(
                operator, batch, "25", when=at(3, 11, 12), measurand="temperature"
            ).stage,
            factories.reading(operator, batch, "4.4", when=at(3, 12, 50)).stage,
        ]

        assert stages == ["pitch", "pitch", "ferment"]

    def test_of_a_batch_pitched_on_a_day_is_that_whole_day(self, operator):
        batch = factories.batch(operator, when=on_day(dt.date(2026, 3, 3)))

        assert factories.reading(operator, batch, when=at(3, 20)).stage == "pitch"

    def test_of_a_flavoured_batch_is_after_flavouring(self, operator):
        batch = factories.batch(operator)
        juice = factories.ingredient_lot(operator, "5 L")
        factories.use(operator, juice, batch, "2 L", when=at(8), purpose="flavouring")

        assert factories.reading(operator, batch, when=at(7, 9)).stage == "ferment"
        assert factories.reading(operator, batch, when=at(9)).stage == "flavoured"

    def test_of_other_lots(self, operator):
        delivery = factories.ingredient_lot(operator, when=at(1))
        lots_and_times = [
            (factories.brew(operator), at(2, 10)),
            (factories.culture(operator), at(2)),
            (delivery, at(1, 12)),
            (delivery, at(4)),
        ]

        found = [factories.reading(operator, lot, when=when).stage for lot, when in lots_and_times]

        assert found == ["sweet_tea", "starter", "arrival", "storage"]

    def test_of_bottles_follows_warm_and_cold(self, operator):
        bottles = factories.bottles(operator, when=at(20))
        still = factories.bottles(operator, when=at(20), carbonation="still")
        shipping.move(
            actor=operator,
            lot=bottles,
            quantity=quantity("10"),
            to_location=factories.location(operator, is_cold=True),
            when=at(26),
        )

        stages = [
            factories.reading(operator, bottles, when=when).stage
            for when in (at(20, 12), at(23), at(27))
        ]

        assert stages == ["bottling", "conditioning", "finished"]
        assert factories.reading(operator, still, when=at(23)).stage == "finished"


class TestLaboratoryResults:
    def test_keep_their_uncertainty_and_report(self, operator):
        bottles = factories.bottles(operator)

        found = checkpoints.record_lab_result(
            actor=operator,
            lot=bottles,
            value="<0.5",
            standard_uncertainty=Decimal("0.02"),
            laboratory="Northgate Analytical",
            method="distillation",
            when=at(25),
            reported_on=dt.date(2026, 3, 30),
            report_number="NA-118",
        )

        found.refresh_from_db()
        assert (found.measurand, found.value, found.value_text) == (
            "alcohol",
            Decimal("0.5"),
            "< 0.5",
        )
        assert (found.standard_uncertainty, found.report_number) == (Decimal("0.02"), "NA-118")
        assert found.history.get().history_user == operator

    @pytest.mark.parametrize(
        ("fields", "words"),
        [
            ({"value": "500"}, "between 0 and 100"),
            ({"standard_uncertainty": Decimal(0)}, "more than nothing"),
            ({"reported_on": dt.date(2026, 3, 24)}, "older than its sample"),
            ({"when": at(2)}, "did not exist before"),
        ],
    )
    def test_that_cannot_be_are_refused(self, operator, fields, words):
        bottles = factories.bottles(operator, when=at(20))
        given = {"value": "0.4", "when": at(25), "laboratory": "Northgate Analytical"}

        with pytest.raises(Refused, match=words):
            checkpoints.record_lab_result(actor=operator, lot=bottles, **(given | fields))

        assert LabResult.objects.count() == 0


def test_an_estimate_says_how_it_was_come_by(operator):
    batch = factories.batch(operator)

    found = checkpoints.record_alcohol_estimate(
        actor=operator,
        lot=batch,
        value=Decimal("0.9"),
        standard_uncertainty=Decimal("0.4"),
        method="density and acidity",
        inputs="SG 1.030, TA 5 g/L",
        when=at(9),
    )

    assert (found.value, found.calculation_version) == (Decimal("0.9"), "by hand")


def test_an_estimate_without_uncertainty_is_refused(operator):
    batch = factories.batch(operator)

    with pytest.raises(ValidationError, match="more than nothing"):
        checkpoints.record_alcohol_estimate(
            actor=operator,
            lot=batch,
            value=Decimal("0.9"),
            standard_uncertainty=Decimal(0),
            method="guess",
            inputs="none",
            when=at(9),
        )


class TestLookingAtACulture:
    def test_mould_holds_the_lot_and_what_was_made_from_it_at_once(self, operator):
        starter = factories.culture(operator)
        batch = factories.batch(operator, starter=starter)

        check, placed = checkpoints.check_condition(
            actor=operator, lot=starter, when=at(6), mould="mould", look="green, fuzzy"
        )

        assert (check.verdict, check.look) == ("suspect", "green, fuzzy")
        assert (placed.lot_id, placed.cause, placed.when) == (starter.pk, "mould", at(6))
        assert [block.because.pk for block in blocks(batch)] == [starter.pk]

    def test_mould_seen_again_does_not_hold_twice(self, operator):
        starter = factories.culture(operator)
        for day in (6, 7):
            checkpoints.check_condition(actor=operator, lot=starter, when=at(day), mould="mould")

        assert ConditionCheck.objects.count() == 2
        assert Hold.objects.count() == 1

    @pytest.mark.parametrize(
        ("seen", "words"),
        [
            ({"mould": "unsure"}, "not sure whether it is mould"),
            ({"vinegar_eels": True, "flies": True}, "vinegar eels, flies or larvae"),
            ({"verdict": "suspect"}, "found suspect"),
        ],
    )
    def test_what_is_not_right_goes_to_a_reviewer(self, operator, seen, words):
        starter = factories.culture(operator)

        _, flag = checkpoints.check_condition(actor=operator, lot=starter, when=at(6), **seen)

        assert (flag.lot_id, flag.kind) == (starter.pk, "condition")
        assert words in flag.text
        assert bool(blocks(starter)) == ("vinegar_eels" not in seen)

    @pytest.mark.parametrize("seen", [{"mould": "unsure"}, {"verdict": "suspect"}])
    def test_what_is_in_doubt_is_not_used_until_it_was_looked_at_again(self, operator, seen):
        starter = factories.culture(operator)
        checkpoints.check_condition(actor=operator, lot=starter, when=at(6), **seen)

        with pytest.raises(Forbidden, match="look again first"):
            factories.batch(operator, starter=starter, when=at(7))
        checkpoints.check_condition(actor=operator, lot=starter, when=at(7), mould="none")

        factories.batch(operator, starter=starter, when=at(8))
        assert blocks(starter) == []

    def test_kahm_yeast_alone_is_only_written_down(self, operator):
        starter = factories.culture(operator)

        found = checkpoints.check_condition(
            actor=operator, lot=starter, when=at(6), kahm_yeast=True, verdict="ready"
        )

        assert [each.verdict for each in found] == ["ready"]
        assert ReviewFlag.objects.count() == 0

    @pytest.mark.parametrize("mould", ["mould", "unsure"])
    def test_mould_and_ready_contradict_each_other(self, operator, mould):
        starter = factories.culture(operator)

        with pytest.raises(Refused, match="not ready"):
            checkpoints.check_condition(
                actor=operator, lot=starter, when=at(6), mould=mould, verdict="ready"
            )

        assert (ConditionCheck.objects.count(), Hold.objects.count()) == (0, 0)
