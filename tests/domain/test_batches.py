"""Brews and batches."""

from __future__ import annotations

from decimal import Decimal

import pytest

from brewlog.domain import batches
from brewlog.domain.lots import Draw
from brewlog.ledger import on_hand
from brewlog.models import Batch, LotUse, ProcessStep, ReviewFlag
from brewlog.recording import Forbidden, Refused, recording
from brewlog.when import on_day
from tests import factories
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db


def starter(actor, amount="6 L", **fields):
    return Draw(factories.culture(actor, **fields), quantity(amount), LotUse.Purpose.STARTER)


def test_a_brew_takes_its_ingredients_by_lot(operator):
    tea, sugar = factories.ingredient_lot(operator, "1 kg"), factories.ingredient_lot(operator)

    brew = batches.start_brew(
        actor=operator,
        when=at(2),
        quantity=quantity("100 L"),
        lines=[
            Draw(tea, quantity("500 g"), "ingredient"),
            Draw(sugar, quantity("6 kg"), "ingredient"),
        ],
    )

    assert brew.made == 100_000_000
    assert on_hand([tea.pk, sugar.pk]) == {tea.pk: 500_000, sugar.pk: 4_000_000}


def test_one_brew_fills_several_vessels(operator):
    brew = factories.brew(operator, "100 L")
    jars = [batches.plan_batch(actor=operator, when=at(2, 12)) for _ in range(6)]

    for jar in jars:
        batches.fill(
            actor=operator,
            batch=jar,
            when=at(2, 13),
            lines=[Draw(brew, quantity("15 L"), LotUse.Purpose.BREW)],
        )

    assert on_hand([brew.pk])[brew.pk] == 10_000_000


class TestPitching:
    def test_sets_what_the_batch_amounts_to_and_starts_its_clock(self, operator):
        batch = batches.plan_batch(actor=operator, when=at(3, 8))

        batches.pitch(
            actor=operator,
            batch=batch,
            when=at(3, 11),
            quantity=quantity("60 L"),
            temperature=Decimal("24.50"),
            temperature_text="24.5 C",
            lines=[starter(operator)],
        )

        batch.refresh_from_db()
        assert (batch.made, batch.pitched_at) == (60_000_000, at(3, 11).at)
        step = ProcessStep.objects.get(lot=batch.pk)
        assert (step.kind, step.temperature, step.volume) == ("pitch", Decimal("24.50"), 60_000_000)

    def test_is_refused_a_second_time(self, operator):
        batch = factories.batch(operator)

        with pytest.raises(Refused, match="had its starter added already"):
            batches.pitch(
                actor=operator,
                batch=batch,
                when=at(5),
                quantity=quantity("70 L"),
                lines=[starter(operator)],
            )

        batch.refresh_from_db()
        assert batch.made == 60_000_000

    def test_without_starter_is_refused(self, operator):
        batch = batches.plan_batch(actor=operator, when=at(3))
        sugar = factories.ingredient_lot(operator)

        with pytest.raises(Refused, match="Name the starter"):
            batches.pitch(
                actor=operator,
                batch=batch,
                when=at(3),
                quantity=quantity("60 L"),
                lines=[Draw(sugar, quantity("1 kg"), "ingredient")],
            )

    def test_before_the_batch_began_is_refused(self, operator):
        batch = batches.plan_batch(actor=operator, when=at(5))

        with pytest.raises(Refused, match="cannot go in before"):
            batches.pitch(
                actor=operator,
                batch=batch,
                when=at(4),
                quantity=quantity("60 L"),
                lines=[starter(operator)],
            )

    def test_on_the_day_it_began_is_taken_where_only_the_day_is_known(self, brewery, operator):
        batch = batches.plan_batch(actor=operator, when=at(5, 14))

        batches.pitch(
            actor=operator,
            batch=batch,
            when=on_day(at(5).at.date()),
            quantity=quantity("60 L"),
            lines=[starter(operator)],
        )

        assert Batch.objects.get().pitched_precision == "day"


