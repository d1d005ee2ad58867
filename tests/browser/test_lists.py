"""A long list: searched, narrowed, sorted, paged, kept under a name and downloaded as shown."""

from __future__ import annotations

import pytest

from tests import factories as make
from tests.browser.screen import DESK, PHONE, Screen
from tests.many import many_more

pytestmark = pytest.mark.browser


@pytest.fixture
def suppliers(manager):
    """Sixty called Hill and two others, one of them not in use any more."""
    many_more(manager, make.supplier(manager, "Hill"), 59)
    make.supplier(manager, "Granite Tea")
    make.supplier(manager, "Old Mill")


def names(screen: Screen) -> list[str]:
    return screen.main.locator("tbody th").all_inner_texts()


def by_the_form(screen: Screen) -> None:
    screen.write("Order", "Name, falling")
    screen.press("Show")


def by_its_head(screen: Screen) -> None:
    for _ in range(2):
        with screen.leaving():
            screen.main.locator("thead").get_by_role("link", name="Name").click()


@pytest.mark.parametrize(
    ("size", "sort"), [(PHONE, by_the_form), (DESK, by_its_head)], ids=["phone", "desk"]
)
def test_a_list_is_brought_to_what_is_wanted_and_kept_so(screens, operator, suppliers, size, sort):
    screen: Screen = screens(operator, size=size)
    screen.open("/suppliers/")
    assert len(names(screen)) == 50
    screen.follow("Next page")
    assert len(names(screen)) == 12

    screen.write("Search", "hill")
    screen.press("Show")
    assert "1 to 50 of 60" in screen.text
    sort(screen)
    backwards = names(screen)
    assert backwards == sorted(backwards, reverse=True)
    screen.follow("Save this view")
    screen.write("Name", "Hills")
    screen.press("Save the view")
    assert names(screen) == backwards

    screen.open("/suppliers/")
    screen.follow("Hills")
    assert names(screen) == backwards
    with screen.page.expect_download() as arriving:
        screen.main.get_by_role("link", name="CSV", exact=True).click()
    rows = arriving.value.path().read_text("utf-8-sig").splitlines()
    assert [row.split(",")[0] for row in rows[1:51]] == backwards
    assert len(rows) == 61

    screen.write("Search", "nobody of that name")
    screen.press("Show")
    assert "Nothing matches." in screen.text
    screen.follow("show all")
    assert "1 to 50 of 62" in screen.text


def test_the_heads_a_phone_hides_are_seen_by_whoever_comes_to_them_by_keyboard(
    screens, operator, suppliers
):
    screen: Screen = screens(operator)
    screen.open("/suppliers/")
    head = screen.main.locator("thead").get_by_role("link", name="Name")
    heads = screen.main.locator("thead")
    assert heads.bounding_box()["height"] == 1

    head.focus()

    assert heads.bounding_box()["height"] > 20
    screen.watch.width(screen.page)
