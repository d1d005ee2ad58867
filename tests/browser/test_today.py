"""The start page: each line leads to the one form that settles it, and is gone once it is sent."""

from __future__ import annotations

import re

import pytest

from brewlog.domain import batches
from brewlog.models import Checkpoint, Move
from tests import factories as make
from tests.browser.screen import ON_BOTH_SCREENS, Screen
from tests.compliance import rules

pytestmark = pytest.mark.browser


@pytest.fixture
def morning(manager):
    """A pH that is due, bottles that stand warm, and a batch that is planned."""
    rules.bound(manager, "kombucha-guidance")
    make.location(manager, "Cooler", is_cold=True)
    batch = make.batch(manager, when=make.now(-5), code="B1")
    make.reading(manager, batch, "4", make.now(-5), measurand="brix")
    strong = make.bottle_format(manager, "Brown 330", rating="rated", rated_bar=8)
    make.bottles(manager, 60, batch, "20 L", make.now(-4), format=strong, code="L1")
    batches.plan_batch(actor=manager, when=make.now(-1), planned=make.quantity("60 L"), code="B2")


def settle(screen: Screen, button: str, code: str, **typed: str) -> None:
    """Press a line's button, fill in what is missing, send it, and be back without the line."""
    name = re.compile(rf"^{button}\s*: {code}$")
    there = screen.main.get_by_role("link", name=name)
    with screen.leaving():
        there.click()
    screen.write_all({name.replace("_", " "): value for name, value in typed.items()})
    screen.press("Record")
    assert screen.errors == []
    assert screen.page.url.endswith("/")
    assert there.count() == 0


@ON_BOTH_SCREENS
def test_a_morning_is_worked_off_line_by_line(screens, operator, morning, size):
    screen: Screen = screens(operator, size=size)

    settle(screen, "Put it in the cold", "L1")
    settle(screen, "Take a reading", "B1", Reading="3.4")

    assert Move.objects.get().to_location.name == "Cooler"
    assert Checkpoint.objects.get(measurand="ph").value_text == "3.4"
    assert "pH 3.4: clear" in screen.said


def test_who_only_reads_sees_the_lines_and_no_button(screens, inspector, morning):
    screen: Screen = screens(inspector)

    assert "60 of " in screen.text
    assert screen.main.locator(".doing-form").count() == 0
