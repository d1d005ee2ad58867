from __future__ import annotations

import pytest

from brewlog.trace import recall, shipped_to
from tests.trace.plants import hour

pytestmark = pytest.mark.django_db


@pytest.fixture
def outbreak(plant):
    """A culture in one batch, bottled twice, the first time before it came in."""
    culture = plant.culture(10, code="S1")
    batch = plant.batch(100, code="B1")
    before, after = plant.bottles(40, code="L1"), plant.bottles(50, code="L2")
    plant.use(batch, before, 40, hour(5))
    plant.use(culture, batch, 8, hour(10), added=8)
    plant.use(batch, after, 50, hour(20))
    plant.ship(before, 30, "Attic Café", hour(30))
    plant.ship(after, 12, "Attic Café", hour(31))
    plant.ship(after, 20, "Bay Stores", hour(40))
    plant.ship(after, 5, "Bay Stores", hour(50))
    plant.adjust(after, 4, "return", hour(60), by="Bay Stores")
    plant.adjust(after, -3, "destroyed", hour(61))
    stranger = plant.bottles(10, code="L3")
    plant.ship(stranger, 10, "Attic Café")
    return culture


def test_every_bottling_lot_has_its_account(outbreak):
    answer = recall(outbreak)

    accounts = {
        lot.code: (lot.made, lot.shipped, lot.returned, lot.gone, lot.on_hand, lot.drawn_before)
        for lot in answer.bottling_lots
    }
    assert accounts == {
        "L1": (40, 30, 0, {}, 10, True),
        "L2": (50, 37, 4, {"destroyed": 3}, 14, False),
    }
    totals = answer.totals
    assert (totals.lots, totals.made, totals.shipped, totals.on_hand) == (2, 90, 67, 24)
    assert (totals.lots_drawn_before, totals.made_drawn_before) == (1, 40)


def test_what_is_not_bottled_yet_is_listed_beside(outbreak):
    stock = {lot.code: lot.on_hand for lot in recall(outbreak).other_stock}

    assert stock == {"S1": 2, "B1": 18}


def test_every_customer_has_their_lots_and_days(outbreak):
    sent = {
        (customer.name, lot.code): (
            lot.quantity,
            lot.returned,
            str(lot.first)[:10],
            str(lot.last)[:10],
            lot.drawn_before,
        )
        for customer in recall(outbreak).customers
        for lot in customer.lots
    }

    assert sent == {
        ("Attic Café", "L1"): (30, 0, "2026-03-02", "2026-03-02", True),
        ("Attic Café", "L2"): (12, 0, "2026-03-02", "2026-03-02", False),
        ("Bay Stores", "L2"): (25, 4, "2026-03-02", "2026-03-03", False),
    }


def test_customers_come_with_how_to_reach_them(outbreak):
    assert [(each.name, each.phone) for each in recall(outbreak).customers] == [
        ("Attic Café", "555-0100"),
        ("Bay Stores", "555-0100"),
    ]


def test_bottles_sent_before_the_lot_became_suspect_are_marked(plant):
    bottles = plant.bottles(50, code="L1")
    plant.ship(bottles, 10, "Attic Café", hour(10))
    plant.ship(bottles, 10, "Attic Café", hour(30))

    (customer,) = recall(bottles, since=hour(24)).customers
    assert [line.drawn_before for line in customer.lines] == [True, False]
    (customer,) = recall(bottles).customers
    assert [line.drawn_before for line in customer.lines] == [False, False]


def test_more_sent_than_made_is_named(plant):
    bottles = plant.bottles(216)
    plant.ship(bottles, 240)

    totals = recall(bottles).totals
    assert (totals.shipped, totals.on_hand, totals.unexplained) == (240, 0, 24)


def test_a_voided_shipment_line_does_not_count(plant):
    bottles = plant.bottles(50)
    plant.void(plant.ship(bottles, 10, "Attic Café"))

    assert recall(bottles).customers == ()
    assert shipped_to(bottles) == {}


def test_the_sum_by_customer_is_that_of_the_lines(outbreak):
    answer = recall(outbreak)

    assert shipped_to(outbreak) == {
        customer.customer_id: sum(line.quantity for line in customer.lines)
        for customer in answer.customers
    }


def test_a_recall_is_twelve_queries_however_large(django_assert_num_queries, plant, outbreak):
    with django_assert_num_queries(12):
        recall(outbreak)
    more = plant.bottles(10)
    plant.use(outbreak, more, 1)
    plant.ship(more, 5, "Third shop")
    with django_assert_num_queries(12):
        assert len(recall(outbreak).customers) == 3
