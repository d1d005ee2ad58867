"""What planned batches, still empty, will take of each ingredient."""

from __future__ import annotations

import pytest

from brewlog.domain import batches, lots, recipes, registers
from brewlog.domain.planned import planned_needs
from brewlog.models import Recipe
from tests import factories as make
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db

G = 1_000


@pytest.fixture
def version(manager, brewery):
    """Five grams of tea and sixty of sugar a litre."""
    return make.recipe_version(manager)


def plan(manager, version, amount="40 L", day=20):
    return batches.plan_batch(actor=manager, when=at(day), recipe=version, planned=quantity(amount))


def _of(version, role):
    return version.lines.get(role=role).ingredient


def test_the_needs_of_all_that_is_planned_are_added_up(manager, version):
    first, second = plan(manager, version), plan(manager, version, "10 L", day=21)

    found = planned_needs()

    tea, sugar = (found[_of(version, role).pk] for role in ("tea", "sugar"))
    assert (tea.amount, sugar.amount) == (250 * G, 3000 * G)
    assert sugar.batches == [first.code, second.code]


def test_a_batch_with_something_in_it_takes_no_more(manager, version):
    batch = plan(manager, version)
    sugar = make.ingredient_lot(manager, "10 kg", _of(version, "sugar"))
    make.use(manager, sugar, batch, "2 kg", at(20), purpose="ingredient")

    assert planned_needs() == {}


def test_a_voided_plan_takes_nothing(manager, version):
    lots.void(actor=manager, record=plan(manager, version), reason="not this week")

    assert planned_needs() == {}


def test_one_ingredient_may_be_asked_for_alone(manager, version):
    plan(manager, version)
    sugar = _of(version, "sugar")

    assert list(planned_needs(sugar)) == [sugar.pk]
    assert planned_needs(make.ingredient(manager)) == {}


def test_water_comes_from_the_tap(manager, brewery):
    water = make.ingredient(manager, kind="water", dimension="volume")
    version = recipes.add_version(
        actor=manager,
        recipe=registers.add(actor=manager, model=Recipe, name="Thin"),
        lines=[recipes.PerLitre("water", quantity("900 mL"), water)],
    )
    plan(manager, recipes.approve(actor=manager, version=version))

    assert planned_needs() == {}


def test_two_questions_however_many_are_planned(manager, version, django_assert_num_queries):
    for day in (20, 21, 22):
        plan(manager, version, day=day)

    with django_assert_num_queries(2):
        planned_needs()
