"""What other apps find about the lots of one verb is asked for once."""

from __future__ import annotations

import pytest

from brewlog.domain import asking
from brewlog.domain.asking import Intent, asked_at_once, further_blocks
from brewlog.domain.blocks import Block
from brewlog.domain.bottling import Drawn, Output, bottle
from brewlog.domain.shipping import ShipLine, ship
from brewlog.recording import Forbidden, RecordingError, recording
from tests import factories
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db


@pytest.fixture
def asked(monkeypatch):
    """What was asked for, ask by ask; a lot with "off" in its code is kept back."""
    asks = []

    def ask(intents):
        asks.append({(each.lot.code, each.doing) for each in intents})
        return [
            Block(each.lot, each.lot, "it is off") for each in intents if "off" in each.lot.code
        ]

    monkeypatch.setattr(asking, "FURTHER_BLOCKS", [ask])
    return asks


def fruit(operator, code: str):
    juice = factories.ingredient(operator, kind="flavouring", dimension="volume")
    return factories.ingredient_lot(operator, "20 L", of=juice, code=code)


def bottled(operator, *juices):
    output = Output(factories.flavour(operator), factories.bottle_format(operator), count=100)
    (lot,) = bottle(
        actor=operator,
        when=at(20),
        draws=[Drawn(factories.batch(operator), quantity("31 L"))],
        outputs=[output],
        additions=[Drawn(juice, quantity("1 L")) for juice in juices],
    )
    return lot


def test_a_bottling_with_many_additions_asks_once(operator, asked):
    juices = [fruit(operator, f"juice {number}") for number in range(3)]
    asked.clear()

    lot = bottled(operator, *juices)

    (for_pitching, for_bottling) = asked
    assert {doing for _, doing in for_pitching} == {"used", "added to"}
    assert {(juice.code, "used") for juice in juices} < for_bottling
    assert (lot.code, "added to") in for_bottling


def test_what_is_found_of_any_of_them_keeps_it_back(operator, asked):
    fine, spoilt = fruit(operator, "juice"), fruit(operator, "juice off")

    with pytest.raises(Forbidden, match="juice off must not be used: it is off"):
        bottled(operator, fine, spoilt)


def test_a_shipment_of_many_lots_asks_once(operator, asked):
    lots = [factories.bottles(operator) for _ in range(3)]
    asked.clear()

    ship(
        actor=operator,
        customer=factories.customer(operator),
        when=at(25),
        lines=[ShipLine(lot, quantity("10")) for lot in lots],
    )

    assert asked == [{(lot.code, "sent out") for lot in lots}]


def test_of_what_has_happened_nothing_is_asked(operator, asked):
    lot = fruit(operator, "juice off")
    asked.clear()

    factories.use(operator, lot, factories.bottles(operator), "1 L", at(21), already_done=True)

    assert asked == []


def test_an_answer_is_leaned_on_only_while_nobody_else_can_write(operator, asked):
    lot = fruit(operator, "juice off")
    intent = Intent(lot, "used")
    with pytest.raises(RecordingError), asked_at_once([intent]):
        pass

    with recording(operator), asked_at_once([intent]):
        assert [block.text for block in further_blocks(intent)] == ["it is off"]
        with asked_at_once([intent]):
            assert further_blocks(intent)
    assert len(asked) == 1
    further_blocks(intent)
    assert len(asked) == 2
