from __future__ import annotations

import dataclasses
import datetime as dt
import io
import unicodedata
from decimal import Decimal

import pypdf
import pytest
from biip.gs1_messages import GS1Message
from reportlab.lib.units import mm

from brewlog.domain import lots, people
from brewlog.fonts import figure_height, letter_height
from brewlog.recording import Refused
from compliance.documents.ingredient_list import CULTURE
from compliance.documents.label_layout import Box, lay_out
from compliance.documents.label_packet import (
    COLD,
    PRESSURE,
    RAW,
    TRACES,
    case_of,
)
from compliance.documents.label_proof import label_proof
from compliance.documents.label_rules import WARNING, Panel
from compliance.documents.labels import SYMBOLS, label_run, labels, lay_label
from compliance.label_stock import SHEETS, LabelError, Sheet, roll
from tests import factories
from tests.compliance.documents.label_papers import packet_of, single
from tests.compliance.documents.papers import codes_of, fonts_of, ink_in_margins, words_of
from tests.compliance.documents.story import hold
from tests.compliance.rules import bound


def placed_of(packet, width_mm=160, height_mm=140):
    """The lines of a large label, as they stand on it."""
    box = Box((width_mm - 8) * mm, (height_mm - 8) * mm, 30 * mm, 30 * mm, is_linear=False)
    return lay_out(packet, Panel(width_mm, height_mm), box)


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
        f"Ingredients: water, {CULTURE}, cane sugar, ginger, black tea.",
        "Live culture: some sediment is natural.",
        f"{RAW} {COLD} {PRESSURE} {TRACES}",
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
@pytest.mark.parametrize("symbol", ["data_matrix", "code128", "qr"])
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


SIXTEENTH = 72 / 16  # of an inch, in points: 21 CFR 101.2(c)
MM = 72 / 25.4


@pytest.mark.parametrize(
    ("rules", "stock", "smallest", "figures"),
    [
        ([], "a4", SIXTEENTH, 0),
        (["us-federal-alcohol"], "letter", SIXTEENTH, 0),
        (["eu"], "a4", 0.9 * MM, 4 * MM),  # 67 cm²: art. 13(3); 330 mL: 76/211/EEC
        (["eu"], "letter", 1.2 * MM, 4 * MM),  # 86 cm²: art. 13(2)
    ],
)
def test_no_type_is_smaller_than_the_rules_allow(story, rules, stock, smallest, figures):
    for key in rules:
        bound(story.actor, key)
    packet = packet_of(story.bottles, story.actor)
    # So much text that it goes down to the least size it may have.
    crowded = dataclasses.replace(packet, statement="")
    while True:
        longer = dataclasses.replace(crowded, statement=f"{crowded.statement} Rest it upright.")
        try:
            labels(longer, count=1, sheet=SHEETS[stock])
        except LabelError:
            break
        crowded = longer
    sizes = dict(sizes_of(labels(crowded, count=1, sheet=SHEETS[stock])))
    ruled = {text: size for text, size in sizes.items() if not text.startswith("(")}
    assert len(ruled) >= 8
    heights = {text: letter_height("Paper", size) for text, size in ruled.items()}
    assert min(heights.values()) >= smallest - 0.05
    assert min(heights.values()) < smallest * 1.15, "it was not crowded enough to tell"
    net = sizes["330 mL (11.1 fl oz)"]
    if figures:
        assert figure_height(net) >= figures - 0.05
    else:
        # A label of 5 to 25 square inches: an eighth of an inch, 21 CFR 101.7(i).
        assert letter_height("Paper-Bold", net) >= 2 * SIXTEENTH - 0.05


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
    with pytest.raises(LabelError, match=f"no room for the {name} .*must not be smaller.*mm high"):
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
        Sheet("too wide", 100, 100, 2, 1, 60, 50, 0, 0, 60, 50)
    with pytest.raises(LabelError, match="higher than the page"):
        Sheet("too high", 100, 100, 1, 3, 60, 50, 0, 0, 60, 50)
    with pytest.raises(LabelError, match="lie over one another"):
        Sheet("too close", 200, 100, 2, 1, 60, 50, 0, 0, 59, 50)


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


