"""Recipes and their scaling."""

from __future__ import annotations

import pytest

from brewlog.domain import recipes, registers
from brewlog.models import Recipe, RecipeVersion
from brewlog.recording import Refused
from tests import factories
from tests.factories import quantity

pytestmark = pytest.mark.django_db


def test_a_version_scales_to_the_volume_planned(manager):
    version = factories.recipe_version(manager)

    scaled = recipes.scale(version, quantity("40 L"))

    assert [(line.line.role, line.amount) for line in scaled] == [
        ("tea", 200_000),
        ("sugar", 2_400_000),
        ("starter", 4_000_000),
    ]


def test_versions_are_numbered_on(manager):
    first = factories.recipe_version(manager)

    second = recipes.add_version(actor=manager, recipe=first.recipe)

    assert (first.number, second.number) == (1, 2)


def test_an_approved_version_takes_no_more_lines(manager):
    version = factories.recipe_version(manager)

    with pytest.raises(Refused, match="approved and stays as it is"):
        recipes.add_line(actor=manager, version=version, role="starter", quantity=quantity("10 mL"))

    assert version.lines.count() == 3


def test_an_empty_version_is_not_approved(manager):
    recipe = registers.add(actor=manager, model=Recipe, name="Green")
    version = recipes.add_version(actor=manager, recipe=recipe)

    with pytest.raises(Refused, match="no lines yet"):
        recipes.approve(actor=manager, version=version)


def test_a_line_in_the_wrong_dimension_is_refused_with_its_version(manager):
    recipe = registers.add(actor=manager, model=Recipe, name="Green")

    with pytest.raises(Refused, match="counted by mass"):
        recipes.add_version(
            actor=manager,
            recipe=recipe,
            lines=[
                recipes.PerLitre("tea", quantity("5 mL"), factories.ingredient(manager)),
            ],
        )

    assert not RecipeVersion.objects.exists()
