from __future__ import annotations

import dataclasses
import datetime as dt
import io
from decimal import Decimal

import pypdf
import pytest
from biip.gs1_messages import GS1Message

from brewlog.domain import lots
from brewlog.fonts import letter_height
from brewlog.recording import Refused
from compliance.documents.label_packet import CAUTIONS, CULTURE, collect_label, net_contents
from compliance.documents.labels import (
    SHEETS,
    SYMBOLS,
    LabelError,
    Sheet,
    labels,
    net_letter_height,
)
from tests import factories
from tests.compliance import rules
from tests.compliance.documents.papers import codes_of, ink_in_margins, words_of
from tests.compliance.documents.story import PRINTED_AT, hold


def packet_of(lot, actor):
    return collect_label(lot, printed_by=actor, printed_at=PRINTED_AT)


def single(packet, **fields):
    return labels(packet, count=1, sheet=SHEETS["single"], **fields)


def sizes_of(pdf: bytes) -> list[tuple[str, float]]:
    """Each text of the first label with the size of its type."""
    page = pypdf.PdfReader(io.BytesIO(pdf)).pages[0]
    found = []
    page.extract_text(
        visitor_text=lambda text, cm, tm, font, size: found.append((text.strip(), size))
    )
    return [(text, size) for text, size in found if text]


def test_label_says_what_the_record_says(story, manager):
    words = words_of(single(packet_of(story.bottles, story.actor)))
    for part in (
        "Kombucha with ginger",
        "330 mL (11.1 fl oz)",
        f"Ingredients: water, cane sugar, ginger, black tea, {CULTURE}.",
        "Live culture: some sediment is natural.",
        CAUTIONS,
        "Best before 10 Jun 2026",
        "Lot L26071A",
        "Saltmarsh Ferments",
        "(01)09520123456788",
        "(15)260610",
        "(10)L26071A",
    ):
        assert part in words
    assert "Keep refrigerated." in words
    assert words.count("refrigerated") == 1


def test_ingredients_stand_in_descending_order_by_weight(story):
    # In 150 bottles of 330 mL: 3 kg of sugar, 1.5 kg of ginger, 250 g of tea; the rest water.
    packet = packet_of(story.bottles, story.actor)
    assert packet.ingredients == ("water", "cane sugar", "ginger", "black tea", CULTURE)
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
    assert packet_of(story.bottles, story.actor).ingredients[:3] == (
        "water", "cane sugar", "plum syrup",
    )  # fmt: skip


def test_a_volume_without_density_stands_last_with_a_note(story):
    add(story, "2 L", "Juice", label_name="lemon juice")
    packet = packet_of(story.bottles, story.actor)
    assert packet.ingredients[-2:] == ("lemon juice", CULTURE)
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
    assert packet.ingredients[:3] == ("cane sugar", "ginger", "water")


def test_allergens_are_named_once(story):
    add(story, "10 g", "Almond", label_name="almond", allergens="almonds, milk")
    add(story, "10 g", "Cream", label_name="cream", allergens="milk")
    packet = packet_of(story.bottles, story.actor)
    assert packet.allergens == ("almonds", "milk")
    assert "Contains: almonds, milk." in words_of(single(packet))


def test_ingredient_without_a_label_name_is_noted(story):
    add(story, "10 g", "Hibiscus, dried")
    assert "Hibiscus, dried has no name for the label; its own name is used." in (
        packet_of(story.bottles, story.actor).notes
    )


@pytest.mark.parametrize(
    ("microlitres", "words"),
    [
        # 1 US fl oz = 29.5735295625 mL (NIST Handbook 44, appendix C); rounded down.
        (330_000, "330 mL (11.1 fl oz)"),
        (355_000, "355 mL (12 fl oz)"),
        (500_000, "500 mL (16.9 fl oz)"),
        (1_000_000, "1 L (33.8 fl oz)"),
        (18_900_000, "18.9 L (639 fl oz)"),
    ],
)
def test_net_contents_are_metric_and_us_and_never_promise_more(microlitres, words):
    assert net_contents(microlitres) == words


def test_a_held_lot_is_not_labelled(story):
    hold(story.actor, story.culture)
    with pytest.raises(Refused, match="must not be labelled for sale: made from S26060A, held"):
        packet_of(story.bottles, story.actor)


def test_only_bottles_are_labelled(story):
    with pytest.raises(Refused, match="B26061A is a batch. Labels are for bottling lots."):
        packet_of(story.batch, story.actor)


def test_a_missing_address_is_noted(story):
    notes = packet_of(story.bottles, story.actor).notes
    assert "The brewery has no address yet, so the label has none." in notes


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("symbol", SYMBOLS)
def test_gs1_symbol_on_the_label_is_read_back(story, symbol, dpi):
    packet = packet_of(story.bottles, story.actor)
    [code] = codes_of(single(packet, symbol=symbol), dpi)
    assert (
        code.symbology_identifier == {"data_matrix": "]d2", "code128": "]C1", "qr": "]Q3"}[symbol]
    )
    message = GS1Message.parse(code.bytes.decode().lstrip("\x1d"))
    assert [(e.ai.ai, e.value) for e in message.element_strings] == [
        ("01", "09520123456788"), ("15", "260610"), ("10", "L26071A"),
    ]  # fmt: skip


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("symbol", SYMBOLS)
def test_without_a_gtin_the_symbol_carries_the_lot_code(story, symbol, dpi):
    plain = factories.bottles(story.actor, 10, code="L26079-1b")
    [code] = codes_of(single(packet_of(plain, story.actor), symbol=symbol), dpi)
    assert code.text == "L26079-1b"


