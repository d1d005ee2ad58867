"""Line clearance, breakage, washing, bottles kept back."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from brewlog.domain import line
from brewlog.domain.blocks import blocks
from brewlog.ledger import on_hand
from brewlog.models import (
    BottleWash,
    Breakage,
    Hold,
    LineClearance,
    RetainedBottles,
    ReviewFlag,
    StockAdjustment,
)
from brewlog.recording import Refused
from tests import factories
from tests.factories import at

pytestmark = pytest.mark.django_db


class TestClearingTheLine:
    def test_names_what_ran_before_and_which_labels_were_kept(self, operator):
        before, lot = factories.bottles(operator, when=at(19)), factories.bottles(operator)

        found = line.clear_line(
            actor=operator, lot=lot, previous=before, when=at(20), first_label_kept=True
        )

        found.refresh_from_db()
        assert (found.lot, found.previous) == (lot, before)
        assert (found.first_label_kept, found.last_label_kept) == (True, False)
        assert found.history.get().history_user == operator

    def test_is_refused_for_what_cannot_have_run_before(self, operator):
        lot, later = factories.bottles(operator), factories.bottles(operator, when=at(22))

        with pytest.raises(Refused, match="only bottled on"):
            line.clear_line(actor=operator, lot=lot, previous=later, when=at(20))
        with pytest.raises(Refused, match="before itself"):
            line.clear_line(actor=operator, lot=lot, previous=lot, when=at(20))
        with pytest.raises(Refused, match="not bottles"):
            line.clear_line(actor=operator, lot=factories.batch(operator), when=at(20))

        assert LineClearance.objects.count() == 0


class TestBreakage:
    def break_some(self, operator, lot, **fields):
        given = {"broken": 2, "cleaned": "conveyor, filler heads", "when": at(20, 10)}
        return line.record_breakage(actor=operator, lot=lot, **(given | fields))

    def test_takes_the_broken_ones_from_the_stock_and_holds_what_was_set_apart(self, operator):
        lot = factories.bottles(operator, 100)

        breakage, adjustment, hold = self.break_some(
            operator, lot, set_apart=12, last_good_check_at=at(20, 9, 30)
        )

        assert (breakage.broken, breakage.set_apart) == (2, 12)
        assert breakage.last_good_check_at == at(20, 9, 30).at
        assert (adjustment.reason, adjustment.change) == ("breakage", -2)
        assert on_hand([lot.pk])[lot.pk] == 98
        assert (hold.cause, hold.when) == ("foreign", at(20, 10))
        assert hold.reason.endswith("12 bottles set apart")
        assert [block.because.pk for block in blocks(lot)] == [lot.pk]

    def test_before_counting_leaves_the_stock_alone(self, operator):
        lot = factories.bottles(operator, 100)

        self.break_some(operator, lot, not_counted=True, set_apart=3)

        assert on_hand([lot.pk])[lot.pk] == 100
        assert StockAdjustment.objects.count() == 0

    def test_with_nothing_set_apart_goes_to_a_reviewer(self, operator):
        lot = factories.bottles(operator, 100)

        self.break_some(operator, lot)

        assert Hold.objects.count() == 0
        assert "no bottles were set apart" in ReviewFlag.objects.get().text

    def test_a_second_time_does_not_hold_twice(self, operator):
        lot = factories.bottles(operator, 100)

        self.break_some(operator, lot, set_apart=3)
        self.break_some(operator, lot, set_apart=4)

        assert (Breakage.objects.count(), Hold.objects.count()) == (2, 1)

    @pytest.mark.parametrize(
        ("fields", "words"),
        [
            ({"broken": 0}, "how many bottles broke"),
            ({"broken": 2, "set_apart": 99}, "had 100 bottles; 101 are more"),
            ({"last_good_check_at": at(20, 11)}, "before that check"),
            ({"when": at(19)}, "did not exist before"),
        ],
    )
    def test_that_cannot_be_leaves_nothing_behind(self, operator, fields, words):
        lot = factories.bottles(operator, 100)

        with pytest.raises(Refused, match=words):
            self.break_some(operator, lot, **fields)

        assert (Breakage.objects.count(), StockAdjustment.objects.count()) == (0, 0)


class TestWashing:
    def test_says_how_many_and_how(self, operator):
        lot = factories.bottles(operator)

        found = line.record_wash(
            actor=operator,
            lot=lot,
            washed=110,
            chipped=4,
            gaskets_checked=True,
            method="caustic, 70 °C, two rinses",
            when=at(19),
        )

        assert (found.washed, found.chipped, found.gaskets_checked) == (110, 4, True)

    @pytest.mark.parametrize(
        ("fields", "words"),
        [
            ({"washed": 0}, "how many bottles were washed"),
            ({"chipped": 111}, "Only 110 were washed"),
            ({"when": at(21)}, "before that washing"),
        ],
    )
    def test_that_cannot_be_is_refused(self, operator, fields, words):
        lot = factories.bottles(operator)
        given = {"washed": 110, "method": "hot water", "when": at(19)} | fields

        with pytest.raises(Refused, match=words):
            line.record_wash(actor=operator, lot=lot, **given)

        assert BottleWash.objects.count() == 0


class TestKeepingBack:
    def keep(self, operator, lot, **fields):
        given = {"count": 2, "kept": "warm", "pull_on": dt.date(2026, 4, 20), "when": at(20)}
        return line.keep_bottles(actor=operator, lot=lot, **(given | fields))

    def test_leaves_them_on_hand_until_they_are_opened(self, operator):
        lot = factories.bottles(operator, 100)
        kept = self.keep(operator, lot)
        before = on_hand([lot.pk])[lot.pk]

        found = line.pull_bottles(
            actor=operator, lot=lot, finding="clear, dry", when=at(20, month=4)
        )

        assert (before, on_hand([lot.pk])[lot.pk]) == (100, 98)
        assert (found.pk, found.finding, found.pulled_at) == (
            kept.pk,
            "clear, dry",
            at(20, month=4).at,
        )
        assert StockAdjustment.objects.get().reason == "sample"
        assert ReviewFlag.objects.count() == 0

    def test_opens_those_due_first(self, operator):
        lot = factories.bottles(operator, 100)
        late = self.keep(operator, lot, pull_on=dt.date(2026, 6, 1))
        soon = self.keep(operator, lot, pull_on=dt.date(2026, 4, 1))
        fields = {"actor": operator, "lot": lot, "finding": "fine", "when": at(2, month=4)}

        assert [line.pull_bottles(**fields).pk for _ in range(2)] == [soon.pk, late.pk]
        with pytest.raises(Refused, match="No bottles of .* are kept back"):
            line.pull_bottles(**fields)

    def test_asks_cold_or_warm_where_both_are_kept(self, operator):
        lot = factories.bottles(operator, 100)
        self.keep(operator, lot)
        cold = self.keep(operator, lot, kept="cold", pull_on=dt.date(2026, 5, 1))
        fields = {"actor": operator, "lot": lot, "finding": "fine", "when": at(2, month=5)}

        with pytest.raises(Refused, match="Say which were opened"):
            line.pull_bottles(**fields)

        assert line.pull_bottles(kept="cold", **fields).pk == cold.pk

    def test_takes_down_what_the_gauge_showed_as_a_reading_of_the_lot(self, operator):
        lot = factories.bottles(operator, 100)
        self.keep(operator, lot)
        gauge = factories.instrument(operator, kind="gauge")
        fields = {"finding": "lively", "when": at(20, month=4), "gauge": gauge}

        with pytest.raises(Refused) as refused:
            line.pull_bottles(actor=operator, lot=lot, **fields)
        assert list(refused.value.message_dict) == ["pressure"]
        with pytest.raises(Refused) as refused:
            line.pull_bottles(actor=operator, lot=lot, pressure="lots", **fields)
        assert list(refused.value.message_dict) == ["pressure"]
        line.pull_bottles(actor=operator, lot=lot, pressure="30 psi", **fields)

        (reading,) = lot.readings.all()
        assert (reading.measurand, reading.stage) == ("pressure", "shelf")
        assert (reading.value_text, round(reading.value, 2)) == ("30 psi", Decimal("2.07"))
        assert (reading.instrument, reading.note) == (gauge, "kept back at room temperature")

    def test_flags_what_is_wrong(self, operator):
        lot = factories.bottles(operator, 100)
        self.keep(operator, lot)

        line.pull_bottles(
            actor=operator, lot=lot, finding="gushes", is_wrong=True, when=at(20, month=4)
        )

        flag = ReviewFlag.objects.get()
        assert (flag.lot_id, flag.text) == (
            lot.pk,
            "bottle kept back at room temperature: gushes",
        )

    def test_more_than_there_are_is_recorded_and_flagged(self, operator):
        lot = factories.bottles(operator, 4)

        self.keep(operator, lot, count=6)

        assert ReviewFlag.objects.get().text == "6 kept back, 4 on the books"

    @pytest.mark.parametrize(
        ("fields", "words"),
        [
            ({"count": 0}, "how many"),
            ({"pull_on": dt.date(2026, 3, 19)}, "before they were kept back"),
            ({"when": at(19)}, "did not exist before"),
        ],
    )
    def test_that_cannot_be_is_refused(self, operator, fields, words):
        lot = factories.bottles(operator)

        with pytest.raises(Refused, match=words):
            self.keep(operator, lot, **fields)

        assert RetainedBottles.objects.count() == 0
