from __future__ import annotations

import pytest

from brewlog import bulk
from brewlog.models import Batch, Customer, Lot, Shipment, ShipmentLine
from brewlog.recording import RecordingError, recording
from tests.trace.plants import Plant, hour

pytestmark = pytest.mark.django_db

# What differs between two rows written one after the other.
_OWN = {"history_id", "history_date", "id", "lot_id", "code", "recorded_at"}


def new_batch(actor, key: int, code: str) -> Batch:
    batch = Batch(lot_id=key, kind="batch", dimension="volume", made=5, code=code, done_by=actor)
    batch.when = hour(1)
    return batch


def test_a_row_and_its_history_are_those_of_an_ordinary_save(operator):
    with recording(operator, "counted again"):
        new_batch(operator, 1, "ONE").save()
        key = bulk.next_id(Lot)
        bulk.insert([new_batch(operator, key, "TWO"), new_batch(operator, key + 1, "THREE")])

    def shown(rows):
        return [{name: row[name] for name in row if name not in _OWN} for row in rows]

    one, two, three = shown(Batch.objects.order_by("pk").values())
    assert one == two == three
    one, two, three = shown(Batch.history.order_by("history_id").values())
    assert one == two == three
    assert one["history_change_reason"] == "counted again"
    assert one["history_user_id"] == operator.pk
    assert list(Batch.history.order_by("pk").values_list("code", flat=True)) == [
        "ONE",
        "TWO",
        "THREE",
    ]


def test_ordinary_saves_go_on_after_the_keys_given(operator):
    with recording(operator):
        key = bulk.next_id(Lot)
        bulk.insert([new_batch(operator, key + number, f"B{number}") for number in range(3)])

    assert Plant(operator).batch(10).pk == key + 3


def test_rows_without_parents_are_written_too(operator):
    plant = Plant(operator)
    bottles, shop = plant.bottles(10), plant.customer("Corner shop")
    assert isinstance(shop, Customer)
    with recording(operator):
        shipment = Shipment(id=bulk.next_id(Shipment), number="D1", customer=shop, done_by=operator)
        shipment.when = hour(2)
        bulk.insert([shipment])
        bulk.insert([])
        first = bulk.next_id(ShipmentLine)
        bulk.insert(
            [
                ShipmentLine(
                    id=first + number,
                    shipment=shipment,
                    lot_id=bottles.pk,
                    quantity=1,
                    quantity_text="1",
                )
                for number in range(1_200)
            ]
        )

    assert ShipmentLine.objects.count() == ShipmentLine.history.count() == 1_200


def test_nothing_goes_in_outside_a_recording(operator):
    with pytest.raises(RecordingError):
        bulk.insert([new_batch(operator, 1, "ONE")])
    with pytest.raises(RecordingError):
        bulk.next_id(Lot)
    assert not Batch.objects.exists()