@pytest.mark.parametrize(
    ("result", "words"),
    [("0.42", ""), ("1.3", "alc. 1.3 % vol"), ("1.26", "alc. 1.3 % vol")],
)
def test_strength_is_declared_where_the_rules_ask_and_the_laboratory_tells(story, result, words):
    # EU 1169/2011 art. 28(2) and annex XII: above 1.2 % vol, with at most one decimal.
    bound(story.actor, "eu")
    factories.checkpoints.record_lab_result(
        actor=story.actor, lot=story.bottles, value=result, standard_uncertainty=Decimal("0.01"),
        laboratory="Test House", when=factories.at(15),
    )  # fmt: skip
    packet = packet_of(story.bottles, story.actor)
    assert packet.alcohol == words
    printed = words_of(single(packet))
    assert words in printed
    assert (TRACES in printed) == (words == "")


def test_the_warning_is_printed_where_the_drink_reaches_the_line(story):
    bound(story.actor, "us-federal-alcohol")
    assert not packet_of(story.bottles, story.actor).has_warning
    facts = dataclasses.replace(packet_of(story.bottles, story.actor), has_warning=True)
    pdf = labels(facts, count=1, sheet=ROOMY)
    assert f"GOVERNMENT WARNING: {WARNING}" in words_of(pdf)
    # 27 CFR 16.22(a)(2): the first words in bold capitals, the rest in no bold type.
    fonts = fonts_of(pdf)
    assert fonts["GOVERNMENT WARNING:"] == "Semibold"


def test_words_a_rule_always_asks_for_are_on_the_label(story):
    bound(story.actor, "us-new-york")
    lots.correct(
        actor=story.actor, record=story.bottles.flavour, reason="typed again", storage="cool"
    )
    packet = packet_of(story.bottles, story.actor)
    assert packet.statement.endswith("Keep Refrigerated.")
    assert any(note.startswith("Keep Refrigerated on the label") for note in packet.notes)


def test_heated_and_still_drink_is_not_called_raw_or_under_pressure(story):
    factories.batches.record_step(
        actor=story.actor, lot=story.batch, kind="pasteurise", when=factories.at(11),
        temperature=Decimal(72), minutes=1,
    )  # fmt: skip
    still = factories.bottles(
        story.actor, 10, story.batch, "3.3 L", factories.at(13), carbonation="still"
    )
    assert packet_of(still, story.actor).cautions == ""


def test_letters_the_type_lacks_are_refused_by_name_and_not_printed_as_boxes(story):
    packet = packet_of(story.bottles, story.actor)
    for name in ("কম্বুচা", "ชาหมัก", "tea 🍵"):
        with pytest.raises(LabelError, match="The name of the food has letters the type"):
            single(dataclasses.replace(packet, name=name))


@pytest.mark.parametrize(
    "name", ["شاي مخمر L-17", "תה שחור", "发酵红茶康普茶", "콤부차", "ჩაი", "चाय"]
)
def test_names_in_other_letters_are_printed(story, name):
    packet = dataclasses.replace(packet_of(story.bottles, story.actor), name=name)
    words = unicodedata.normalize("NFKC", words_of(single(packet)))
    assert all(word in words or word[::-1] in words for word in name.split())


def test_letters_lower_than_the_latin_ones_are_set_larger(story):
    """The waw of FiraGO is 0.39 of its size high, measured on its outline."""
    packet = packet_of(story.bottles, story.actor)
    [line] = [
        line
        for line in placed_of(dataclasses.replace(packet, storage="يحفظ في البراد"))
        if line.from_right
    ]
    asked = 25.4 / 16  # 21 CFR 101.2(c)
    assert line.size * 0.39 >= asked * mm - 1e-6
    assert line.pieces[0][1] == "Paper"


def test_a_line_without_spaces_is_broken_between_its_letters(story):
    packet = dataclasses.replace(
        packet_of(story.bottles, story.actor), storage="请冷藏保存，开启后请尽快饮用" * 9
    )
    lines = [line.pieces[0][0] for line in placed_of(packet) if "藏" in line.pieces[0][0]]
    assert len(lines) > 1
    assert not any(line.startswith("，") for line in lines)


def with_logo(story, manager, width=300, height=100):
    people.set_logo(actor=manager, reason="a new sign", logo=factories.picture(width, height))
    return packet_of(story.bottles, story.actor)


def test_the_logo_stands_above_the_words_where_there_is_room(story, manager):
    packet = with_logo(story, manager)
    laid = lay_label(packet, Panel(140, 120), "data_matrix")
    assert laid.logo == pytest.approx((33 * mm, 11 * mm))
    top = min(line.below_top - line.size for line in laid.lines)
    assert top >= laid.logo[1]


