from __future__ import annotations

import pytest

from brewlog.trace import generation, generations

pytestmark = pytest.mark.django_db


def test_only_keeping_back_raises_the_transfers_since_bought(plant):
    bought = plant.culture(10)
    fed = plant.culture(20, "fed")
    plant.use(bought, fed, 10)
    batch = plant.batch(100)
    plant.use(fed, batch, 10)
    kept = plant.culture(10, "kept_back")
    plant.use(batch, kept, 10)
    backup = plant.culture(5, "backup")
    plant.use(kept, backup, 5)

    lots = [bought.pk, fed.pk, batch.pk, kept.pk, backup.pk]
    assert generations(lots) == dict(zip(lots, [0, 0, 0, 1, 1], strict=True))


def test_a_pool_has_the_transfers_of_its_oldest_part(plant):
    lots = [plant.culture(10)]
    for _ in range(3):
        batch, kept = plant.batch(100), plant.culture(10, "kept_back")
        plant.use(lots[-1], batch, 5)
        plant.use(batch, kept, 10)
        lots.append(kept)
    pooled = plant.culture(10, "pooled")
    plant.use(lots[1], pooled, 5)
    plant.use(lots[3], pooled, 5)

    assert generation(pooled) == 3


def test_many_cultures_are_two_queries(django_assert_num_queries, plant):
    lots = [plant.culture(10, "kept_back") for _ in range(3)]
    with django_assert_num_queries(2):
        assert generations([lots[0].pk]) == {lots[0].pk: 1}
    with django_assert_num_queries(2):
        assert list(generations([lot.pk for lot in lots]).values()) == [1, 1, 1]