class TestVessels:
    def test_of_glazed_ceramic_are_refused_as_intent(self, operator):
        crock = factories.vessel(operator, "Crock", material="ceramic")

        with pytest.raises(Forbidden, match="acid draws lead"):
            batches.plan_batch(actor=operator, when=at(3), vessel=crock)

        assert not Batch.objects.exists()

    def test_of_glazed_ceramic_are_recorded_and_flagged_once_filled(self, operator):
        crock = factories.vessel(operator, "Crock", material="ceramic")

        batch = batches.plan_batch(actor=operator, when=at(3), vessel=crock, already_done=True)

        flag = ReviewFlag.objects.get()
        assert (flag.lot_id, flag.kind) == (batch.pk, ReviewFlag.Kind.VESSEL)

    @pytest.mark.parametrize("material", ["glass", "stainless", "food_plastic", "wood"])
    def test_of_other_materials_are_taken(self, operator, material):
        vessel = factories.vessel(operator, material=material)

        assert batches.plan_batch(actor=operator, when=at(3), vessel=vessel).vessel == vessel

    def test_hold_no_more_than_they_hold(self, operator):
        tank = factories.vessel(operator, capacity=quantity("100 L"))

        with pytest.raises(Refused, match="holds 100 L; 2000 L does not go into it"):
            batches.plan_batch(actor=operator, when=at(3), vessel=tank, planned=quantity("2000 L"))
        with pytest.raises(Refused, match="120 L does not go into it"):
            factories.batch(operator, "120 L", vessel=tank)

        assert factories.batch(operator, "104 L", vessel=tank).made == 104_000_000

    def test_that_still_hold_a_batch_are_refused_as_intent_and_flagged_as_fact(self, operator):
        tank = factories.vessel(operator, "Tank 3")
        first = factories.batch(operator, "60 L", vessel=tank)

        with pytest.raises(Forbidden, match=f"Tank 3 still holds 60 L of {first.code}"):
            batches.plan_batch(actor=operator, when=at(9), vessel=tank)
        second = batches.plan_batch(actor=operator, when=at(9), vessel=tank, already_done=True)

        flag = ReviewFlag.objects.get()
        assert (flag.lot_id, flag.kind) == (second.pk, ReviewFlag.Kind.VESSEL)

    def test_are_free_again_once_all_but_the_sediment_is_gone(self, operator):
        tank = factories.vessel(operator)
        first = factories.batch(operator, "60 L", vessel=tank)
        factories.bottles(operator, count=165, batch=first, drawn="55 L", when=at(8))

        assert batches.plan_batch(actor=operator, when=at(9), vessel=tank).vessel == tank


def test_starter_in_hot_tea_is_recorded_and_flagged(manager):
    version = factories.recipe_version(manager)
    with recording(manager, "cool to 30"):
        version.reread()
        version.pitch_temperature = Decimal(30)
        version.save()
    batch = batches.plan_batch(actor=manager, when=at(3), recipe=version)

    batches.pitch(
        actor=manager,
        batch=batch,
        when=at(3),
        quantity=quantity("60 L"),
        temperature=Decimal(85),
        lines=[starter(manager)],
    )

    assert "starter added at 85.0 °C" in ReviewFlag.objects.get().text


def test_a_recipe_nobody_approved_is_refused_as_intent_and_flagged_as_fact(operator):
    version = factories.recipe_version(operator, approved=False)

    with pytest.raises(Forbidden, match="not approved"):
        batches.plan_batch(actor=operator, when=at(3), recipe=version)
    batches.plan_batch(actor=operator, when=at(3), recipe=version, already_done=True)

    assert ReviewFlag.objects.get().kind == ReviewFlag.Kind.UNAPPROVED


def test_a_blend_moves_drink_between_batches(operator):
    first, second = factories.batch(operator, "60 L"), factories.batch(operator, "40 L")

    batches.transfer(
        actor=operator, source=first, into=second, quantity=quantity("10 L"), when=at(9)
    )

    assert on_hand([first.pk, second.pk]) == {first.pk: 50_000_000, second.pk: 50_000_000}


def test_a_step_of_a_culture_is_refused(operator):
    with pytest.raises(Refused, match="belong to brews and batches"):
        batches.record_step(
            actor=operator, lot=factories.culture(operator), kind="boil", when=at(3)
        )


def test_a_step_read_by_an_instrument_that_was_out_is_recorded_and_flagged(operator):
    thermometer = factories.instrument(operator, kind="thermometer")
    factories.calibration(operator, thermometer, "out", when=at(9))
    batch = factories.batch(operator)

    batches.record_step(
        actor=operator,
        lot=batch,
        kind="cool",
        when=at(5),
        temperature=Decimal("27.00"),
        temperature_text="27 C",
        instrument=thermometer,
    )

    assert "cooled 27 C" in ReviewFlag.objects.get(lot=batch.pk).text
