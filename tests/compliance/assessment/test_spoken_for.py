"""Which bottles a laboratory's result may bear on: those nearest to it, of its recipe."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import pytest

from brewlog.models import LabResult
from compliance.assessment.spoken_for import Version, spoken_for
from tests import factories
from tests.factories import at

pytestmark = pytest.mark.django_db


@pytest.fixture
def bottled(manager, brewery):
    """Bottles of one recipe filled on the 1st, 6th, 11th, 16th, 21st and 26th."""
    recipe = factories.recipe_version(manager)
    batch = factories.batch(manager, "60 L", at(1), recipe=recipe)
    flavour, form = factories.flavour(manager), factories.bottle_format(manager)
    lots = {
        day: factories.bottles(
            manager, 3, batch, "1 L", at(day, 12), flavour=flavour, format=form, already_done=True
        )
        for day in (1, 6, 11, 16, 21, 26)
    }
    return SimpleNamespace(manager=manager, lots=lots, flavour=flavour, recipe=recipe)


def version(result: LabResult) -> Version:
    return Version(result.pk, result.lot_id, result.measurand, result.happened_at)


def days(bottled, found: set[int]) -> list[int]:
    return [day for day, lot in bottled.lots.items() if lot.pk in found]


def test_the_only_result_speaks_for_every_lot_of_its_recipe(bottled):
    result = factories.lab_result(bottled.manager, bottled.lots[11], when=at(12))
    other = factories.bottles(bottled.manager, 3, factories.batch(bottled.manager), "1 L")

    found = spoken_for([version(result)])

    assert days(bottled, found) == [1, 6, 11, 16, 21, 26]
    assert other.pk not in found


def test_of_several_each_speaks_for_the_bottles_filled_nearest_to_it(bottled):
    factories.lab_result(bottled.manager, bottled.lots[1], when=at(1, 18))
    result = factories.lab_result(bottled.manager, bottled.lots[11], when=at(11, 18))
    factories.lab_result(bottled.manager, bottled.lots[21], when=at(25, 18))
    # Of something else, and so no nearer.
    factories.lab_result(bottled.manager, bottled.lots[6], "3.4", at(12), measurand="ph")

    assert days(bottled, spoken_for([version(result)])) == [6, 11, 16]


def test_a_result_at_the_end_of_shelf_life_speaks_for_all_of_its_flavour_still_there(bottled):
    old = bottled.lots[1]
    old.refresh_from_db()
    end = dt.datetime.combine(old.best_before, dt.time(12), dt.UTC)
    result = factories.lab_result(bottled.manager, bottled.lots[26], when=at(26, 18))
    sampled = Version(result.pk, old.pk, result.measurand, end)
    factories.lab_result(bottled.manager, bottled.lots[26], when=at(27))
    factories.shipment(bottled.manager, bottled.lots[6], "3", when=at(28))

    assert days(bottled, spoken_for([sampled])) == [1, 11, 16, 21, 26]


def test_a_result_of_a_batch_of_no_recipe_speaks_for_nothing_else(manager, brewery):
    result = factories.lab_result(manager, factories.batch(manager), when=at(12))

    assert spoken_for([version(result)]) == set()
