"""A bottling day: planned, interrupted, counted, and where it stands in between."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from brewlog.models import BottlingLot, Move
from tests import factories as make
from tests.browser.screen import ON_BOTH_SCREENS, WITH_SCRIPTS_AND_WITHOUT, Screen

pytestmark = pytest.mark.browser


@pytest.fixture
def batch(manager):
    found = make.batch(manager, "60 L", when=make.now(-12), code="B26062A")
    make.reading(manager, found, "4", make.now(-1), measurand="brix")
    make.flavour(manager, "Plain")
    make.flavour(manager, "Ginger")
    make.bottle_format(manager, "Brown 330", rating="rated", rated_bar=8)
    make.location(manager, "Warm room", kind="warm_room")
    return found


def _plan(screen: Screen) -> None:
    screen.follow("Make the plan")
    screen.write("Amount drawn", "33 L", screen.row("Batches drawn", 1))
    for number, flavour in ((1, "Plain"), (2, "Ginger")):
        row = screen.row("Filled", number)
        screen.write_all({"Flavour": flavour, "Format": "Brown 330"}, row)
    screen.press("Suggest counts")


@WITH_SCRIPTS_AND_WITHOUT
def test_a_day_is_interrupted_and_goes_on_where_it_was(screens, operator, batch, scripts, size):
    screen: Screen = screens(operator, scripts=scripts, size=size)
    screen.open("/bottling-day/")
    screen.page.get_by_role("checkbox").check()
    screen.press("Begin")
    assert screen.heading == batch.code
    assert "next Keep back starter, before flavouring" in screen.text

    screen.follow("Keep back starter")
    screen.write("Starter liquid", "4 L")
    screen.press("Record")
    assert screen.heading == batch.code
    _plan(screen)
    screen.press("Put aside")
    assert "Put aside: 50 Plain, Brown 330, 50 Ginger, Brown 330." in screen.text

    # Later, from the batch's own page.
    screen.lot(batch.code)
    screen.follow("Bottling day")
    screen.follow("Write the counts")
    for number, count in ((1, "49"), (2, "48")):
        screen.write("Filled", count, screen.row("Filled", number))
    screen.press("Record")
    assert screen.errors == []
    plain, ginger = BottlingLot.objects.order_by("pk")
    assert [(each.planned_count, each.made) for each in (plain, ginger)] == [(50, 49), (50, 48)]
    assert "next Line clear of the last flavour" in screen.text

    moving = screen.main.get_by_role("link", name=re.compile(f"^Move them there.*{plain.code}$"))
    with screen.leaving():
        moving.click()
    screen.press("Record")
    assert Move.objects.get().to_location.name == "Warm room"
    assert "49 in Warm room since" in screen.text


def _do(screen: Screen, button: str, code: str, fields: dict[str, str | bool]) -> None:
    """Follow a button of the day, of one lot where there are several; fill in, send, be back."""
    name = re.compile(rf"^{button}\s*: {code}$" if code else f"^{button}$")
    day = screen.page.url
    with screen.leaving():
        screen.main.get_by_role("link", name=name).click()
    screen.write_all(fields)
    screen.press("Record")
    assert (screen.errors, screen.page.url) == ([], day)


@ON_BOTH_SCREENS
def test_a_day_is_brought_to_its_end(screens, operator, manager, batch, size):
    make.bottles(
        manager,
        98,
        batch,
        "33 L",
        make.now(),
        flavour=make.flavour(manager, "Rose"),
        format=make.bottle_format(manager, "Green 330", rating="rated", rated_bar=8),
        planned_count=100,
        code="L1",
    )
    screen: Screen = screens(operator, size=size)
    screen.open(f"/bottling-day/?batch={batch.code}")

    _do(screen, "Clear the line", "L1", {"First label kept": True, "Last label kept": True})
    _do(screen, "Take a reading", "L1", {"Reading": "3,2"})
    _do(screen, "Move them there", "L1", {})
    broke = {"Broken": "1", "Set apart": "6", "What was cleaned and checked": "line, floor"}
    _do(screen, "Glass broke", "L1", broke)
    _do(screen, "Write what became of the rest", "", {"What became of it": "sediment"})

    assert "first and last label kept" in screen.text
    assert "98 filled, 100 planned" in screen.text
    assert "27 L: sediment." in screen.text
    assert "97 in Warm room since" in screen.text
    screen.follow("Say why in the note of L1")
    screen.write_all({"Note": "the last crate was short"})
    screen.write("What was wrong, and how it is known", "counted again")
    screen.press("Write the correction")
    screen.open(f"/bottling-day/?batch={batch.code}")
    assert "L1: the last crate was short" in screen.text


def test_the_buttons_are_large_enough_for_wet_hands(screens, operator, batch):
    screen: Screen = screens(operator)
    screen.open(f"/bottling-day/?batch={batch.code}")

    buttons = screen.main.locator(".day-ways .button")
    boxes = [button.bounding_box() for button in buttons.all()]

    assert boxes
    assert min(box["height"] for box in boxes) >= 54
    assert min(box["width"] for box in boxes) >= 300


def test_a_phone_that_goes_off_loses_nothing_typed(screens, operator, batch):
    screen: Screen = screens(operator)
    address = f"/bottling-day/?batch={batch.code}"
    screen.open(address)
    screen.follow("Make the plan")
    row = screen.row("Filled", 1)
    with screen.page.expect_response(lambda answer: answer.status == 204):
        screen.write_all({"Flavour": "Ginger", "Planned": "40"}, row)

    screen.open(address)
    screen.follow("Make the plan")

    expect(screen.control("Planned", screen.row("Filled", 1))).to_have_value("40")
    assert screen.value("Flavour", screen.row("Filled", 1)) == "Ginger"


def test_a_plan_another_changed_meanwhile_says_so_while_it_is_typed(
    screens, operator, reviewer, batch
):
    here, there = screens(operator), screens(reviewer)
    for screen in (here, there):
        screen.open(f"/bottling-day/?batch={batch.code}")
        screen.follow("Make the plan")
    for screen, planned in ((there, "48"), (here, "40")):
        with screen.page.expect_response(lambda answer: answer.request.method == "POST"):
            screen.write_all({"Flavour": "Ginger", "Planned": planned}, screen.row("Filled", 1))

    expect(here.page.get_by_role("alert")).to_contain_text("Somebody else wrote in the same fields")
    here.press("Put aside")

    expect(here.page.get_by_text(f"{reviewer} wrote “48” here at")).to_be_visible()
    assert here.control("Planned", here.row("Filled", 1)).input_value() == "40"
