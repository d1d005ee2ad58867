"""Limits on the cold places a lot stood in."""

from __future__ import annotations

import datetime as dt

import pytest

from brewlog.domain.checkpoints import record_reading
from brewlog.domain.lots import void
from brewlog.when import on_day
from compliance.decision import Verdict
from tests import factories
from tests.compliance.assessment import helpers

pytestmark = pytest.mark.django_db

FAILS, REVIEW, CLEAR = Verdict.FAILS, Verdict.NEEDS_REVIEW, None
at = factories.at
COLD = {"measurand": "temperature", "operator": "<=", "value": "5", "unit": "°C"}


@pytest.fixture
def cooler(manager, brewery):
    return factories.location(manager, name="Cooler", is_cold=True)


@pytest.fixture
def warm_room(manager, brewery):
    return factories.location(manager, name="Warm room", kind="warm_room")


@pytest.fixture
def bottles(manager, cooler):
    """A hundred, filled on the 20th, in the cooler from the 22nd, 9:00."""
    found = factories.bottles(manager)
    factories.move(manager, found, "100", cooler, when=at(22))
    return found


@pytest.fixture
def thermometer(manager, brewery):
    return factories.instrument(manager, kind="thermometer", resolution="0.1", accuracy="0.5")


def read(actor, place, said, when, instrument=None):
    return record_reading(
        actor=actor, location=place, measurand="temperature", value=said, when=when,
        instrument=instrument,
    )  # fmt: skip


# u = 0.290 by the thermometer: 1.645 u is 0.477. Inside by less is let be.
@pytest.mark.parametrize(
    ("sign", "said", "found"),
    [
        ("<=", "4.2", CLEAR), ("<=", "4.9", CLEAR), ("<=", "5.0", CLEAR), ("<=", "5.1", REVIEW),
        ("<=", "5.4", REVIEW), ("<=", "5.5", FAILS), ("<=", "41 °F", CLEAR), ("<=", "42 °F", FAILS),
        ("<", "5.0", FAILS), ("<", "4.9", CLEAR), (">=", "5.0", CLEAR), (">=", "4.4", FAILS),
        (">", "5.0", FAILS), (">", "5.1", CLEAR),
    ],
)  # fmt: skip
def test_a_cold_place_is_past_the_limit(manager, bottles, cooler, thermometer, sign, said, found):
    helpers.limit(manager, "place_temperature", **{**COLD, "operator": sign})
    read(manager, cooler, said, at(23), thermometer)

    assert helpers.verdict(bottles) is found


@pytest.mark.parametrize(("said", "found"), [("5.8", REVIEW), ("5.9", FAILS)])
def test_an_unknown_thermometer_asks_for_more_room(manager, bottles, cooler, said, found):
    helpers.limit(manager, "place_temperature", **COLD)  # the usual u = 0.5: 0.822
    read(manager, cooler, said, at(23))

    assert helpers.verdict(bottles) is found


@pytest.mark.parametrize(
    ("taken", "found"),
    [
        (at(22, 8, 59), CLEAR), (at(22), FAILS), (at(24), FAILS), (at(24, 9, 1), CLEAR),
        (on_day(dt.date(2026, 3, 22)), FAILS), (on_day(dt.date(2026, 3, 21)), CLEAR),
    ],
)  # fmt: skip
def test_only_while_the_lot_stood_there(manager, bottles, cooler, warm_room, taken, found):
    helpers.limit(manager, "place_temperature", **COLD)
    factories.move(manager, bottles, "100", warm_room, when=at(24), from_location=cooler)
    read(manager, cooler, "12", taken)

    assert helpers.verdict(bottles) is found


def test_a_part_that_stayed_behind_stands_for_the_lot(manager, bottles, cooler, warm_room):
    helpers.limit(manager, "place_temperature", **COLD)
    factories.move(manager, bottles, "99", warm_room, when=at(24), from_location=cooler)
    read(manager, cooler, "12", at(26))

    assert helpers.verdict(bottles) is FAILS


def test_a_warm_place_is_no_matter_of_it(manager, bottles, cooler, warm_room):
    helpers.limit(manager, "place_temperature", **COLD)
    read(manager, warm_room, "22", at(21))
    factories.move(manager, bottles, "100", warm_room, when=at(24), from_location=cooler)
    read(manager, warm_room, "22", at(25))

    assert helpers.verdict(bottles) is CLEAR


def test_shipped_before_the_warm_weekend(manager, bottles, cooler):
    helpers.limit(manager, "place_temperature", **COLD)
    factories.shipment(manager, bottles, "100", when=at(23))
    read(manager, cooler, "12", at(26))

    assert helpers.verdict(bottles) is CLEAR


def test_a_weekend_is_one_finding_told_by_its_worst_hour(manager, bottles, cooler):
    helpers.limit(manager, "place_temperature", **COLD)
    for day, said in ((23, "11"), (24, "14,1"), (25, "4"), (26, "9")):
        read(manager, cooler, said, at(day))
    wrong = read(manager, cooler, "21", at(27))
    void(actor=manager, record=wrong, reason="the warm room")

    found = helpers.finding(bottles)
    assert found.text == ("14.1 °C while it stood in Cooler (and 2 more); the limit is ≤ 5 °C")
    assert found.since == at(26)
    assert len(found.evidence) == 3


def test_a_thermometer_in_doubt_is_told_beside_what_it_showed(
    manager, bottles, cooler, thermometer
):
    helpers.limit(manager, "place_temperature", **COLD)
    read(manager, cooler, "9", at(23), thermometer)
    factories.calibration(manager, thermometer, "out", when=at(25))

    found = helpers.finding(bottles)
    assert found.verdict is FAILS
    assert "was found out of tolerance on 2026-03-25 09:00" in found.text
