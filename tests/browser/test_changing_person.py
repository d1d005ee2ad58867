"""The person at work changes on a shared tablet, in the middle of a form."""

from __future__ import annotations

import pytest
from django.urls import reverse

from brewlog.domain import people
from brewlog.models import Checkpoint
from tests import factories as make
from tests.browser.screen import WITH_SCRIPTS_AND_WITHOUT, Screen
from tests.factories import now

pytestmark = pytest.mark.browser


def choose_pin(person, pin: str) -> None:
    people.set_pin(actor=person, current="living culture 7", pin=pin, again=pin)


@WITH_SCRIPTS_AND_WITHOUT
def test_a_colleague_takes_a_half_filled_form_over(screens, manager, scripts, size):
    ana, bo = make.person("operator", "ana"), make.person("reviewer", "bo")
    choose_pin(ana, "2580")
    choose_pin(bo, "7391")
    batch = make.batch(manager, when=now(-5))
    screen: Screen = screens(manager, scripts=scripts, size=size)
    screen.entry("Share this device")
    screen.write("Name", "Brew room tablet")
    screen.press("Share it")

    top = screen.page.locator("header")
    with screen.leaving():
        top.get_by_role("link", name="Change person").click()
    screen.press("Operator")
    screen.page.keyboard.type("2580")
    screen.press("Take over")
    assert "Operator" in top.inner_text()

    screen.open(f"{reverse('entry', args=['reading'])}?lot={batch.code}")
    screen.write("Reading", "3.41")
    with screen.leaving():
        top.get_by_role("button", name="Change person").click()
    screen.press("Reviewer")
    screen.page.keyboard.type("7391")
    screen.press("Take over")
    screen.press("Go on with it")

    assert screen.value("Reading") == "3.41"
    screen.press("Record")
    found = Checkpoint.objects.get()
    assert (found.value_text, found.recorded_by, found.done_by) == ("3.41", bo, bo)
