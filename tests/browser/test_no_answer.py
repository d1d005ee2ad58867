"""A phone out of reach: nothing typed is lost, and what is sent again is recorded once."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.urls import reverse
from playwright.sync_api import Locator, Route, expect

from brewlog.models import Checkpoint, LotUse
from tests import factories as make
from tests.browser.screen import Screen
from tests.factories import now

pytestmark = pytest.mark.browser


@pytest.fixture
def batch(manager):
    jar = make.vessel(manager, "Jar 7", location=make.location(manager, "Warm room"))
    return make.batch(manager, vessel=jar, when=now(-5), code="B26062A")


def reading(screen: Screen, batch) -> None:
    """A reading, typed and not sent."""
    screen.open(f"{reverse('entry', args=['reading'])}?lot={batch.code}")
    screen.write_all({"Reading": "3.44", "Note": "foam on top"})


def press(screen: Screen) -> None:
    """Press the button without waiting for a page to come of it."""
    screen.main.get_by_role("button", name="Record", exact=True).click()


def alert(screen: Screen) -> Locator:
    return screen.main.get_by_role("alert")


def test_out_of_reach_it_is_said_that_nothing_is_saved(screens, operator, batch):
    screen: Screen = screens(operator)
    screen.watch.meant.add("ERR_INTERNET_DISCONNECTED")
    reading(screen, batch)

    screen.page.context.set_offline(True)
    press(screen)
    expect(alert(screen)).to_contain_text("Not saved: the server did not answer.")
    expect(alert(screen)).to_be_in_viewport()
    assert (screen.value("Reading"), screen.value("Note")) == ("3.44", "foam on top")
    assert not Checkpoint.objects.exists()
    screen.page.context.set_offline(False)
    screen.press("Record")

    assert screen.heading == batch.code
    assert screen.said.startswith("Recorded: take a reading")
    assert [(each.value_text, each.note) for each in Checkpoint.objects.all()] == [
        ("3.44", "foam on top")
    ]


def test_logged_out_meanwhile_nothing_typed_is_lost(screens, operator, batch):
    screen: Screen = screens(operator)
    reading(screen, batch)
    (session,) = [each for each in screen.page.context.cookies() if each["name"] == "sessionid"]

    screen.page.context.clear_cookies(name="sessionid")
    press(screen)
    expect(alert(screen)).to_contain_text("Not saved: you are logged out.")
    assert (screen.value("Reading"), screen.value("Note")) == ("3.44", "foam on top")
    assert not Checkpoint.objects.exists()
    # Logged in again elsewhere: the session is there, and the token another one.
    screen.page.context.add_cookies([session])
    screen.page.context.clear_cookies(name="csrftoken")
    tab = screen.page.context.new_page()
    tab.goto(screen.page.url)
    screen.press("Record")

    assert screen.said.startswith("Recorded: take a reading")
    assert Checkpoint.objects.get().note == "foam on top"


def answer_lost(route: Route) -> None:
    route.fetch(max_redirects=0)
    route.abort("connectionreset")


def test_what_arrived_although_no_answer_came_is_not_recorded_again(screens, operator, batch):
    screen: Screen = screens(operator)
    screen.watch.meant.add("ERR_CONNECTION_RESET")
    reading(screen, batch)

    screen.page.route("**/record/reading/**", answer_lost, times=1)
    press(screen)
    expect(alert(screen)).to_contain_text("Not saved")
    assert Checkpoint.objects.count() == 1
    screen.press("Record")

    assert screen.heading == batch.code
    assert "It is recorded once, as shown here." in screen.said
    assert Checkpoint.objects.count() == 1


@pytest.mark.parametrize(
    "answered",
    [
        lambda route: route.abort("connectionrefused"),
        lambda route: route.fulfill(status=502, body="Bad Gateway"),
        lambda route: route.fulfill(status=302, headers={"Location": "https://wifi.example/"}),
        lambda route: route.fulfill(content_type="text/html", body="<h1>Welcome to our WiFi</h1>"),
    ],
    ids=["refused", "a gateway's error", "another's redirect", "another's page"],
)
def test_what_is_no_answer_of_ours_is_taken_for_none(
    screens, operator, batch, answered: Callable[[Route], None]
):
    screen: Screen = screens(operator)
    screen.watch.meant |= {"ERR_CONNECTION_REFUSED", "502"}
    reading(screen, batch)

    screen.page.route("**/record/reading/**", answered, times=1)
    press(screen)
    expect(alert(screen)).to_contain_text("Not saved")
    screen.press("Record")

    assert Checkpoint.objects.get().value_text == "3.44"


def test_on_a_slow_line_it_is_said_that_it_waits_and_a_second_press_does_nothing(
    screens, operator, batch
):
    screen: Screen = screens(operator)
    held: list[Route] = []
    reading(screen, batch)

    screen.page.route("**/record/reading/**", lambda route: held.append(route))
    press(screen)
    told = screen.main.get_by_text("Sending. Waiting for the server to answer.")
    told.wait_for()
    press(screen)
    with screen.leaving():
        (only,) = held
        only.continue_()

    assert Checkpoint.objects.count() == 1


def test_what_is_wrong_is_told_on_the_form_as_ever(screens, operator, batch):
    screen: Screen = screens(operator)
    reading(screen, batch)
    address = screen.page.url

    screen.write("Reading", "31")
    screen.press("Record")

    assert screen.page.title().startswith("To mend: Take a reading")
    assert screen.errors == [
        "Reading: A pH lies between 0 and 14; '31' does not. Did you mean 3.1?"
    ]
    assert screen.page.evaluate("document.activeElement.id") == "errors"
    assert screen.page.url == address
    screen.page.go_back()
    assert screen.heading != "Take a reading"


def test_a_row_of_a_round_says_it_where_it_stands(screens, operator, batch):
    screen: Screen = screens(operator)
    screen.watch.meant |= {"ERR_INTERNET_DISCONNECTED", "htmx:"}
    screen.open(reverse("round"))
    screen.main.get_by_label("pH in Jar 7").fill("3.4")
    save = screen.main.get_by_role("button", name="Save Jar 7")

    screen.page.context.set_offline(True)
    save.click()
    row = screen.main.get_by_role("group", name="Jar 7")
    expect(row.get_by_role("alert")).to_contain_text("Not saved")
    screen.page.context.set_offline(False)
    save.click()
    expect(row.locator(".round-value")).to_have_text("3.4")

    expect(alert(screen)).to_have_count(0)
    assert Checkpoint.objects.get().value_text == "3.4"


def test_a_form_with_rows_is_sent_whole(screens, operator, manager, batch):
    tea = make.ingredient_lot(manager, when=now(-8))
    screen: Screen = screens(operator)
    screen.watch.meant.add("ERR_INTERNET_DISCONNECTED")
    screen.open(f"{reverse('entry', args=['use'])}?lot={tea.code}")
    screen.write_all({"Into": batch.code, "Amount": "20 g", "As": "flavouring"})

    screen.page.context.set_offline(True)
    press(screen)
    expect(alert(screen)).to_contain_text("Not saved")
    screen.page.context.set_offline(False)
    screen.press("Record")

    assert LotUse.objects.get(source=tea.pk).quantity_text == "20 g"
