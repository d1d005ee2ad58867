from __future__ import annotations

import pytest

from brewlog.ledger import mass_balance, mass_balances, on_hand, with_on_hand
from brewlog.models import Batch, Lot
from tests.trace.plants import Plant, hour

pytestmark = pytest.mark.django_db


@pytest.fixture
def plant(operator) -> Plant:
    return Plant(operator)


@pytest.fixture
def busy(plant):
    """100 made and 20 added, twice used, twice shipped, three adjustments."""
    lot, other = plant.batch(100), plant.batch(50)
    plant.use(other, lot, 20, added=20)
    plant.use(lot, plant.bottles(5), 30, purpose="drink")
    plant.use(lot, plant.culture(10), 10, purpose="culture")
    plant.ship(lot, 7)
    plant.ship(lot, 8)
    plant.adjust(lot, -5, "sediment")
    plant.adjust(lot, -1, "sample")
    plant.adjust(lot, 2, "count")
    return lot


def test_stock_is_what_was_made_and_added_less_what_left(busy):
    # 100 + 20 - 30 - 10 - 7 - 8 - 5 - 1 + 2
    assert on_hand([busy.pk]) == {busy.pk: 61}


def test_voided_entries_do_not_count(plant, busy):
    plant.void(busy.uses_out.get(purpose="drink"))
    plant.void(busy.shipment_lines.get(quantity=8))
    plant.void(busy.adjustments.get(reason="sediment"))
    plant.void(busy.uses_in.get())

    # 100 - 10 - 7 - 1 + 2
    assert on_hand([busy.pk]) == {busy.pk: 84}


def test_an_unmeasured_lot_holds_what_went_in_of_its_dimension(plant):
    lot = plant.batch(None)
    plant.use(plant.batch(50), lot, 30)
    plant.use(plant.tea(500), lot, 400)

    assert on_hand([lot.pk]) == {lot.pk: 30}
    assert mass_balance(lot).made == 30


def test_lists_show_stock_in_their_own_query(django_assert_num_queries, plant, busy):
    with django_assert_num_queries(1):
        stock = {lot.pk: lot.on_hand for lot in with_on_hand(Batch.objects.live())}
    assert stock[busy.pk] == 61
    for _ in range(3):
        plant.batch(10)
    with django_assert_num_queries(1):
        assert len(list(with_on_hand(Batch.objects.live()))) == 5


def test_stock_of_any_number_of_lots_is_one_query(django_assert_num_queries, busy):
    with django_assert_num_queries(1):
        assert on_hand([]) == {}
    everything = set(Lot.objects.values_list("pk", flat=True))
    with django_assert_num_queries(1):
        assert on_hand(range(max(everything) + 100_000)).keys() == everything


def test_a_mass_balance_names_every_part_and_closes(busy):
    balance = mass_balance(busy)

    assert (balance.made, balance.added, balance.shipped) == (100, 20, 15)
    assert balance.used == {"culture": 10, "drink": 30}
    assert balance.adjusted == {"count": 2, "sample": -1, "sediment": -5}
    assert (balance.on_hand, balance.unexplained) == (61, 0)


def test_more_gone_than_there_was_is_unexplained(plant):
    lot = plant.bottles(216)
    plant.ship(lot, 240, at=hour(1))

    balance = mass_balance(lot)
    assert (balance.books, balance.on_hand, balance.unexplained) == (-24, 0, 24)
    assert on_hand([lot.pk]) == {lot.pk: -24}


def test_mass_balances_are_five_queries_however_many(django_assert_num_queries, plant, busy):
    with django_assert_num_queries(5):
        mass_balances([busy.pk])
    others = [plant.batch(10).pk for _ in range(3)]
    with django_assert_num_queries(5):
        assert mass_balances([busy.pk, *others]).keys() == {busy.pk, *others}


def test_a_page_and_the_set_show_the_same_stock(plant, busy):
    lot = plant.batch(None)
    plant.use(plant.batch(50), lot, 30)
    plant.use(plant.batch(50), lot, 7, added=9)
    plant.ship(lot, 60)

    stock = on_hand(Lot.objects.values_list("pk", flat=True))
    assert stock == {each.pk: each.on_hand for each in with_on_hand(Lot.objects.all())}
    assert stock[lot.pk] == 30 + 9 - 60
