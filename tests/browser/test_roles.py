"""What each role finds on its screen, and what it is refused."""

from __future__ import annotations

import pytest
from django.urls import reverse

from brewlog.models import Checkpoint, Hold, RecipeVersion
from tests import factories
from tests.browser.screen import Screen

pytestmark = pytest.mark.browser


@pytest.fixture
def batch(manager):
    return factories.batch(manager, code="B26062A")


def ways_to_write(screen: Screen) -> list[str]:
    """Links to forms that record, and buttons that send one."""
    links = screen.page.locator('a[href*="/record/"], a[href$="/void/"], a[href$="/correct/"]')
    buttons = screen.page.locator("main form[method=post] button")
    return [*links.all_text_contents(), *buttons.all_text_contents()]


def is_refused(screen: Screen, address: str, **fields: str) -> bool:
    """Send a form without its page, with a valid token of the session: is it not for the role?"""
    cookies = {cookie["name"]: cookie["value"] for cookie in screen.page.context.cookies()}
    answer = screen.page.context.request.post(
        address,
        form={**fields, "csrfmiddlewaretoken": cookies["csrftoken"]},
        headers={"Referer": screen.page.url},
    )
    return answer.status == 403 and "Not for your role" in answer.text()


def test_an_inspector_reads_everything_and_writes_nothing(screens, inspector, operator, batch):
    reading = factories.reading(operator, batch)
    screen = screens(inspector)
    pages = [
        "/",
        "/records/",
        "/batches/",
        f"/lots/{batch.code}/",
        f"/lots/{batch.code}/trace/",
        f"/lots/{batch.code}/recall/",
        f"/records/checkpoint/{reading.pk}/",
    ]
    for page in pages:
        assert screen.open(page) == 200
        assert (page, ways_to_write(screen)) == (page, [])
    screen.open(f"/lots/{batch.code}/")
    assert [row[1:3] for row in screen.table("Readings")] == [["pH", "3.45"]]

    form = reverse("entry", args=["reading"])
    assert screen.open(form) == 403
    assert "You can read every record." in screen.text
    assert is_refused(screen, form, lot=batch.code, measurand="ph", value="2.9")
    assert is_refused(screen, f"/records/checkpoint/{reading.pk}/void/", reason="wrong")
    assert [each.value_text for each in Checkpoint.objects.live()] == ["3.45"]


def test_the_same_pages_offer_an_operator_ways_to_write(screens, operator, batch):
    screen = screens(operator)
    assert "Take a reading" in ways_to_write(screen)
    screen.open(f"/lots/{batch.code}/")
    assert "Take a reading" in ways_to_write(screen)


def test_a_stranger_logs_in_and_comes_where_he_wanted_to_go(screens, operator, batch):
    screen = screens()
    page = f"/lots/{batch.code}/"
    screen.open(page)
    assert (screen.heading, screen.page.url.split("?")[0][-8:]) == ("Log in", "/log-in/")
    assert batch.code not in screen.text
    answer = screen.page.context.request.get(f"/lots/{batch.code}/sheet.pdf", max_redirects=0)
    assert (answer.status, answer.headers["location"][:8]) == (302, "/log-in/")

    screen.write("User name", operator.username)
    screen.write("Password", "living culture 8")
    screen.press("Log in")
    assert "do not belong together" in screen.text
    assert screen.value("User name") == operator.username

    screen.write("Password", "living culture 7")
    screen.press("Log in")
    assert screen.heading == batch.code
    with screen.leaving():
        screen.page.get_by_role("button", name="Log out").click()
    assert screen.heading == "Log in"
    screen.open(page)
    assert screen.heading == "Log in"


def test_a_reviewer_lifts_a_hold_and_says_why(screens, operator, reviewer, batch):
    factories.hold(operator, batch, cause="other", why="smelled of solvent")
    screen = screens(reviewer)
    assert "smelled of solvent" in screen.text
    screen.lot(batch.code)
    assert "smelled of solvent" in screen.text
    screen.follow("Lift a hold")
    assert screen.value("Lot") == batch.code
    screen.write("What was found, and why it may go on", "Tasted again by two: esters, no fault.")
    screen.press("Lift the hold")

    hold = Hold.objects.get()
    assert not hold.is_open
    assert hold.lift_reason == "Tasted again by two: esters, no fault."
    assert hold.lifted_by.username == reviewer.username
    screen.lot(batch.code)
    assert "Kept back" not in screen.text


def test_an_operator_is_not_offered_to_lift_a_hold(screens, operator, reviewer, batch):
    factories.hold(reviewer, batch)
    screen = screens(operator)
    screen.open(f"/lots/{batch.code}/")
    assert "Kept back" in screen.text
    assert "Lift a hold" not in ways_to_write(screen)

    form = reverse("entry", args=["lift"])
    assert screen.open(form) == 403
    assert is_refused(screen, form, lot=batch.code, reason="looks fine")
    assert Hold.objects.get().is_open


def test_a_manager_approves_a_recipe_and_an_operator_brews_by_it(screens, manager, operator):
    version = factories.recipe_version(manager, "House black", approved=False)
    floor = screens(operator)
    floor.entry("Begin a batch")
    floor.write("Recipe version", "House black v1")
    floor.write("Planned volume", "40 L")
    floor.press("Record")
    (told,) = floor.errors
    assert told.startswith("Recipe version: House black v1 is not approved.")

    office = screens(manager)
    office.open(f"/records/recipeversion/{version.pk}/")
    office.follow("Approve a recipe version")
    assert office.value("Recipe version") == "House black v1"
    office.press("Approve")
    approved = RecipeVersion.objects.get()
    assert approved.approved_by.username == manager.username

    floor.press("Record")
    assert floor.errors == []
    assert "House black v1" in floor.text
