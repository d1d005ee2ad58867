"""The page of a batch: where it stands, its course, what can be worked out from its records."""

from __future__ import annotations

import pytest

from tests import factories as make
from tests.browser.screen import DESK, ON_BOTH_SCREENS, PHONE, Screen
from tests.compliance import rules

pytestmark = pytest.mark.browser


@pytest.fixture
def batch(manager):
    rules.bound(manager, "kombucha-guidance")
    found = make.batch(
        manager, when=make.now(-6), code="B1", recipe=make.recipe_version(manager, "House black")
    )
    for days, value in ((-6, "4.4"), (-4, "3.9"), (-1, "3.4")):
        make.reading(manager, found, value, make.now(days))
    make.reading(manager, found, "4", make.now(-1), measurand="brix")
    return found


@ON_BOTH_SCREENS
def test_it_says_where_the_batch_stands_and_how_it_went(screens, operator, batch, size):
    screen: Screen = screens(operator, size=size)
    screen.lot("B1")

    stages = screen.main.get_by_role("list", name="Stages").get_by_role("listitem")
    assert [each.split("\n")[0] for each in stages.all_inner_texts()] == [
        "Begun",
        "Starter added",
        "Bottled",
    ]
    assert [row[1:3] for row in screen.table("Readings")][0] == ["pH", "4.4"]
    assert screen.table("What the planned volume takes")[2][1:4] == ["6 L", "100 mL", "6 L"]
    drawn = {PHONE["width"]: ".picture-narrow", DESK["width"]: ".picture-wide"}
    pictures = screen.main.locator(".picture svg:visible")
    inside = screen.main.locator(f"{drawn[size['width']]} svg:visible")
    assert pictures.count() == inside.count() > 0
    as_table = screen.main.locator(".picture details").first
    as_table.locator("summary").click()
    assert "3.9" in as_table.inner_text()


@ON_BOTH_SCREENS
def test_what_can_be_worked_out_is_filled_in_from_its_records(screens, operator, batch, size):
    screen: Screen = screens(operator, size=size)
    screen.lot("B1")
    worked = screen.main.get_by_role("region", name="Work out")

    with screen.leaving():
        worked.get_by_role("link", name="When it will be ready").click()

    assert screen.value("Batch") == "B1"
    screen.write("When does it reach", "3.2")
    screen.press("Work it out")
    assert screen.errors == []
    assert screen.main.locator(".answer").is_visible()


def test_every_change_of_a_reading_is_shown_with_who_when_and_why(screens, operator, batch):
    screen: Screen = screens(operator)
    reading = batch.readings.filter(value_text="3.4").get()
    screen.open(f"/records/checkpoint/{reading.pk}/")
    screen.follow("Correct")
    screen.write_all({"Note": "second beaker", "What was wrong, and how it is known": "noted late"})
    screen.press("Write the correction")

    screen.open(f"/records/checkpoint/{reading.pk}/history/")
    assert "second beaker" in screen.text
    assert "noted late" in screen.text
    assert operator.get_full_name() in screen.text
