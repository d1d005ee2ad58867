"""What a label lists as ingredients, in which order, and how it tells of allergens."""

from __future__ import annotations

from decimal import Decimal

from compliance.documents.ingredient_list import CULTURE, EMPHASIS
from tests import factories
from tests.compliance.documents.label_papers import packet_of, single
from tests.compliance.documents.papers import fonts_of, words_of
from tests.compliance.rules import bound


def test_ingredients_stand_in_descending_order_by_weight(story):
    # In 150 bottles of 330 mL: 5 L of the starter bought, 3 kg of sugar, 1.5 kg of ginger,
    # 250 g of tea; the rest water. 21 CFR 101.4(a)(1); EU 1169/2011 art. 18(1).
    packet = packet_of(story.bottles, story.actor)
    assert packet.ingredients == ("water", CULTURE, "cane sugar", "ginger", "black tea")
    assert packet.notes[0].startswith("Water is not recorded as a lot")


def add(story, amount, name, **fields):
    """Put a delivery of a new flavouring straight into the bottles."""
    of = factories.ingredient(
        story.actor,
        name,
        kind="flavouring",
        dimension=factories.quantity(amount).dimension,
        **fields,
    )
    lot = factories.ingredient_lot(story.actor, amount, of=of)
    factories.use(story.actor, lot, story.bottles, amount, factories.at(12), "flavouring")


def test_a_volume_of_known_density_takes_its_place_by_weight(story):
    add(story, "2 L", "Syrup", label_name="plum syrup", density=Decimal("1.3"))
    assert packet_of(story.bottles, story.actor).ingredients[:4] == (
        "water", CULTURE, "cane sugar", "plum syrup",
    )  # fmt: skip


def test_a_volume_without_density_stands_last_with_a_note(story):
    add(story, "2 L", "Juice", label_name="lemon juice")
    packet = packet_of(story.bottles, story.actor)
    assert packet.ingredients[-1] == "lemon juice"
    assert any(note.startswith("lemon juice has no weight") for note in packet.notes)


def test_packaging_is_no_ingredient(story):
    caps = factories.ingredient_lot(
        story.actor, "200",
        of=factories.ingredient(story.actor, "caps", kind="packaging", dimension="count"),
    )  # fmt: skip
    factories.use(story.actor, caps, story.bottles, "150", factories.at(12), "packaging")
    assert "caps" not in " ".join(packet_of(story.bottles, story.actor).ingredients)


def test_recorded_water_is_not_counted_twice(story):
    well = factories.ingredient(story.actor, "Well", kind="water", dimension="volume",
                                label_name="water", density=Decimal(1))  # fmt: skip
    lot = factories.ingredient_lot(story.actor, "100 L", of=well)
    factories.use(story.actor, lot, story.bottles, "1 L", factories.at(12), "ingredient")
    packet = packet_of(story.bottles, story.actor)
    assert packet.ingredients[1:4] == ("cane sugar", "ginger", "water")


def test_allergens_are_named_once(story):
    add(story, "10 g", "Almond", label_name="almond", allergens="almonds, milk")
    add(story, "10 g", "Cream", label_name="cream", allergens="milk")
    packet = packet_of(story.bottles, story.actor)
    assert packet.allergens == ("almonds", "milk")
    assert "Contains: almonds, milk." in words_of(single(packet))


def test_allergens_are_bold_in_the_list_where_the_eu_asks_and_not_told_twice(story):
    add(story, "10 g", "Cream", label_name="whole milk", allergens="milk")
    bound(story.actor, "eu")
    packet = packet_of(story.bottles, story.actor)
    assert packet.allergens == ()
    assert packet.ingredients[-1] == f"whole {EMPHASIS}milk"
    fonts = fonts_of(single(packet))
    assert fonts["milk."] == "Semibold"
    assert "Contains" not in words_of(single(packet))


def test_ingredient_without_a_label_name_is_noted(story):
    add(story, "10 g", "Hibiscus, dried")
    assert "Hibiscus, dried has no name for the label; its own name is used." in (
        packet_of(story.bottles, story.actor).notes
    )
