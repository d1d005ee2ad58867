"""A phone out of reach: nothing typed is lost, and what is sent again is recorded once."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.urls import reverse
from playwright.sync_api import Locator, Route, expect

from brewlog.models import Checkpoint, LotUse
from compliance.models import Review
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


def test_out_of_reach_a_log_in_keeps_the_name_and_never_the_password(any_screens, operator):
    screen: Screen = any_screens()
    screen.watch.meant.add("ERR_INTERNET_DISCONNECTED")
    screen.open("/")
    screen.write_all({"User name": operator.username, "Password": "living culture 7"})

    screen.page.context.set_offline(True)
    screen.main.get_by_role("button", name="Log in").click()
    expect(alert(screen)).to_contain_text("Not logged in: the server did not answer.")
    expect(alert(screen)).to_contain_text("the password or PIN, which is never kept")
    assert (screen.value("User name"), screen.value("Password")) == (operator.username, "")
    screen.page.context.set_offline(False)
    screen.write("Password", "wrong")
    screen.press("Log in")
    assert "do not belong together" in screen.text
    screen.write("Password", "living culture 7")
    screen.press("Log in")

    assert screen.page.get_by_role("button", name="Log out").is_visible()


def test_out_of_reach_many_reviews_keep_their_ticks_and_words(screens, manager, reviewer, batch):
    make.reading(manager, batch, "3.4", when=now(-1))
    screen: Screen = screens(reviewer)
    screen.watch.meant.add("ERR_INTERNET_DISCONNECTED")
    screen.open(reverse("reviews"))
    screen.main.get_by_role("checkbox").first.check()
    screen.write("Your password, to sign", "living culture 7")

    screen.page.context.set_offline(True)
    screen.main.get_by_role("button", name="Sign the reviews").click()
    expect(alert(screen)).to_contain_text("Not saved: the server did not answer.")
    assert screen.main.get_by_role("checkbox").first.is_checked()
    assert screen.value("Your password, to sign") == ""
    assert not Review.objects.exists()
    screen.page.context.set_offline(False)
    screen.write("Your password, to sign", "living culture 7")
    screen.press("Sign the reviews")

    assert screen.said.startswith(f"Reviewed and signed: {batch.code}")


def test_out_of_reach_spreadsheets_stay_chosen(screens, manager):
    screen: Screen = screens(manager)
    screen.watch.meant.add("ERR_INTERNET_DISCONNECTED")
    screen.open(reverse("import"))
    sheet = {
        "name": "Vessels.csv",
        "mimeType": "text/csv",
        "buffer": b"Name,Material\nJar 1,glass\n",
    }
    screen.control("Spreadsheets").set_input_files(sheet)

    screen.page.context.set_offline(True)
    screen.main.get_by_role("button", name="Look at them").click()
    expect(alert(screen)).to_contain_text("Not sent: the server did not answer.")
    screen.page.context.set_offline(False)
    screen.press("Look at them")

    assert "No mistakes. 1 row would be recorded" in screen.said


def test_out_of_reach_no_other_person_is_asked_for_and_the_form_stays(screens, manager, batch):
    screen: Screen = screens(manager)
    screen.watch.meant.add("ERR_INTERNET_DISCONNECTED")
    screen.entry("Share this device")
    screen.write("Name", "Brew room tablet")
    screen.press("Share it")
    reading(screen, batch)

    screen.page.context.set_offline(True)
    screen.page.get_by_role("button", name="Change person").click()
    expect(alert(screen)).to_contain_text("Not saved: the server did not answer.")
    assert (screen.value("Reading"), screen.value("Note")) == ("3.44", "foam on top")
    screen.page.context.set_offline(False)
    with screen.leaving():
        screen.page.get_by_role("button", name="Change person").click()

    assert screen.heading == "Who is at work?"


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
