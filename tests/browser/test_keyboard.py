"""Without a mouse: every step of a reading by Tab and Enter, and what has the focus is seen."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from brewlog.models import Checkpoint
from tests import factories as make
from tests.browser.screen import ON_BOTH_SCREENS, Screen

pytestmark = pytest.mark.browser

FOCUSED = """() => {
    const found = document.activeElement;
    const box = found.getBoundingClientRect();
    const style = getComputedStyle(found);
    return {
        words: (found.labels?.[0] ?? found).textContent.trim(),
        isSeen: box.width > 1 && box.height > 1
            && (style.outlineStyle !== 'none' || style.boxShadow !== 'none'),
    };
}"""


def tab_to(page: Page, words: str) -> None:
    """Press Tab until that has the focus; nothing on the way has it unseen."""
    for _ in range(60):
        page.keyboard.press("Tab")
        focused = page.evaluate(FOCUSED)
        assert focused["isSeen"], focused["words"]
        if focused["words"].startswith(words):
            return
    raise AssertionError(f"Tab never came to '{words}'")


def enter(screen: Screen) -> None:
    with screen.leaving():
        screen.page.keyboard.press("Enter")


@ON_BOTH_SCREENS
def test_a_reading_is_recorded_by_keys_alone(screens, operator, manager, size):
    batch = make.batch(manager, code="B26062A")
    screen: Screen = screens(operator, size=size)
    keys = screen.page.keyboard

    tab_to(screen.page, "Skip to the page")
    tab_to(screen.page, "Find")
    keys.type(batch.code)
    enter(screen)
    assert screen.heading == batch.code
    tab_to(screen.page, "Skip to the page")
    keys.press("Enter")
    tab_to(screen.page, "Take a reading")
    enter(screen)
    keys.type("31")
    enter(screen)
    assert screen.errors[0].endswith("Did you mean 3.1?")
    tab_to(screen.page, "Reading")
    keys.press("Enter")
    keys.press("ControlOrMeta+a")
    keys.type("3.1")
    tab_to(screen.page, "Record")
    enter(screen)

    assert Checkpoint.objects.get().value_text == "3.1"
    assert screen.said.startswith("Recorded: take a reading")
