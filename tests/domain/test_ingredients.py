"""Receiving and preparing."""

from __future__ import annotations

import pytest

from brewlog.domain import ingredients
from brewlog.domain.lots import Draw
from brewlog.ledger import on_hand
from brewlog.models import IngredientLot, PreparationLot
from brewlog.recording import Refused
from tests import factories
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db


def test_a_delivery_is_a_lot_with_its_receiving_facts(operator):
    lot = factories.ingredient_lot(
        operator, "25 kg", supplier_code="A-77", document_type="invoice", document_number="991"
    )

    found = IngredientLot.objects.get()
    assert (found.made, found.made_text, found.supplier_code) == (25_000_000, "25 kg", "A-77")
    assert (found.acceptance, found.decided_by) == ("accepted", operator)
    assert lot.history.get().history_user == operator


def test_a_delivery_of_the_wrong_dimension_is_refused(operator):
    with pytest.raises(Refused, match="counted by mass"):
        factories.ingredient_lot(operator, "3 L", of=factories.ingredient(operator))


def test_a_delivery_from_nowhere_is_refused(operator):
    with pytest.raises(Refused, match="Name the supplier"):
        ingredients.receive(
            actor=operator,
            ingredient=factories.ingredient(operator),
            quantity=quantity("1 kg"),
            when=at(1),
        )


def test_gathered_fruit_names_its_place_instead_of_a_supplier(operator):
    lot = ingredients.receive(
        actor=operator,
        ingredient=factories.ingredient(operator, kind="flavouring"),
        quantity=quantity("4 kg"),
        when=at(1),
        picked_at_place="north hedge",
        spraying="none known",
    )

    assert (lot.supplier, lot.picked_at_place) == (None, "north hedge")


def test_a_delivery_is_rejected_with_a_reason_only(operator):
    lot = factories.ingredient_lot(operator, accepted=False)

    with pytest.raises(Refused, match="what is wrong"):
        ingredients.reject(actor=operator, lot=lot, reason="")
    ingredients.reject(actor=operator, lot=lot, reason="musty")

    lot.refresh_from_db()
    assert (lot.acceptance, lot.acceptance_reason) == ("rejected", "musty")


def test_a_preparation_takes_its_ingredients(operator):
    ginger = factories.ingredient_lot(operator, "5 kg")

    juice = ingredients.prepare(
        actor=operator,
        name="Ginger juice",
        preparation_kind="juice",
        quantity=quantity("3 L"),
        when=at(4),
        lines=[Draw(ginger, quantity("4.5 kg"), "ingredient")],
    )

    assert PreparationLot.objects.get() == juice
    assert on_hand([ginger.pk, juice.pk]) == {ginger.pk: 500_000, juice.pk: 3_000_000}


def test_a_preparation_is_not_counted_in_pieces(operator):
    with pytest.raises(Refused, match="weight or volume"):
        ingredients.prepare(
            actor=operator,
            name="Ginger juice",
            preparation_kind="juice",
            quantity=quantity("3"),
            when=at(4),
        )
