from __future__ import annotations

import pytest

from brewlog.trace import ancestor_ids, backward, descendant_ids, reaches, scope
from brewlog.trace.order import CircleInRecords
from tests.trace.plants import hour

pytestmark = pytest.mark.django_db


@pytest.fixture
def chain(plant):
    """culture -> batch -> two bottlings, and a stranger beside them."""
    culture, batch = plant.culture(10), plant.batch(100)
    one, two = plant.bottles(5), plant.bottles(5)
    plant.use(culture, batch, 10)
    plant.use(batch, one, 50)
    plant.use(batch, two, 50)
    stranger = plant.batch(100)
    return culture, batch, one, two, stranger


def test_descendants_are_the_lot_and_everything_made_from_it(chain):
    culture, batch, one, two, _ = chain

    assert descendant_ids([culture.pk]) == {culture.pk, batch.pk, one.pk, two.pk}
    assert descendant_ids([one.pk, two.pk]) == {one.pk, two.pk}
    assert descendant_ids([]) == set()


def test_ancestors_are_the_lot_and_everything_it_was_made_from(chain):
    culture, batch, one, _, stranger = chain

    assert ancestor_ids([one.pk]) == {culture.pk, batch.pk, one.pk}
    assert ancestor_ids([one.pk, stranger.pk]) == {culture.pk, batch.pk, one.pk, stranger.pk}


def test_reaching_goes_downstream_only(chain):
    culture, _, one, two, stranger = chain

    assert reaches(culture.pk, one.pk)
    assert reaches(one.pk, one.pk)
    assert not reaches(one.pk, culture.pk)
    assert not reaches(one.pk, two.pk)
    assert not reaches(stranger.pk, one.pk)


def test_a_voided_use_leads_nowhere(plant, chain):
    culture, batch, one, two, _ = chain
    plant.void(batch.uses_out.get(into=one.pk))

    assert descendant_ids([culture.pk]) == {culture.pk, batch.pk, two.pk}
    assert not reaches(culture.pk, one.pk)


def test_a_set_of_lots_is_one_query_however_many_are_asked(django_assert_num_queries, chain):
    with django_assert_num_queries(1):
        descendant_ids([lot.pk for lot in chain])
    with django_assert_num_queries(1):
        descendant_ids(range(100_000))


def test_backward_lists_the_nearest_first_in_two_queries(django_assert_num_queries, chain):
    culture, batch, one, _, _ = chain

    with django_assert_num_queries(2):
        found = backward(one)

    assert [(each.facts.code, each.distance) for each in found.lots] == [
        (one.code, 0),
        (batch.code, 1),
        (culture.code, 2),
    ]


def test_a_circle_ends_the_set_and_is_named_where_an_order_is_needed(plant):
    first, second = plant.batch(10, code="ROUND-1"), plant.batch(10, code="ROUND-2")
    plant.use(first, second, 5, hour(1))
    plant.use(second, first, 5, hour(2))

    assert descendant_ids([first.pk]) == {first.pk, second.pk}
    with pytest.raises(CircleInRecords, match="ROUND-1, ROUND-2"):
        scope(first)
