"""What a recipe asks for beside what went in."""

from __future__ import annotations

import pytest

from brewlog.calculations.amounts import recipe_amounts, sugar_grams, uses_and_shares
from brewlog.domain import batches
from brewlog.models import RecipeLine
from tests import factories as make
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db


@pytest.fixture
def recipe(manager):
    return make.recipe_version(manager, "Base")


@pytest.fixture
def sugar(manager, recipe):
    kind = recipe.lines.get(role=RecipeLine.Role.SUGAR).ingredient
    return make.ingredient_lot(manager, "20 kg", of=kind, code="R1")


def told(lot):
    return {
        each.planned.line.role: (each.planned.amount, each.amount, each.lots)
        for each in recipe_amounts(lot)
    }


def test_planned_amounts_stand_beside_what_went_in_by_lot(manager, recipe, sugar):
    batch = make.batch(
        manager,
        "40 L",
        recipe=recipe,
        planned=quantity("40 L"),
        starter=make.culture(manager, code="S1"),
        starter_amount="5 L",
    )
    make.use(manager, sugar, batch, "1.5 kg", at(3), purpose="ingredient")
    make.use(manager, sugar, batch, "1 kg", at(3), purpose="ingredient")

    # 60 g of sugar, 5 g of tea and 100 mL of starter a litre, for 40 L.
    assert told(batch) == {
        "tea": (200_000, None, ""),
        "sugar": (2_400_000, 2_500_000, "R1"),
        "starter": (4_000_000, 5_000_000, "S1"),
    }


def test_a_brew_counts_by_the_share_the_batch_was_given(manager, recipe, sugar):
    brew = make.brew(manager, "100 L", recipe=recipe)
    make.use(manager, sugar, brew, "6 kg", at(2), purpose="ingredient")
    batch = make.batch(manager, "40 L", recipe=recipe, planned=quantity("40 L"))
    make.use(manager, brew, batch, "25 L", at(3), purpose="brew")

    assert told(batch)["sugar"] == (2_400_000, 1_500_000, "R1")
    assert sugar_grams(uses_and_shares(batch)) == 1500


def test_sweet_tea_is_brewed_without_starter_and_for_what_was_made(manager, recipe):
    assert told(make.brew(manager, "100 L", recipe=recipe)) == {
        "tea": (500_000, None, ""),
        "sugar": (6_000_000, None, ""),
    }


def test_without_a_recipe_or_a_volume_there_is_nothing_to_compare(manager, recipe):
    assert recipe_amounts(make.batch(manager)) == []
    assert recipe_amounts(batches.plan_batch(actor=manager, when=at(3), recipe=recipe)) == []
