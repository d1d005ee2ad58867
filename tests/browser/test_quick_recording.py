"""Wet hands and a phone: a pH in three taps, and a round of the vessels."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse
from playwright.sync_api import Locator, expect

from brewlog.models import Checkpoint, Hold, LotUse
from tests import factories as make
from tests.browser.screen import (
    DESK,
    ON_BOTH_SCREENS,
    PHONE,
    WITH_SCRIPTS_AND_WITHOUT,
    Screen,
)
from tests.compliance import rules
from tests.factories import now

pytestmark = pytest.mark.browser


class Taps:
    """A thumb that counts: every tap on the page is one."""

    def __init__(self, screen: Screen) -> None:
        self.screen, self.count = screen, 0

    def leave_by(self, target: Locator) -> None:
        self.count += 1
        with self.screen.leaving():
            target.click()

    def type(self, number: str) -> None:
        """Into what is ready to be typed into: nothing is tapped first."""
        self.screen.page.keyboard.type(number)


@pytest.fixture
def batch(manager):
    rules.bound(manager, "kombucha-guidance")
    room = make.location(manager, "Warm room", kind="warm_room")
    jar = make.vessel(manager, "Jar 7", location=room)
    make.instrument(manager, "Bench meter", calibrate_every_days=7)
    return make.batch(manager, vessel=jar, when=now(-5))


def by_its_page(screen: Screen, taps: Taps, batch) -> None:
    screen.open(reverse("lot-detail", args=[batch.code]))
    taps.leave_by(screen.main.get_by_role("link", name="Take a reading", exact=True))


def by_the_start_page(screen: Screen, taps: Taps, batch) -> None:
    taps.leave_by(screen.main.get_by_role("link", name="Read pH", exact=True))


def by_the_vessels_code(screen: Screen, taps: Taps, batch) -> None:
    by_a_code(screen, taps, "jar 7")


def by_a_scan(screen: Screen, taps: Taps, batch) -> None:
    by_a_code(screen, taps, f"]A0{batch.code}")


def by_a_code(screen: Screen, taps: Taps, code: str) -> None:
    """Typed, or by a scanner, which types fast and ends with the Enter key."""
    taps.count += 1
    screen.page.get_by_label("Find", exact=True).first.click()
    screen.page.keyboard.type(code)
    with screen.leaving():
        screen.page.keyboard.press("Enter")
    taps.leave_by(screen.main.get_by_role("link", name="Take a reading", exact=True))


@pytest.mark.parametrize(
    ("way", "most", "size"),
    [
        (by_its_page, 2, PHONE),
        (by_the_start_page, 2, PHONE),
        (by_the_start_page, 2, DESK),
        (by_the_vessels_code, 3, PHONE),
        (by_a_scan, 3, DESK),
    ],
)
def test_a_ph_takes_at_most_three_taps_and_its_number(screens, operator, batch, way, most, size):
    screen: Screen = screens(operator, size=size)
    taps = Taps(screen)

    way(screen, taps, batch)
    assert "pH 4.2 within 7 days: ≤" in screen.text
    taps.type("3.41")
    taps.leave_by(screen.main.get_by_role("button", name="Record", exact=True))

    assert taps.count <= most
    assert [each.value_text for each in Checkpoint.objects.filter(lot=batch.pk)] == ["3.41"]
    assert "pH 3.41: clear" in screen.text


def test_the_instruments_state_follows_the_choice(screens, operator, batch):
    screen: Screen = screens(operator)
    screen.open(f"{reverse('entry', args=['reading'])}?lot={batch.code}")

    screen.write("Instrument", "Bench meter")

    told = screen.main.get_by_text("never calibrated: the reading is recorded and will need")
    told.wait_for()


@ON_BOTH_SCREENS
def test_a_wrong_key_is_said_at_once_with_what_to_do(screens, operator, batch, size):
    screen: Screen = screens(operator, size=size)
    screen.open(f"{reverse('entry', args=['reading'])}?lot={batch.code}")
    screen.page.keyboard.type("8,31")
    screen.press("Record")

    banner = screen.main.locator("#verdict")
    expect(banner).to_be_in_viewport()
    assert "pH 8,31: " in banner.inner_text()
    again = banner.get_by_role("link", name="Measure again")
    assert again.bounding_box()["height"] >= 44
    with screen.leaving():
        banner.get_by_role("link", name="It was mistyped: void it").click()
    screen.write("Why it is wrong", "3.31 was meant")
    screen.press("Void this entry")

    assert Checkpoint.objects.get().is_void
    assert not Hold.objects.filter(lifted_at__isnull=True, lot=batch.pk).exists()


def test_fahrenheit_and_a_decimal_comma_are_understood(screens, operator, batch):
    screen: Screen = screens(operator)
    screen.open(f"{reverse('entry', args=['reading'])}?lot={batch.code}")
    screen.write_all({"Reading": "3,41", "Sample temperature": "77 °F"})
    screen.press("Record")

    found = Checkpoint.objects.get()
    assert (found.value_text, found.value) == ("3,41", Decimal("3.41"))
    assert found.sample_temperature == 25
    assert screen.table("Readings")[0][1:3] == ["pH", "3,41"]


def fill(screen: Screen, vessel: str, number: str) -> None:
    screen.main.get_by_label(f"pH in {vessel}").fill(number)


def press(screen: Screen, vessel: str) -> Locator:
    return screen.main.get_by_role("button", name=f"Save {vessel}")


@pytest.fixture
def twelve(manager, batch):
    starter = make.culture(manager, "40 L", when=now(-9))
    room = batch.vessel.location
    for number in (1, 2):
        make.batch(
            manager, when=now(-5), starter=starter, starter_amount="1 L",
            vessel=make.vessel(manager, f"Jar {number}", location=room),
        )  # fmt: skip
    return reverse("round") + f"?place={room.pk}"


@ON_BOTH_SCREENS
def test_a_round_with_scripts_saves_each_row_where_it_stands(screens, operator, twelve, size):
    screen: Screen = screens(operator, size=size)
    screen.open(twelve)
    fill(screen, "Jar 2", "3.5")

    fill(screen, "Jar 1", "31")
    press(screen, "Jar 1").click()
    screen.main.get_by_text("Did you mean 3.1?").wait_for()
    fill(screen, "Jar 1", "3.1")
    press(screen, "Jar 1").click()
    screen.main.get_by_text("2 still to read: Jar 2, Jar 7").wait_for()

    assert screen.main.get_by_label("pH in Jar 2").input_value() == "3.5"
    assert [each.value_text for each in Checkpoint.objects.all()] == ["3.1"]
    screen.settle()


def test_a_round_without_scripts_is_gone_on_with_by_a_colleague(screens, operator, manager, twelve):
    first: Screen = screens(operator, scripts=False)
    first.open(twelve)
    fill(first, "Jar 2", "3.5")
    fill(first, "Jar 1", "3.4")
    with first.leaving():
        press(first, "Jar 1").click()
    assert first.main.get_by_label("pH in Jar 2").input_value() == "3.5"
    assert "2 still to read: Jar 2, Jar 7" in first.text

    second: Screen = screens(manager, scripts=False)
    second.open(twelve)
    fill(second, "Jar 2", "3.6")
    fill(second, "Jar 7", "3.7")
    second.press("Save all that are filled in")

    assert "Every open vessel here was read." in second.text
    by = [(each.value_text, each.recorded_by) for each in Checkpoint.objects.order_by("id")]
    assert by == [("3.4", operator), ("3.6", manager), ("3.7", manager)]


@WITH_SCRIPTS_AND_WITHOUT
def test_what_went_into_a_batch_is_recorded_from_the_lots_own_page(
    screens, operator, manager, batch, scripts, size
):
    tea = make.ingredient_lot(manager, when=now(-8))
    screen: Screen = screens(operator, scripts=scripts, size=size)
    screen.lot(tea.code)
    screen.follow("Use a lot")
    assert screen.value("Lot used") == tea.code
    screen.write_all({"Into": batch.code.lower(), "Amount": "20 g", "As": "flavouring"})
    screen.press("Record")

    assert screen.errors == []
    use = LotUse.objects.get(source=tea.pk)
    assert (use.into.code, use.quantity_text, use.purpose) == (batch.code, "20 g", "flavouring")
