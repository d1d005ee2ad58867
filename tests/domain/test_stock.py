"""Writing off and counting."""

from __future__ import annotations

import pytest

from brewlog.domain.stock import adjust, count_stock
from brewlog.ledger import on_hand
from brewlog.models import ReviewFlag, StockAdjustment
from brewlog.recording import Forbidden, Refused
from tests import factories
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db


class TestWritingOff:
    def test_takes_the_amount_from_the_stock_for_its_reason(self, operator):
        batch = factories.batch(operator, "60 L")

        found = adjust(
            actor=operator,
            lot=batch,
            quantity=quantity("500 mL"),
            why="sediment",
            when=at(20),
            note="cloudy",
            reason="from the paper sheet",
        )

        found.refresh_from_db()
        assert (found.change, found.quantity_text, found.reason) == (-500_000, "500 mL", "sediment")
        assert on_hand([batch.pk])[batch.pk] == 59_500_000
        row = found.history.get()
        assert (row.history_user, row.history_change_reason) == (operator, "from the paper sheet")

    def test_what_is_destroyed_was_seen_by_someone(self, operator, reviewer):
        lot = factories.bottles(operator, 100)
        factories.hold(reviewer, lot)
        fields = {"actor": operator, "lot": lot, "quantity": quantity("100"), "when": at(22)}

        with pytest.raises(Refused, match="Name who saw it destroyed"):
            adjust(why="destroyed", **fields)
        found = adjust(why="destroyed", witness="Ines Prado", **fields)

        assert (found.witness, on_hand([lot.pk])[lot.pk]) == ("Ines Prado", 0)

    @pytest.mark.parametrize("why", ["tasting", "staff", "donation"])
    def test_what_is_kept_back_is_not_given_to_drink(self, operator, reviewer, why):
        lot = factories.bottles(operator, 100)
        factories.hold(reviewer, lot)
        fields = {"actor": operator, "lot": lot, "quantity": quantity("6"), "when": at(22)}

        with pytest.raises(Forbidden, match="must not be given to drink"):
            adjust(why=why, **fields)
        adjust(why=why, already_done=True, **fields)

        flag = ReviewFlag.objects.get()
        assert (flag.kind, on_hand([lot.pk])[lot.pk]) == ("used_blocked", 94)

    def test_a_sample_of_what_is_kept_back_may_be_taken(self, operator, reviewer):
        lot = factories.bottles(operator, 100)
        factories.hold(reviewer, lot)

        adjust(actor=operator, lot=lot, quantity=quantity("2"), why="sample", when=at(22))

        assert on_hand([lot.pk])[lot.pk] == 98

    def test_more_than_is_there_is_recorded_with_the_difference(self, operator):
        lot = factories.bottles(operator, 10)

        adjust(actor=operator, lot=lot, quantity=quantity("12"), why="expired", when=at(22))

        assert ReviewFlag.objects.get().text == (
            "12, past its date: 12 taken, 10 on the books: 2 more than they show"
        )

    @pytest.mark.parametrize(
        ("fields", "words"),
        [
            ({"why": "return"}, "with the customer"),
            ({"why": "count"}, "write how much there was"),
            ({"quantity": quantity("0")}, "more than nothing"),
            ({"quantity": quantity("2 L")}, "counted by count"),
            ({"when": at(19)}, "did not exist before"),
        ],
    )
    def test_that_cannot_be_is_refused(self, operator, fields, words):
        lot = factories.bottles(operator, 10)
        given = {"quantity": quantity("2"), "why": "sample", "when": at(22)} | fields

        with pytest.raises(Refused, match=words):
            adjust(actor=operator, lot=lot, **given)

        assert StockAdjustment.objects.count() == 0


class TestCounting:
    @pytest.mark.parametrize(("counted", "change"), [("96", -4), ("103", 3)])
    def test_corrects_the_books_by_the_difference_and_names_both(self, operator, counted, change):
        lot = factories.bottles(operator, 100)

        found = count_stock(actor=operator, lot=lot, counted=quantity(counted), when=at(22))

        assert (found.change, found.reason) == (change, "count")
        assert found.quantity_text == f"{counted} counted, 100 on the books"
        assert on_hand([lot.pk])[lot.pk] == int(counted)

    def test_compares_with_the_books_of_that_time(self, operator):
        lot = factories.bottles(operator, 100)
        factories.shipment(operator, lot, "10", when=at(21))
        factories.shipment(operator, lot, "30", when=at(25))
        adjust(actor=operator, lot=lot, quantity=quantity("2"), why="sample", when=at(26))

        found = count_stock(actor=operator, lot=lot, counted=quantity("88"), when=at(23))

        assert found.quantity_text == "88 counted, 90 on the books"
        assert on_hand([lot.pk])[lot.pk] == 56

    def test_that_agrees_corrects_nothing(self, operator):
        lot = factories.bottles(operator, 100)

        with pytest.raises(Refused, match="show 100 as well"):
            count_stock(actor=operator, lot=lot, counted=quantity("100"), when=at(22))

        assert StockAdjustment.objects.count() == 0

    def test_of_a_lot_without_an_amount_is_refused(self, operator):
        brew = factories.batches.start_brew(actor=operator, when=at(2))

        with pytest.raises(Refused, match="no amount yet"):
            count_stock(actor=operator, lot=brew, counted=quantity("5 L"), when=at(3))
