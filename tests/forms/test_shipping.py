"""Forms of shipments and stock."""

from __future__ import annotations

import pytest

from brewlog.forms.shipping import AdjustForm, LocationForm, ShipmentLineForm
from tests import factories
from tests.forms.sending import sent

pytestmark = pytest.mark.django_db


def test_a_shipment_line_finds_its_shipment_by_number(operator):
    lot = factories.bottles(operator)
    shipment = factories.shipment(operator, lot, number="1024")
    data = {"shipment": "1024.0", "lot": lot.code, "quantity": "6"}

    form = sent(ShipmentLineForm, operator, data)
    unknown = sent(ShipmentLineForm, operator, data | {"shipment": "9"})

    assert form.is_valid(), form.errors
    assert form.cleaned_data["shipment"] == shipment
    assert unknown.errors == {"shipment": ["No shipment has the number '9'."]}


def test_what_came_back_or_was_counted_is_not_written_off(operator):
    values = {value for value, _ in AdjustForm.base_fields["why"].choices}

    assert values & {"return", "count"} == set()
    assert {"destroyed", "sample", "sediment"} <= values


def test_a_cooler_is_cold_without_saying_so(manager):
    places = {
        kind: sent(LocationForm, manager, {"name": kind, "kind": kind})
        for kind in ("cooler", "warm room")
    }

    assert all(form.is_valid() for form in places.values())
    assert {kind: form.cleaned_data["is_cold"] for kind, form in places.items()} == {
        "cooler": True,
        "warm room": False,
    }
