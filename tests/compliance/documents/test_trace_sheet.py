from __future__ import annotations

import json

import pytest

from brewlog.charts.web import MOST_BOXES
from brewlog.domain import cultures
from compliance.documents.trace_packet import BACKWARD, FORWARD, collect_trace
from compliance.documents.trace_sheet import trace_drawing, trace_sheet
from tests import factories
from tests.compliance.documents.papers import ink_in_margins, pages_of, words_of
from tests.compliance.documents.story import PRINTED_AT, hold


def trace(lot, actor, direction=FORWARD):
    return collect_trace(lot, direction, printed_by=actor, printed_at=PRINTED_AT)


def test_forward_sheet_names_lots_amounts_and_customers(story):
    words = words_of(trace_sheet(trace(story.culture, story.actor)))
    for part in (
        "Culture: Ría Norte, bought as a culture",
        "Where it went",
        "Made from it: 1 batch, 1 bottling. Customers: 1.",
        "B26061A House black v1 in Tank 2 2 Mar 2026 11:00 60 L 6 L 1",
        # 6 L of starter in 60 L, 50 L of it in 150 bottles: 5 L, a thirtieth of a litre each.
        "L26071A Ginger, 330 mL swing-top 12 Mar 2026 10:00 150 5 L (33.33 mL in each) 2",
        "96 shipped, 2 gone otherwise, 52 on hand",
        "Café Ñandú L26071A 96 16 Mar 2026 07:00 D-118",
        "Inés Q.; 555-0117; cafe@example.org; Quay 3, Saltmarsh",
    ):
        assert part in words


def test_backward_sheet_names_suppliers_and_their_codes(story):
    words = words_of(trace_sheet(trace(story.bottles, story.actor, BACKWARD)))
    for part in (
        "What it was made from",
        "Made from: 3 ingredients, 1 culture, 1 brew, 1 batch.",
        "R26067A Ginger, fresh 8 Mar 2026 09:00 3 kg 1.5 kg (10 g in each) 1",
        "Łąka Herbata & Zioła; 555-0142, orders@example.com",
        "their lot SUP-R26067A; document INV-R26067A",
    ):
        assert part in words
    assert "Customers" not in words


def test_drawn_before_is_marked_with_the_two_times_and_stays_in_the_scope(story):
    late = factories.batch(story.actor, "40 L", factories.at(5), code="B26064B")
    early = factories.bottles(
        story.actor, 30, batch=late, drawn="10 L", when=factories.at(10), code="L26069X"
    )
    factories.use(story.actor, story.batch, late, "5 L", factories.at(11), "transfer")
    after = factories.bottles(
        story.actor, 30, batch=late, drawn="10 L", when=factories.at(14), code="L26073X"
    )
    factories.shipment(story.actor, early, "12", when=factories.at(15))
    packet = trace(story.batch, story.actor)
    marked = {lot.code: lot.before for lot in packet.lots}
    assert marked["L26069X"] == (
        "drawn 2026-03-10 09:00 from B26064B, before it came in 2026-03-11 09:00",
    )
    assert marked["L26073X"] == ()
    words = words_of(trace_sheet(packet))
    assert "DRAWN BEFORE: drawn 10 Mar 2026 09:00 from B26064B" in words
    assert "narrow the scope only after checking" in words
    assert after.code in words
    assert [lot.drawn_before for c in packet.customers for lot in c.lots if lot.code == early.code]


def test_a_lot_nothing_was_made_from_says_so(story):
    lone = factories.ingredient_lot(story.actor, "1 kg")
    words = words_of(trace_sheet(trace(lone, story.actor)))
    assert "Made from it: no other lot. Customers: none." in words
    assert "Nothing made from it has been shipped." in words


def test_what_keeps_the_lot_back_is_in_the_state(story):
    hold(story.actor, story.culture)
    assert "State: KEPT BACK" in words_of(trace_sheet(trace(story.bottles, story.actor)))


def test_picture_shows_every_lot_and_the_table_too(story):
    packet = trace(story.bottles, story.actor, BACKWARD)
    drawn, count = trace_drawing(packet)
    assert count == len(packet.lots)
    shown = {part.text for part in drawn.contents if hasattr(part, "text")}
    assert {lot.code for lot in packet.lots} <= shown
    assert {amount for _, _, amount in packet.edges} <= shown
    assert ink_in_margins(trace_sheet(packet), 5) == 0


def test_too_many_lots_for_a_picture_are_all_in_the_table(story):
    for number in range(MOST_BOXES):
        jar = factories.batch(story.actor, "2 L", factories.at(4), code=f"JAR-{number:03}")
        factories.use(story.actor, story.culture, jar, "10 mL", factories.at(4), "starter")
    packet = trace(story.culture, story.actor)
    assert trace_drawing(packet) is None
    pdf = trace_sheet(packet)
    words = words_of(pdf)
    assert "too wide for a picture" in words
    assert all(f"JAR-{number:03}" in words for number in range(MOST_BOXES))
    assert len(pages_of(pdf)) > 1


def test_a_long_way_is_drawn_as_far_as_it_is_read_and_says_so(story):
    culture = story.culture
    for day in range(3, 22):
        jar = factories.batch(
            story.actor, "2 L", factories.at(day), starter=culture, code=f"J{day}"
        )
        culture = cultures.keep_back(
            actor=story.actor,
            batch=jar,
            when=factories.at(day, 20),
            quantity=factories.quantity("1 L"),
        )
    packet = trace(culture, story.actor, BACKWARD)
    _, count = trace_drawing(packet)
    assert 10 < count < len(packet.lots) == 39
    assert f"The nearest {count} of 39 lots" in words_of(trace_sheet(packet))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_same_record_gives_the_same_bytes(story, paper):
    packet = trace(story.culture, story.actor)
    assert trace_sheet(packet, paper) == trace_sheet(trace(story.culture, story.actor), paper)


def test_queries_do_not_grow_with_the_lots(story, django_assert_num_queries):
    small = factories.bottle_format(story.actor, holds="100 mL")
    for _ in range(10):
        factories.bottles(story.actor, 5, batch=story.batch, drawn="500 mL", format=small)
    with django_assert_num_queries(22):
        trace(story.culture, story.actor)
    with django_assert_num_queries(12):
        trace(story.bottles, story.actor, BACKWARD)


def test_json_holds_the_same_facts(story):
    read = json.loads(trace(story.culture, story.actor).to_json())
    assert read["edges"] == [["S26060A", "B26061A", "6 L"], ["B26061A", "L26071A", "50 L"]]
    assert [customer["name"] for customer in read["customers"]] == ["Café Ñandú"]
