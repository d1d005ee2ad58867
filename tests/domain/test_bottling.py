"""Bottling one or several batches into several flavours and formats."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewlog.domain import bottling, holds
from brewlog.domain.bottling import Drawn, Output, share
from brewlog.domain.lots import void
from brewlog.ledger import on_hand
from brewlog.models import BottlingLot, LotUse, ReviewFlag
from brewlog.recording import Forbidden, Refused
from brewlog.when import on_day
from tests import factories
from tests.factories import at, quantity

db = pytest.mark.django_db


@given(
    amount=st.integers(0, 10**12),
    weights=st.lists(st.integers(0, 10**9), min_size=1, max_size=12).filter(any),
)
def test_parts_add_up_to_exactly_the_whole_and_are_within_one_of_their_due(amount, weights):
    parts = share(amount, weights)

    assert sum(parts) == amount
    for part, weight in zip(parts, weights, strict=True):
        assert abs(part - amount * weight / sum(weights)) < 1 + amount * 1e-12


@pytest.mark.parametrize(
    ("amount", "weights", "parts"),
    [
        (100, [1, 1, 1], [34, 33, 33]),
        (100, [3, 0, 3], [50, 0, 50]),
        (1, [1, 2], [0, 1]),
        (10, [1, 1, 4], [2, 2, 6]),  # 1.67, 1.67, 6.67: two units over, the first among equals
    ],
)
def test_what_is_left_over_goes_to_the_largest_remainders(amount, weights, parts):
    assert share(amount, weights) == parts


@db
class TestSeveralInOneGo:
    def test_each_flavour_and_format_becomes_a_lot_with_its_part(self, operator):
        batch = factories.batch(operator, "60 L")
        ginger, plain = (factories.flavour(operator, name) for name in ("Ginger", "Plain"))
        small = factories.bottle_format(operator, holds="330 mL")
        large = factories.bottle_format(operator, holds="750 mL")
        juice = factories.ingredient_lot(operator, "5 L")
        caps = factories.ingredient_lot(
            operator, "500", of=factories.ingredient(operator, kind="packaging", dimension="count")
        )

        lots = bottling.bottle(
            actor=operator,
            when=at(20),
            draws=[Drawn(batch, quantity("54 L"))],
            additions=[
                Drawn(juice, quantity("1 L"), flavour=ginger),
                Drawn(caps, quantity("120")),
            ],
            outputs=[
                Output(ginger, small, 60, rejects=2),
                Output(ginger, large, 20),
                Output(plain, small, 38, carbonation="still"),
            ],
        )

        assert [lot.code for lot in lots] == ["L26079A", "L26079B", "L26079C"]
        assert [(lot.made, lot.rejects, lot.made_text) for lot in lots] == [
            (60, 2, "60"),
            (20, 0, "20"),
            (38, 0, "38"),
        ]
        # 62 x 330, 20 x 750, 38 x 330 mL: 20.46, 15 and 12.54 of 48 L.
        assert parts_of(batch, lots) == [23_017_500, 16_875_000, 14_107_500]
        # 1 L over 20.46 and 15 of 35.46 L.
        assert parts_of(juice, lots) == [576_988, 423_012, 0]
        # Caps by the bottle, rejects included: 62, 20 and 38 of 120.
        assert parts_of(caps, lots) == [62, 20, 38]
        purposes = LotUse.objects.filter(into=lots[0].pk).values_list("purpose", flat=True)
        assert sorted(purposes) == ["drink", "flavouring", "packaging"]
        left = [on_hand([lot.pk])[lot.pk] for lot in (batch, juice, caps)]
        assert left == [6_000_000, 4_000_000, 380]
        assert [on_hand([lot.pk])[lot.pk] for lot in lots] == [60, 20, 38]
        assert ReviewFlag.objects.count() == 0

    def test_several_batches_are_blended_or_kept_to_one_flavour(self, operator):
        black, green = factories.batch(operator), factories.batch(operator)
        ginger, plain = factories.flavour(operator), factories.flavour(operator)
        bottle = factories.bottle_format(operator, holds="500 mL")

        lots = bottling.bottle(
            actor=operator,
            when=at(20),
            draws=[
                Drawn(black, quantity("20 L")),
                Drawn(green, quantity("10 L"), flavour=plain),
            ],
            outputs=[Output(ginger, bottle, 20), Output(plain, bottle, 40)],
        )

        assert parts_of(black, lots) == [6_666_667, 13_333_333]
        assert parts_of(green, lots) == [0, 10_000_000]

    def test_shared_amounts_show_what_they_are_part_of(self, operator):
        batch = factories.batch(operator)
        bottle = factories.bottle_format(operator, holds="500 mL")
        output = Output(factories.flavour(operator), bottle, 10)

        bottling.bottle(
            actor=operator,
            when=at(20),
            draws=[Drawn(batch, quantity("10 L"))],
            outputs=[output, output],
        )

        texts = LotUse.objects.filter(source=batch.pk).values_list("quantity_text", flat=True)
        assert list(texts) == ["5 L of 10 L", "5 L of 10 L"]

    def test_history_says_who_and_why(self, operator, reviewer):
        batch = factories.batch(operator)
        output = Output(factories.flavour(operator), factories.bottle_format(operator), 30)

        [lot] = bottling.bottle(
            actor=operator,
            when=at(20),
            draws=[Drawn(batch, quantity("10 L"))],
            outputs=[output],
            done_by=reviewer,
            reason="found the sheet",
        )

        row = lot.history.get()
        assert (row.history_user, row.history_change_reason) == (operator, "found the sheet")
        assert (lot.done_by, lot.recorded_by, lot.is_late) == (reviewer, operator, True)


def parts_of(source, lots):
    uses = dict(LotUse.objects.filter(source=source.pk).values_list("into", "quantity"))
    return [uses.get(lot.pk, 0) for lot in lots]


@db
class TestWhatFollowsByItself:
    @pytest.mark.parametrize(
        ("carbonation", "warm_from"),
        [("", at(20).at), ("natural", at(20).at), ("mixed", at(20).at), ("forced", None)],
    )
    def test_it_is_warm_from_the_filling_where_it_works_on(self, operator, carbonation, warm_from):
        lot = factories.bottles(operator, when=at(20), carbonation=carbonation)

        assert lot.conditioning_from == warm_from

    def test_best_before_follows_the_flavour_and_the_brewerys_day(self, brewery, operator):
        flavour = factories.flavour(operator, best_before_days=60)

        lot = factories.bottles(operator, when=on_day(dt.date(2026, 3, 20)), flavour=flavour)

        assert lot.best_before == dt.date(2026, 5, 19)

    def test_the_code_given_is_kept(self, operator):
        assert factories.bottles(operator, code="  GB 12 ").code == "GB 12"


@db
class TestOneRow:
    def test_draws_from_its_batch(self, operator):
        batch = factories.batch(operator, "60 L")

        lot = factories.bottles(operator, 100, batch=batch, drawn="35 L")

        use = LotUse.objects.get(into=lot.pk)
        assert (use.source_id, use.quantity, use.quantity_text) == (batch.pk, 35_000_000, "35 L")

    def test_may_leave_what_went_in_to_another_sheet(self, operator):
        lot = factories.bottles(operator, 100)

        assert not LotUse.objects.filter(into=lot.pk).exists()

    def test_names_both_the_batch_and_the_amount(self, operator):
        batch = factories.batch(operator)

        with pytest.raises(Refused, match="how much of it was drawn"):
            factories.bottles(operator, batch=batch)
        with pytest.raises(Refused, match="Write the batch"):
            factories.bottles(operator, drawn="10 L")

        assert BottlingLot.objects.count() == 0


@db
class TestImpossible:
    @pytest.mark.parametrize(
        ("fields", "words"),
        [
            ({"count": 0}, "Nothing was filled"),
            ({"fill": quantity("330 L")}, "is more. Write the fill of one bottle"),
            ({"best_before": dt.date(2026, 3, 20)}, "before the bottling"),
            ({"conditioning_from": at(19)}, "only filled on"),
            ({"drawn": "20 L", "count": 240}, "The bottles hold 79.2 L and 20 L went in"),
            ({"when": at(2)}, "did not exist before"),
            ({"when": factories.now(days=2)}, "still to come"),
        ],
    )
    def test_bottlings_are_refused_and_leave_nothing_behind(self, operator, fields, words):
        batch = factories.batch(operator, when=at(3))
        given = {"count": 100, "batch": batch, "drawn": "35 L", "when": at(20)} | fields

        with pytest.raises(Refused, match=words):
            factories.bottles(operator, **given)

        assert (BottlingLot.objects.count(), on_hand([batch.pk])[batch.pk]) == (0, 60_000_000)

    def test_only_batches_are_drawn_and_only_goods_are_added(self, operator):
        brew, batch = factories.brew(operator), factories.batch(operator)
        output = Output(factories.flavour(operator), factories.bottle_format(operator), 30)
        fields = {"actor": operator, "when": at(20), "outputs": [output]}

        with pytest.raises(Refused, match="is a brew, not a batch"):
            bottling.bottle(draws=[Drawn(brew, quantity("10 L"))], **fields)
        with pytest.raises(Refused, match="is a brew. What is added"):
            bottling.bottle(
                draws=[Drawn(batch, quantity("10 L"))],
                additions=[Drawn(brew, quantity("1 L"))],
                **fields,
            )

    def test_an_addition_for_a_flavour_that_is_not_filled_is_refused(self, operator):
        batch, juice = factories.batch(operator), factories.ingredient_lot(operator, "5 L")
        output = Output(factories.flavour(operator), factories.bottle_format(operator), 30)

        with pytest.raises(Refused, match="No bottles of Ginger are filled here"):
            bottling.bottle(
                actor=operator,
                when=at(20),
                draws=[Drawn(batch, quantity("10 L"))],
                additions=[
                    Drawn(juice, quantity("1 L"), flavour=factories.flavour(operator, "Ginger"))
                ],
                outputs=[output],
            )

        assert (BottlingLot.objects.count(), LotUse.objects.filter(source=batch.pk).count()) == (
            0,
            0,
        )

    def test_a_taken_code_is_refused(self, operator):
        first = factories.bottles(operator)

        with pytest.raises(Refused, match="is taken"):
            factories.bottles(operator, code=first.code.lower())

    def test_a_voided_batch_is_refused(self, operator):
        batch = factories.batch(operator)
        for use in LotUse.objects.filter(into=batch.pk):
            void(actor=operator, record=use, reason="entered twice")
        for step in batch.steps.all():
            void(actor=operator, record=step, reason="entered twice")
        void(actor=operator, record=batch, reason="entered twice")

        with pytest.raises(Refused, match="entered twice"):
            factories.bottles(operator, batch=batch, drawn="35 L")

    @pytest.mark.parametrize("missing", ["draws", "outputs"])
    def test_something_is_drawn_and_something_is_filled(self, operator, missing):
        output = Output(factories.flavour(operator), factories.bottle_format(operator), 30)
        given = {"draws": [Drawn(factories.batch(operator), quantity("10 L"))], "outputs": [output]}

        with pytest.raises(Refused, match="Name"):
            bottling.bottle(actor=operator, when=at(20), **(given | {missing: []}))


@db
class TestForbidden:
    def test_a_held_batch_is_not_bottled(self, operator, reviewer):
        batch = factories.batch(operator)
        factories.hold(reviewer, batch, when=at(19))

        with pytest.raises(Forbidden, match="is on hold"):
            factories.bottles(operator, batch=batch, drawn="35 L")

        assert BottlingLot.objects.count() == 0

    def test_a_held_batch_bottled_already_is_recorded_and_flagged_once(self, operator, reviewer):
        batch = factories.batch(operator)
        caps = factories.ingredient_lot(
            operator, "500", of=factories.ingredient(operator, kind="packaging", dimension="count")
        )
        factories.hold(reviewer, batch, when=at(19))
        output = Output(factories.flavour(operator), factories.bottle_format(operator), 100)

        [lot] = bottling.bottle(
            actor=operator,
            when=at(20),
            draws=[Drawn(batch, quantity("35 L"))],
            additions=[Drawn(caps, quantity("100"))],
            outputs=[output],
            already_done=True,
        )

        flag = ReviewFlag.objects.get()
        assert (flag.lot_id, flag.kind) == (batch.pk, "used_blocked")
        assert f"35 L into {lot}: used although" in flag.text
        holds.lift(actor=reviewer, lot=batch, reason="only yeast")

    def test_decorative_bottles_are_not_for_what_makes_gas(self, operator):
        pretty = factories.bottle_format(operator, "Swan bottle", rating="decorative")

        with pytest.raises(Forbidden, match="it can burst"):
            factories.bottles(operator, format=pretty)
        factories.bottles(operator, format=pretty, carbonation="still")
        filled = factories.bottles(operator, format=pretty, already_done=True)

        assert BottlingLot.objects.count() == 2
        flag = ReviewFlag.objects.get()
        assert (flag.lot_id, flag.text) == (
            filled.pk,
            "filled although Swan bottle is decorative and not made for pressure: it can burst",
        )


@db
def test_more_than_the_batch_holds_is_recorded_with_the_difference(operator):
    batch = factories.batch(operator, "60 L")

    factories.bottles(operator, 200, batch=batch, drawn="66 L")

    flag = ReviewFlag.objects.get()
    assert (flag.lot_id, flag.kind) == (batch.pk, "overdrawn")
    assert "66 L taken, 60 L on the books: 6 L more than they show" in flag.text


@db
def test_somewhat_more_filled_than_drawn_is_worth_a_look(operator):
    batch = factories.batch(operator, "60 L")

    lot = factories.bottles(operator, 100, batch=batch, drawn="30 L")

    flag = ReviewFlag.objects.get()
    assert (flag.lot_id, flag.text) == (lot.pk, "the bottles hold 33 L and 30 L went in")
