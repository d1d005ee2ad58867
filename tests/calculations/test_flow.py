"""What the records already tell, where the work happens."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from brewlog.calculations import about
from brewlog.calculations.base import Units
from brewlog.calculations.flow import BESIDE, beside_bottle, beside_pitch, beside_reading, lot_lines
from brewlog.domain import batches, recipes
from brewlog.domain.lots import void
from brewlog.models import Recipe, RecipeLine, Stage
from tests import factories as make
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db


def told(lines):
    return {line.slug: line.text for line in lines if line.text}


@pytest.fixture
def recipe(manager):
    """Bottled at pH 3.2; the tea cooled to 30 °C before starter goes in."""
    sugar = make.ingredient(manager, kind="sugar")
    version = recipes.add_version(
        actor=manager,
        recipe=make.registers.add(actor=manager, model=Recipe, name="Base"),
        lines=[
            recipes.PerLitre("sugar", quantity("60 g"), sugar),
            recipes.PerLitre("starter", quantity("100 mL")),
        ],
        pitch_temperature=Decimal(30),
        target_ph=Decimal("3.2"),
    )
    return recipes.approve(actor=manager, version=version)


@pytest.fixture
def starter(manager):
    found = make.culture(manager, "10 L", code="S1")
    make.reading(manager, found, "3.00", at(2))
    return found


@pytest.fixture
def batch(manager, recipe, starter):
    return make.batch(
        manager, "60 L", starter=starter, recipe=recipe, planned=quantity("60 L"), code="B7"
    )


class TestPageOfALot:
    def test_begins_with_what_is_worked_out_and_offers_the_rest(self, manager, batch):
        lines = lot_lines(batch)

        assert {line.slug for line in lines} == {each.slug for each in about(batch)}
        words = [bool(line.text) for line in lines]
        assert words == sorted(words, reverse=True)

    def test_starter_share_and_expected_ph_stand_beside_the_reading(self, manager, batch):
        make.reading(manager, batch, "4.20", at(3, 10), stage=Stage.PITCH)

        text = told(lot_lines(batch))["pitched-ph"]

        # A tenth of starter at pH 3.0 and 8 g/L lands near 4.1 (charge balance, as in the
        # tests of the acid calculations).
        assert text.startswith("Starter was 10.0 %: pH 4.")
        assert text.endswith("expected at once; 4.20 was read.")

    def test_expected_brix_is_compared_with_sweet_tea_only(self, manager, batch, recipe):
        kind = recipe.lines.get(role=RecipeLine.Role.SUGAR).ingredient
        sugar = make.ingredient_lot(manager, "20 kg", of=kind)
        make.use(manager, sugar, batch, "3.6 kg", at(3), purpose="ingredient")
        # 60 g/L of sucrose are 5.87 °Bx (ICUMSA density of the solution, 1021.4 g/L).
        assert told(lot_lines(batch))["brix"].startswith("5.9 °Bx expected")
        assert told(lot_lines(batch))["brix"].endswith("no reading yet.")

        make.reading(manager, batch, "4.0", at(9), measurand="brix")

        assert "agree" not in told(lot_lines(batch))["brix"]

    def test_a_brew_that_lacks_sugar_is_told(self, manager, recipe):
        brew = make.brew(manager, "100 L", recipe=recipe)
        kind = recipe.lines.get(role=RecipeLine.Role.SUGAR).ingredient
        sugar = make.ingredient_lot(manager, "20 kg", of=kind)
        make.use(manager, sugar, brew, "6 kg", at(2), purpose="ingredient")
        make.reading(manager, brew, "4.5", at(2, 12), measurand="brix")

        assert told(lot_lines(brew))["brix"].endswith("which does not agree.")

    def test_an_estimate_of_alcohol_says_what_it_is(self, manager, batch):
        make.reading(manager, batch, "1.0146", at(12), measurand="sg")
        make.reading(manager, batch, "4.5", at(12), measurand="brix")

        assert "an estimate, not evidence" in told(lot_lines(batch))["alcohol"]

    def test_bottles_are_judged_by_their_own_sugar_or_their_batchs(self, manager, batch):
        weak = make.bottle_format(manager, rating="rated", rated_bar=6)
        bottles = make.bottles(manager, 10, batch, "3.3 L", format=weak, planned_count=12)
        assert "bottle-pressure" not in told(lot_lines(bottles))

        make.reading(manager, batch, "6.0", at(19), measurand="brix")
        text = told(lot_lines(bottles))["bottle-pressure"]
        assert "do not keep warm" in text
        assert text.endswith("Sugar by the Brix of B7, before flavouring.")

        make.reading(manager, bottles, "0.1", at(21), measurand="brix")
        assert "below the rating by calculation" in told(lot_lines(bottles))["bottle-pressure"]
        assert told(lot_lines(bottles))["plan-actual"] == "10 filled, rejects too; 12 planned."

    def test_a_still_drink_makes_no_pressure(self, manager, batch):
        bottles = make.bottles(manager, 10, batch, "3.3 L", carbonation="still")
        make.reading(manager, bottles, "6.0", at(21), measurand="brix")

        assert "bottle-pressure" not in told(lot_lines(bottles))

    def test_a_voided_lot_tells_nothing(self, manager, starter):
        planned = batches.plan_batch(actor=manager, when=at(3))
        void(actor=manager, record=planned, reason="typed twice")

        assert told(lot_lines(planned)) == {}


class TestAddingStarter:
    def test_tells_the_starter_needed_the_limit_and_the_recipes_amount(self, manager, starter):
        recipe = make.recipe_version(manager)
        batch = batches.plan_batch(
            actor=manager, when=at(3), recipe=recipe, planned=quantity("60 L")
        )

        lines = told(beside_pitch(batch))

        assert lines["starter-needed"].startswith("S1 (pH 3.00): about ")
        assert "brings tea to pH 4.5" in lines["starter-needed"]
        assert lines["scale"] == f"{recipe} takes 6 L of starter for this volume."

    def test_the_recipes_limit_is_told_in_the_readers_degrees(self, batch):
        assert "cool to 30.0 °C or below" in told(beside_pitch(batch))["cooling"]
        assert "cool to 86.0 °F or below" in told(beside_pitch(batch, Units(us=True)))["cooling"]

    def test_of_a_starter_tells_of_that_starter(self, starter):
        (line,) = beside_pitch(starter)

        assert line.text.startswith("S1 (pH 3.00)")

    def test_a_starter_too_mild_is_told(self, manager):
        mild = make.culture(manager, code="S2")
        make.reading(manager, mild, "4.90", at(2))

        (line,) = beside_pitch(mild)

        assert line.text == "S2 (pH 4.90) does not reach 4.5."

    def test_without_a_reading_asks_for_one(self, manager):
        batch = batches.plan_batch(actor=manager, when=at(3))

        assert "No starter on hand has a pH reading" in told(beside_pitch(batch))["starter-needed"]


class TestReading:
    def test_tells_what_was_read_last(self, manager, batch):
        make.reading(manager, batch, "4.10", at(4))
        make.reading(manager, batch, "24 C", at(4), measurand="temperature")

        lines = beside_reading(batch)

        assert lines[0].text.startswith("Read last: pH 4.10 (2026-03-04 09:00); temperature 24 C")
        assert lines[1].text == "2 more readings are needed to look ahead."

    def test_from_three_readings_tells_when_the_target_is_reached(self, manager, batch):
        for day, ph in ((4, "4.10"), (6, "3.70"), (8, "3.45")):
            make.reading(manager, batch, ph, at(day))

        assert told(beside_reading(batch))["forecast"].startswith("pH 3.2 is reached about ")

    def test_of_something_never_read_says_so(self, manager):
        (line,) = beside_reading(make.bottles(manager))

        assert line.text == "Nothing was read of it yet."


class TestBottling:
    def test_tells_volume_ph_and_what_the_sugar_may_come_to(self, manager, batch):
        make.reading(manager, batch, "3.20", at(12))
        make.reading(manager, batch, "1.0", at(12), measurand="brix")

        lines = told(beside_bottle(batch, Units(us=True)))

        assert lines["bottling-plan"].startswith("15.85 gal on hand; last pH 3.20")
        assert "psi" in lines["bottle-pressure"]
        assert "bar" in lines["bottle-pressure"]
        assert "86 °F" in lines["bottle-pressure"]

    def test_more_sugar_than_any_bottle_holds_is_a_sentence(self, manager, batch):
        make.reading(manager, batch, "25", at(12), measurand="brix")

        assert told(beside_bottle(batch))["bottle-pressure"].endswith("No bottle holds that.")


@pytest.mark.parametrize(("slug", "queries"), [("pitch", 4), ("reading", 3), ("bottle", 6)])
def test_beside_a_form_as_much_is_asked_for_many_readings_and_batches(
    manager, batch, recipe, slug, queries
):
    counted = []
    for more in (0, 3):
        for number in range(more):
            other = make.batch(manager, recipe=recipe, when=at(2, number + 1))
            for day in (3, 5, 7):
                make.reading(manager, other, "3.9", at(day, number + 1))
        for day, ph in ((4, "4.10"), (6, "3.70"), (8, "3.45")):
            make.reading(manager, batch, ph, at(day, 12, more))
        found = type(batch).objects.select_related("recipe__recipe").get(pk=batch.pk)
        with CaptureQueriesContext(connection) as captured:
            BESIDE[slug](found, Units())
        counted.append(len(captured))

    assert counted == [queries, queries]
