"""What each role finds on its screen, and what it is refused."""

from __future__ import annotations

import pytest
from django.urls import reverse

from brewlog.models import Checkpoint, Hold, RecipeVersion
from tests import factories
from tests.browser.roles import is_refused, ways_to_write
from tests.browser.screen import ON_BOTH_SCREENS
from tests.test_urls import ENTRY_TABLE, MANAGERS, RECORDERS, REVIEWERS, WHO, count_of_records

pytestmark = pytest.mark.browser


@pytest.fixture
def batch(manager):
    return factories.batch(manager, code="B26062A")


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


# One of each flow: what a role may not open, it may not send behind the page's back either.
SENT = {
    "reading": {"lot": "B26062A", "measurand": "ph", "value": "2.9", "when": "now"},
    "condition": {"lot": "B26062A", "mould": "none", "when": "now"},
    "use": {"source": "R1", "into": "B26062A", "quantity": "1 g", "when": "now"},
    "bottle": {"draws-0-source": "B26062A", "draws-0-quantity": "1 L", "when": "now"},
    "ship": {"customer": "Corner Shop", "lines-0-lot": "L1", "lines-0-quantity": "1"},
    "start-recall": {"kind": "drill", "lot": "B26062A", "question": "who?", "when": "now"},
    "lift": {"lot": "B26062A", "reason": "looks fine"},
    "review": {"lot": "B26062A", "password": "living culture 7"},
    "release": {"lot": "L1", "password": "living culture 7"},
    "recipe-version": {"recipe": "House black"},
    "bind-rules": {"since": "2026-01-01"},
    "person": {"username": "eve", "name": "Eve", "role": "manager", "password": "salt & tea 9"},
    "brewery": {"name": "Ours now", "time_zone": "Europe/Lisbon"},
}


def may(role: str, slug: str) -> bool:
    return ENTRY_TABLE[slug][WHO.index(role)] == 200


@pytest.mark.parametrize("role", ["inspector", "operator", "reviewer", "manager"])
def test_each_role_is_offered_its_work_and_refused_the_rest(screens, batch, role):
    assert {ENTRY_TABLE[slug] for slug in SENT} == {RECORDERS, REVIEWERS, MANAGERS}
    screen = screens(factories.person(role))
    before = count_of_records()

    for slug, fields in SENT.items():
        address = reverse("entry", args=[slug])
        if not may(role, slug):
            assert (slug, is_refused(screen, address, **fields)) == (slug, True)

    assert count_of_records() == before
    status = screen.open("/record/")
    offered = screen.main.locator("a[href^='/record/']").evaluate_all(
        "links => links.map(link => link.getAttribute('href').split('/')[2])"
    )
    assert (status == 200) is may(role, "reading")
    assert {slug for slug in offered if not may(role, slug)} == set()
    assert {slug for slug in SENT if may(role, slug)} - {"bind-rules"} <= set(offered)


@ON_BOTH_SCREENS
@pytest.mark.parametrize("role", ["inspector", "operator", "reviewer", "manager"])
def test_a_held_lots_page_offers_each_role_what_it_may_decide(screens, reviewer, batch, role, size):
    factories.hold(reviewer, batch)
    screen = screens(factories.person(role), size=size)
    screen.open(f"/lots/{batch.code}/")

    ways = ways_to_write(screen)
    assert "Kept back: do not use" in screen.text
    assert ("Take a reading" in ways) is may(role, "reading")
    assert ("Lift a hold" in ways) is may(role, "lift")
