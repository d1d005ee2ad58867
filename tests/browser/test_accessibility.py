"""No violation of WCAG 2.2 AA that axe finds, on a phone, by day and by night.

Rules: axe-core's tags for WCAG 2.0, 2.1 and 2.2, levels A and AA, and its best practices.
https://github.com/dequelabs/axe-core/blob/develop/doc/API.md#axe-core-tags
"""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

from brewlog.domain import ingredients
from tests import factories
from tests.browser.screen import Screen

pytestmark = pytest.mark.browser

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
OPTIONS = {"runOnly": {"type": "tag", "values": RULES}, "resultTypes": ["violations"]}


def violations(screen: Screen) -> list[str]:
    """What axe finds on the page that is open: its address, the rule, the elements."""
    found = Axe().run(screen.page, options=OPTIONS).response["violations"]
    return [
        f"{screen.page.url} {each['id']}: {node['html'][:120]}"
        for each in found
        for node in each["nodes"]
    ]


@pytest.fixture
def house(manager, reviewer):
    """A lot of each kind, something held, something that needs a look, something struck out."""
    tea = factories.ingredient_lot(manager, "10 kg", code="R26060A")
    syrup = ingredients.prepare(
        actor=manager,
        name="Ginger syrup",
        preparation_kind="syrup",
        quantity=factories.quantity("2 L"),
        when=factories.at(2),
        lines=[],
        code="P26061A",
    )
    starter = factories.culture(manager, code="S26060A")
    brew = factories.brew(manager, code="K26061A")
    factories.use(manager, tea, brew, "200 g", factories.at(2), "ingredient")
    batch = factories.batch(manager, starter=starter, code="B26062A")
    factories.reading(manager, batch, "3.21")
    bottles = factories.bottles(manager, 100, batch, "33 L", code="L26079A")
    shop = factories.customer(manager, "Corner Shop", phone="555-0107", email="a@example.com")
    factories.shipment(manager, bottles, "120", shop)
    factories.hold(reviewer, syrup, cause="other")
    return [tea, syrup, starter, brew, batch, bottles]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_reading_pages_can_be_read_by_all(screens, manager, house, scheme):
    screen = screens(manager, scheme=scheme)
    bottles = house[-1].code
    pages = [
        "/",
        "/record/",
        "/records/",
        "/lots/",
        "/readings/",
        "/needs-a-look/",
        "/calculations/",
        f"/lots/{bottles}/trace/",
        f"/lots/{bottles}/recall/",
        *(f"/lots/{lot.code}/" for lot in house),
    ]
    found = []
    for page in pages:
        assert screen.open(page) == 200
        found += violations(screen)
    assert found == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_forms_can_be_filled_in_by_all(screens, operator, house, scheme):
    screen = screens(operator, scheme=scheme)
    found = []
    for entry in ("reading", "bottle", "ship"):
        assert screen.open(f"/record/{entry}/") == 200
        found += violations(screen)
        screen.press("Record")
        assert screen.errors
        found += violations(screen)
    screen.open("/calculations/sugar-scales/")
    screen.write("Value", "7.5")
    screen.press("Work it out")
    assert "1.02" in screen.main.locator(".answer").inner_text()
    found += violations(screen)
    assert found == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_closed_doors_can_be_read_by_all(screens, inspector, scheme):
    screen = screens(scheme=scheme)
    screen.open("/log-in/")
    found = violations(screen)
    screen.write("User name", inspector.username)
    screen.write("Password", "wrong")
    screen.press("Log in")
    found += violations(screen)
    screen = screens(inspector, scheme=scheme)
    for page, status in (("/record/reading/", 403), ("/nothing/", 404), ("/lots/B1/", 404)):
        assert screen.open(page) == status
        found += violations(screen)
    assert found == []


def test_axe_sees_what_it_is_asked_to_see(screens, operator):
    screen = screens(operator)
    screen.page.evaluate("document.querySelector('#find-words').previousElementSibling.remove()")
    (found,) = violations(screen)
    assert ' label: <input id="find-words"' in found