def test_a_wrong_gtin_is_noted_and_the_lot_code_carried(story):
    flavour = story.bottles.flavour
    lots.correct(actor=story.actor, record=flavour, reason="typed again", gtin="9520123456789")
    packet = packet_of(story.bottles, story.actor)
    assert (packet.symbol, packet.is_gs1) == ("L26071A", False)
    assert "its check digit would be 8" in " ".join(packet.notes)


def test_every_label_of_the_sheet_is_scanned(story):
    pdf = labels(packet_of(story.bottles, story.actor), count=9, start=3)
    assert len(pypdf.PdfReader(io.BytesIO(pdf)).pages) == 2
    assert len(codes_of(pdf, 203)) == 9


def test_labels_begin_at_the_place_asked_for():
    sheet = SHEETS["a4"]
    assert sheet.corner(0)[1] > sheet.corner(2)[1] > sheet.corner(6)[1]
    assert sheet.corner(0)[0] < sheet.corner(1)[0]


@pytest.mark.parametrize("name", SHEETS)
def test_no_type_is_smaller_than_the_rules_allow(story, name):
    sheet = SHEETS[name]
    sixteenth = 72 / 16  # 21 CFR 101.2(c), in points
    sizes = sizes_of(labels(packet_of(story.bottles, story.actor), count=1, sheet=sheet))
    words = dict(sizes)
    ruled = {text: size for text, size in words.items() if not text.startswith("(")}
    assert len(ruled) >= 8
    for text, size in ruled.items():
        assert letter_height("Paper", size) >= sixteenth - 0.05, text
    # A label of 5 to 25 square inches: an eighth of an inch, 21 CFR 101.7(i).
    assert letter_height("Paper-Bold", words["330 mL (11.1 fl oz)"]) >= 72 / 8 - 0.05


@pytest.mark.parametrize(
    ("width", "height", "sixteenths"),
    [(50, 60, 1), (99, 67.7, 2), (200, 90, 3), (300, 230, 4)],
)
def test_net_contents_grow_with_the_panel(width, height, sixteenths):
    assert net_letter_height(width, height) == pytest.approx(72 / 16 * sixteenths)


@pytest.mark.parametrize(
    ("field", "name"),
    [
        ("statement", "further text"),
        ("name", "name of the food"),
        ("address", "business name and address"),
        ("net_contents", "net contents"),
    ],
)
def test_text_that_does_not_fit_is_refused_by_name(story, field, name):
    packet = packet_of(story.bottles, story.actor)
    packet = dataclasses.replace(packet, **{field: "far too long to print " * 60})
    with pytest.raises(LabelError, match="There is no room for"):
        single(packet)
    packet = dataclasses.replace(packet, **{field: "W" * 90})
    with pytest.raises(LabelError, match=f"no room for the {name} .*must not be smaller"):
        single(packet)


def test_longer_text_is_set_smaller_before_it_is_refused(story):
    packet = packet_of(story.bottles, story.actor)
    longer = dataclasses.replace(packet, statement="Rest the bottle upright. " * 5)
    usual = dict(sizes_of(single(packet)))
    smaller = dict(sizes_of(single(longer)))
    assert smaller["Lot L26071A"] < usual["Lot L26071A"]


def test_nothing_is_printed_at_the_labels_edge(story):
    for symbol in SYMBOLS:
        pdf = single(packet_of(story.bottles, story.actor), symbol=symbol)
        assert ink_in_margins(pdf, 3.5) == 0


@pytest.mark.parametrize(("count", "start"), [(0, 1), (2001, 1), (1, 0), (1, 9)])
def test_impossible_numbers_are_refused(story, count, start):
    with pytest.raises(LabelError):
        labels(packet_of(story.bottles, story.actor), count=count, start=start)


def test_a_sheet_wider_than_its_page_is_refused():
    with pytest.raises(LabelError, match="wider than the page"):
        Sheet("too wide", 100, 100, 2, 1, 60, 50, 0, 0)
    with pytest.raises(LabelError, match="higher than the page"):
        Sheet("too high", 100, 100, 1, 3, 60, 50, 0, 0)


def test_an_unknown_symbol_is_refused(story):
    with pytest.raises(LabelError, match="Choose one of"):
        single(packet_of(story.bottles, story.actor), symbol="ean")


def test_the_same_record_gives_the_same_bytes(story):
    assert single(packet_of(story.bottles, story.actor)) == single(
        packet_of(story.bottles, story.actor)
    )


def test_best_before_is_in_words(story):
    assert packet_of(story.bottles, story.actor).best_before == "10 Jun 2026"
    assert story.bottles.best_before == dt.date(2026, 6, 10)


def test_queries_of_a_label(story, manager, django_assert_num_queries):
    rules.bound(manager, "us-food-code")

    with django_assert_num_queries(52):
        packet_of(story.bottles, story.actor)
