"""Using lots: what goes through, what cannot be, what should not be."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError

from brewlog.domain.lots import Draw, code_run, correct, next_code, use_lots, void
from brewlog.ledger import on_hand
from brewlog.models import (
    IngredientLot,
    Lot,
    LotKind,
    LotUse,
    ReviewFlag,
    StockAdjustment,
)
from brewlog.recording import Refused, recording
from tests import factories
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db


def test_a_use_takes_from_the_source_and_keeps_the_text_as_typed(operator):
    sugar = factories.ingredient_lot(operator, "10 kg")
    brew = factories.brew(operator)

    use = factories.use(operator, sugar, brew, "2 lb", purpose="ingredient")

    assert (use.quantity, use.quantity_text) == (907_185, "2 lb")
    assert on_hand([sugar.pk]) == {sugar.pk: 10_000_000 - 907_185}
    row = use.history.get()
    assert (row.history_user, row.history_type) == (operator, "+")


@pytest.mark.parametrize(
    ("amount", "field", "words"),
    [
        ("0 kg", "quantity", "more than nothing"),
        ("3 L", "quantity", "counted by mass"),
    ],
)
def test_nonsense_amounts_are_refused(operator, amount, field, words):
    sugar = factories.ingredient_lot(operator, "10 kg")
    brew = factories.brew(operator)

    with pytest.raises(Refused, match=words) as refusal:
        factories.use(operator, sugar, brew, amount)

    assert list(refusal.value.error_dict) == [field]
    assert not LotUse.objects.exists()


def test_a_use_before_the_lot_existed_is_refused(operator):
    sugar = factories.ingredient_lot(operator, "10 kg", when=at(5))
    brew = factories.brew(operator, when=at(2))

    with pytest.raises(Refused, match="did not exist before 2026-03-05"):
        factories.use(operator, sugar, brew, "1 kg", when=at(4))


def test_a_use_in_the_future_is_refused(operator):
    sugar = factories.ingredient_lot(operator, "10 kg")
    brew = factories.brew(operator)

    with pytest.raises(Refused, match="still to come"):
        factories.use(operator, sugar, brew, "1 kg", when=factories.now(days=1))


def test_a_lot_does_not_go_into_itself(operator):
    batch = factories.batch(operator)

    with pytest.raises(Refused, match="in itself"):
        factories.use(operator, batch, batch, "1 L")


def test_a_circle_is_refused_however_long(operator):
    first = factories.batch(operator)
    second = factories.batch(operator)
    third = factories.batch(operator)
    factories.use(operator, first, second, "1 L")
    factories.use(operator, second, third, "1 L")

    with pytest.raises(Refused, match="was itself made from"):
        factories.use(operator, third, first, "1 L")

    assert not LotUse.objects.filter(source=third.pk).exists()


def test_more_than_the_books_show_is_recorded_and_flagged_with_the_difference(operator):
    sugar = factories.ingredient_lot(operator, "10 kg")
    brew = factories.brew(operator)

    factories.use(operator, sugar, brew, "12.5 kg")

    assert on_hand([sugar.pk])[sugar.pk] == -2_500_000
    flag = ReviewFlag.objects.get()
    assert flag.kind == ReviewFlag.Kind.OVERDRAWN
    assert "2.5 kg more than they show" in flag.text


def test_what_goes_in_after_the_measuring_adds_to_the_product(operator):
    tank = factories.batch(operator, "60 L", when=at(3))
    other = factories.batch(operator, "50 L", when=at(3))

    use = factories.use(operator, other, tank, "40 L", when=at(4))

    assert use.added == 40_000_000
    assert on_hand([tank.pk])[tank.pk] == 100_000_000


def test_what_goes_in_with_the_starter_is_part_of_what_is_measured(operator):
    brew = factories.brew(operator, "100 L", when=at(2))
    batch = factories.batch(operator, "60 L", when=at(3))

    use = factories.use(operator, brew, batch, "54 L", when=at(3), purpose="brew")

    assert use.added is None
    assert on_hand([batch.pk])[batch.pk] == 60_000_000


def test_a_weighed_ingredient_of_known_density_adds_its_volume(operator):
    honey = factories.ingredient_lot(
        operator, "10 kg", of=factories.ingredient(operator, kind="sugar", density="1.42")
    )
    batch = factories.batch(operator, "60 L", when=at(3))

    use = factories.use(operator, honey, batch, "1.42 kg", when=at(5))

    assert use.added == 1_000_000


def test_caps_written_after_the_filling_make_no_more_bottles(operator):
    bottles = factories.bottles(operator, count=100)
    caps = factories.ingredient_lot(operator, "500", when=at(1))

    use = factories.use(operator, caps, bottles, "100", when=bottles.when, purpose="packaging")
    later = factories.use(operator, caps, bottles, "3", when=factories.now(), purpose="packaging")

    assert (use.added, later.added) == (None, None)
    assert on_hand([bottles.pk])[bottles.pk] == 100


def test_several_lots_go_in_together_or_not_at_all(operator):
    tea = factories.ingredient_lot(operator, "1 kg")
    sugar = factories.ingredient_lot(operator, "10 kg")
    brew = factories.brew(operator)

    with pytest.raises(Refused):
        use_lots(
            actor=operator,
            into=brew,
            when=at(5),
            lines=[
                Draw(tea, quantity("200 g"), "ingredient"),
                Draw(sugar, quantity("0 kg"), "ingredient"),
            ],
        )

    assert not LotUse.objects.exists()


class TestCodes:
    def test_run_through_the_alphabet_and_on(self):
        assert [code_run(n) for n in (0, 1, 25, 26, 27, 701, 702)] == [
            "A", "B", "Z", "AA", "AB", "ZZ", "AAA",
        ]  # fmt: skip

    def test_are_of_the_day_of_the_year_and_never_given_twice(self, brewery, operator):
        first = factories.ingredient_lot(operator, when=at(4))
        second = factories.ingredient_lot(operator, when=at(4))

        assert (first.code, second.code) == ("R26063A", "R26063B")
        assert next_code(LotKind.INGREDIENT, at(5)) == "R26064A"

    def test_that_are_taken_are_refused_in_any_capitals(self, operator):
        factories.ingredient_lot(operator, code="Oolong-7")

        with pytest.raises(Refused, match="OOLONG-7 is taken"):
            factories.ingredient_lot(operator, code="OOLONG-7")

        assert IngredientLot.objects.count() == 1

    def test_of_a_voided_lot_may_be_given_again(self, operator):
        first = factories.ingredient_lot(operator, code="T1")
        void(actor=operator, record=first, reason="typed twice")

        again = factories.ingredient_lot(operator, code="T1")

        assert Lot.objects.coded("t1") == Lot.objects.get(pk=again.pk)


class TestVoiding:
    def test_strikes_out_with_a_reason_and_keeps_the_entry(self, operator):
        sugar = factories.ingredient_lot(operator, "10 kg")
        use = factories.use(operator, sugar, factories.brew(operator), "2 kg")

        void(actor=operator, record=use, reason="wrong sack")

        use.refresh_from_db()
        assert use.is_void
        assert on_hand([sugar.pk])[sugar.pk] == 10_000_000
        newest = use.history.order_by("-history_id").first()
        assert (newest.history_user, newest.history_change_reason) == (operator, "wrong sack")

    def test_needs_a_reason(self, operator):
        sugar = factories.ingredient_lot(operator)

        with pytest.raises(Refused, match="Say why"):
            void(actor=operator, record=sugar, reason=" ")

    def test_a_lot_in_use_waits_for_what_leans_on_it(self, operator):
        sugar = factories.ingredient_lot(operator)
        brew = factories.brew(operator)
        use = factories.use(operator, sugar, brew, "2 kg")

        with pytest.raises(Refused, match=f"2 kg of {sugar.code} into {brew.code}"):
            void(actor=operator, record=sugar, reason="wrong")

        void(actor=operator, record=use, reason="wrong")
        void(actor=operator, record=Lot.objects.get(pk=sugar.pk), reason="wrong")
        sugar.refresh_from_db()
        assert sugar.is_void

    def test_a_lot_with_an_adjustment_waits_too(self, operator):
        sugar = factories.ingredient_lot(operator)
        with recording(operator):
            adjustment = StockAdjustment(
                lot=Lot.objects.get(pk=sugar.pk),
                change=-1,
                quantity_text="1 mg",
                reason="sample",
                done_by=operator,
            )
            adjustment.when = at(5)
            adjustment.save()

        with pytest.raises(Refused, match="Void these first"):
            void(actor=operator, record=sugar, reason="wrong")


class TestCorrecting:
    def test_writes_a_new_version_and_keeps_the_old(self, operator):
        sugar = factories.ingredient_lot(operator, condition="dry")

        correct(actor=operator, record=sugar, reason="misread", condition="damp outside")

        versions = sugar.history.order_by("history_id").values_list(
            "condition", "history_change_reason"
        )
        assert list(versions) == [("dry", ""), ("damp outside", "misread")]

    def test_refuses_what_is_no_field(self, operator):
        sugar = factories.ingredient_lot(operator)

        with pytest.raises(ValidationError, match="has no 'colour'"):
            correct(actor=operator, record=sugar, reason="x", colour="red")


def test_an_entry_written_days_later_is_marked_late(operator):
    sugar = factories.ingredient_lot(operator, when=at(1))

    assert sugar.is_late
