"""A new brewery: from the code the server printed to the first delivery."""

from __future__ import annotations

import pytest

from brewlog import setup_code
from brewlog.models import Brewery, IngredientLot, User
from compliance.models import Binding
from tests.browser.audit import violations_day_and_night
from tests.browser.screen import ON_BOTH_SCREENS, Screen

pytestmark = pytest.mark.browser

PASSWORD = "salt & tea 9"


@pytest.fixture
def code(db):
    yield setup_code.new_code()
    setup_code.use_up()


def next_step(screen: Screen) -> str:
    """What the list on the start page says is next; goes there."""
    link = screen.main.locator("li[aria-current=step] a")
    title = link.inner_text()
    with screen.leaving():
        link.click()
    return title


def fill_in(screen: Screen, step: str, **fields: str | bool) -> None:
    """From the start page to the form that is next, sent, and back to the start page."""
    screen.open("/")
    assert next_step(screen) == step
    screen.write_all({name.replace("_", " "): value for name, value in fields.items()})
    screen.press("Record")
    assert screen.errors == []


@ON_BOTH_SCREENS
def test_the_first_manager_sets_the_brewery_up(any_screens, code, size):
    screen: Screen = any_screens(size=size)
    screen.open("/")
    screen.follow("Make the first manager")
    you = {"Your name": "Inês Prado", "User name": "ines", "Password": PASSWORD}
    screen.write_all({"Set-up code": "AAAA-BBBB-CCCC", **you, "The password again": PASSWORD})
    screen.press("Make the first manager")
    assert screen.errors == ["Set-up code: That is not the code this server printed."]
    assert violations_day_and_night(screen) == []
    screen.write_all({"Set-up code": code, "Password": PASSWORD, "The password again": PASSWORD})
    screen.press("Make the first manager")
    assert screen.heading == "A new brewery"
    assert User.objects.get().role == "manager"

    fill_in(screen, "Write down the brewery", Name="Salt Row", Time_zone="Europe/Lisbon")
    screen.open("/")
    assert next_step(screen) == "Choose the rules that bind you"
    screen.follow("Read in the rule sets there are")
    screen.press("Read them in")
    screen.open("/rules/")
    rules = screen.main.get_by_role("link", name="kombucha", exact=False).first
    with screen.leaving():
        rules.click()
    screen.follow("See what it would hold, and switch it on")
    screen.press("Hold us to it")
    assert Binding.objects.count() == 1
    fill_in(screen, "Add a person", Name="Bo Reis", User_name="bo", First_password=PASSWORD)
    fill_in(screen, "Add a vessel", Name="Jar 1", Material="glass")
    fill_in(screen, "Add an instrument", Name="Bench meter", Kind="pH meter")
    fill_in(screen, "Add an ingredient", Name="Assam", Kind="tea", Measured_by="mass")
    fill_in(screen, "Add a supplier", Name="Hill Farm")
    screen.entry("Receive a delivery")
    screen.write_all({"Ingredient": "Assam", "Supplier": "Hill Farm"})
    screen.write_all({"Amount": "5 kg", "Accepted": True})
    screen.press("Record")
    assert screen.errors == []

    assert Brewery.objects.get().name == "Salt Row"
    assert IngredientLot.objects.get().code == screen.heading
    screen.open("/")
    assert "To set up" not in screen.text
