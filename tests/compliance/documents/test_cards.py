from __future__ import annotations

import io
import json

import pypdf
import pytest

from brewlog.models import Vessel
from brewlog.recording import Refused
from compliance.documents.cards import card, collect_card, collect_vessel_card
from tests import factories
from tests.compliance.documents.papers import codes_of, ink_in_margins, words_of
from tests.compliance.documents.story import PRINTED_AT, hold

URL = "https://brew.example/lots/S26060A/"


def card_of(lot, actor, url=URL):
    return collect_card(lot, url=url, printed_by=actor, printed_at=PRINTED_AT)


def test_a_culture_card_says_what_it_is_and_leads_to_its_record(story):
    pdf = card(card_of(story.culture, story.actor))
    words = words_of(pdf)
    for part in (
        "Culture card · in use",
        "S26060A",
        "Ría Norte, bought as a culture",
        "Transfers since bought 0",
        "12 L",
        "do not scrape it off",
        "Look and smell",
    ):
        assert part in words
    assert {code.text for code in codes_of(pdf, 203)} == {URL, "S26060A"}
    read = pypdf.PdfReader(io.BytesIO(pdf))
    assert (read.metadata.title, read.metadata.author) == (
        "Culture card: Lot S26060A",
        "Saltmarsh Ferments",
    )
    assert len(read.pages) == 1


def test_a_receiving_tag_tells_the_decision(story):
    words = words_of(card(card_of(story.ginger, story.actor)))
    for part in (
        "Receiving tag · accepted",
        "Ginger, fresh",
        "3 kg",
        "SUP-R26067A",
        "Łąka Herbata",
    ):
        assert part in words
    hold(story.actor, story.ginger, "other")
    assert card_of(story.ginger, story.actor).head.state == "KEPT BACK; accepted"


def test_a_vessel_card_stays_when_what_is_in_it_changes(story):
    vessel = Vessel.objects.get(name="Tank 2")
    packet = collect_vessel_card(
        vessel, url="https://b.example/vessels/1/", printed_by=story.actor, printed_at=PRINTED_AT
    )
    pdf = card(packet)
    assert "Tank 2 stainless steel" in words_of(pdf)
    assert story.batch.code not in words_of(pdf)
    assert [code.text for code in codes_of(pdf, 203)] == ["https://b.example/vessels/1/"]


def test_other_lots_have_no_card(story):
    with pytest.raises(Refused, match="Cards are for cultures and deliveries"):
        card_of(story.batch, story.actor)


def test_the_longest_names_are_set_smaller_and_stay_on_the_card(story):
    long = "Ñandú-Wärme " * 10
    of = factories.ingredient(story.actor, long[:120])
    lot = factories.ingredient_lot(story.actor, "1 kg", of=of, code="Ç" * 40)
    pdf = card(card_of(lot, story.actor, url="https://brew.example/lots/" + "%C3%87" * 40))
    assert len(pypdf.PdfReader(io.BytesIO(pdf)).pages) == 1
    assert ink_in_margins(pdf, 2) == 0
    assert "Ñandú-Wärme" in words_of(pdf)
    assert len(codes_of(pdf, 300)) == 1


def test_the_same_card_gives_the_same_bytes_and_its_facts_as_json(story):
    packet = card_of(story.culture, story.actor)
    assert card(packet) == card(card_of(story.culture, story.actor))
    assert json.loads(packet.to_json())["url"] == URL