def test_the_logo_takes_no_room_from_what_must_be_said(story, manager):
    packet = with_logo(story, manager)
    plain = dataclasses.replace(packet, logo="")
    small = Panel(99, 67.7)
    assert lay_label(packet, small, "data_matrix").logo is None
    assert (
        lay_label(packet, small, "data_matrix").lines
        == lay_label(plain, small, "data_matrix").lines
    )


def test_a_printing_keeps_its_logo_when_another_is_chosen(story, manager):
    packet = with_logo(story, manager)
    large = roll("large", 140, 120)
    before = labels(packet, count=3, sheet=large)
    people.set_logo(actor=manager, reason="another", logo=factories.picture(100, 100))
    assert labels(packet, count=3, sheet=large) == before
    assert labels(packet_of(story.bottles, story.actor), count=3, sheet=large) != before


def test_a_case_says_how_many_and_carries_its_own_number(story):
    packet = packet_of(story.bottles, story.actor)
    case = case_of(packet, story.bottles, 12, "19520123456785")
    words = words_of(single(case))
    assert "12 × 330 mL (11.1 fl oz)" in words
    assert "Ingredients" not in words
    [code] = codes_of(single(case), 203)
    assert code.bytes.decode().lstrip("\x1d") == "01195201234567851526061010L26071A"


def test_phones_open_the_address_in_the_code(story):
    packet = packet_of(story.bottles, story.actor)
    [code] = codes_of(single(packet, symbol="digital_link"), 203)
    assert code.text == "https://id.gs1.org/01/09520123456788/10/L26071A?15=260610"


def test_labels_of_several_lots_stand_in_their_order(story):
    packet = packet_of(story.bottles, story.actor)
    made = [
        dataclasses.replace(packet, lot_code=f"L{n}", symbol=f"L{n}", symbol_words=(f"L{n}",),
                            is_gs1=False)
        for n in range(1, 11)
    ]  # fmt: skip
    pdf = label_run(made, start=7)
    assert {code.text for code in codes_of(pdf, 203)} == {f"L{n}" for n in range(1, 11)}
    assert len(pypdf.PdfReader(io.BytesIO(pdf)).pages) == 2


def test_a_roll_has_each_label_on_a_page_of_its_own(story):
    pdf = labels(packet_of(story.bottles, story.actor), count=3, sheet=ROOMY)
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    assert len(pages) == 3
    assert round(pages[0].mediabox.width / MM) == 120


def test_a_proof_is_marked_and_tells_what_to_check(story):
    for stock in ("a4", "letter"):
        pdf = label_proof(packet_of(story.bottles, story.actor), stock)
        words = words_of(pdf)
        assert "PROOF" in words
        assert "Check: Water is not recorded as a lot" in words
        assert "Heights of letters: 21 CFR 101.7(i) (from memory)." in words
        assert len(codes_of(pdf, 203)) == 1
        read = pypdf.PdfReader(io.BytesIO(pdf))
        assert read.metadata.title == "Proof of the label of lot L26071A"
        assert read.metadata.author == "Saltmarsh Ferments"


def test_what_to_check_stays_on_the_proof_however_long(story):
    packet = packet_of(story.bottles, story.actor)
    notes = ("a rule asks for something at length " * 20, "تحقق من اسم المنتج " * 30)
    pdf = label_proof(dataclasses.replace(packet, notes=notes), "a4")
    assert ink_in_margins(pdf, 5) == 0
    assert words_of(pdf).count("at length") == 20


def test_awkward_names_and_accents_fit_or_are_refused_in_words(story):
    packet = packet_of(story.bottles, story.actor)
    long = dataclasses.replace(packet, name="Fermentação de chá preto com gengibre, açaí e šípek")
    assert long.name in words_of(single(long))
    many = dataclasses.replace(packet, ingredients=tuple(f"ingredient {n}" for n in range(300)))
    with pytest.raises(LabelError, match="no room for the ingredients"):
        single(many)


ROOMY = roll("roomy", 120, 110)


def test_queries_of_a_label(story, manager, django_assert_num_queries):
    bound(manager, "us-food-code")

    with django_assert_num_queries(90):
        packet_of(story.bottles, story.actor)
