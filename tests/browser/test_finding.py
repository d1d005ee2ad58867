"""The box on every page, and a scanner that types into it: fast, and with Enter at the end."""

from __future__ import annotations

import time
from collections.abc import Sequence

import pytest

from tests import factories as make
from tests.browser.screen import ON_BOTH_SCREENS, Screen

pytestmark = pytest.mark.browser

GTIN = "9520123456788"


@pytest.fixture
def bottles(manager):
    ginger = make.flavour(manager, "Ginger", label_name="Kombucha with ginger", gtin=GTIN)
    lot = make.bottles(manager, flavour=ginger, code="L26079A")
    make.shipment(manager, lot, "5", make.customer(manager, "Ginger Larder"))
    return lot


def scan(screen: Screen, what: str) -> None:
    """As a wedge does it: every sign at once, then Enter."""
    box = screen.page.get_by_label("Find", exact=True).first
    box.click()
    box.press("ControlOrMeta+a")
    with screen.leaving():
        screen.page.keyboard.type(what)
        screen.page.keyboard.press("Enter")


@ON_BOTH_SCREENS
def test_whatever_is_scanned_or_typed_leads_to_its_lot(screens, operator, bottles, size):
    screen: Screen = screens(operator, size=size)
    for what in (
        f"]C1010{GTIN}10{bottles.code}",
        f"(01)0{GTIN}(10){bottles.code}",
        f"https://id.gs1.org/01/0{GTIN}/10/{bottles.code}",
        bottles.code.lower(),
    ):
        scan(screen, what)
        assert (what, screen.heading) == (what, bottles.code)

    scan(screen, "ginger")
    assert screen.heading == "Found for “ginger”"
    assert "Ginger Larder" in screen.text
    assert "Label name: Kombucha with ginger" in screen.text or bottles.code in screen.text
    scan(screen, "]C10109520123456787" + "10A")
    assert "check digit" in screen.text
    assert "scan it again" in screen.text


def keys(screen: Screen, text: str, gaps: Sequence[int]) -> None:
    """The keys of a code and Enter, each so many milliseconds after the one before, by the clock
    that the page sees: how busy the machine is does not count."""
    devtools = screen.page.context.new_cdp_session(screen.page)
    at = time.time()
    for sign, gap in zip((*text, "\r"), gaps, strict=True):
        at += gap / 1000
        names = {"key": "Enter", "code": "Enter", "windowsVirtualKeyCode": 13}
        pressed = names if sign == "\r" else {"key": sign}
        devtools.send(
            "Input.dispatchKeyEvent", {"type": "keyDown", "text": sign, "timestamp": at, **pressed}
        )
        devtools.send("Input.dispatchKeyEvent", {"type": "keyUp", "timestamp": at, **pressed})


def test_a_scan_is_found_wherever_nothing_is_typed(screens, operator, bottles):
    screen: Screen = screens(operator)
    screen.open("/")
    # A link has the focus, as after a tap: the scanner's Enter does not follow it.
    screen.page.get_by_role("link", name="Records", exact=True).focus()

    with screen.leaving():
        keys(screen, bottles.code, [10] * (len(bottles.code) + 1))

    assert screen.page.url.endswith(f"/lots/{bottles.code}/")


@pytest.mark.parametrize("slow", [(1, 80), (0, 120)], ids=["one-late", "by-hand"])
def test_keys_that_come_slowly_are_no_scan(screens, operator, bottles, slow):
    screen: Screen = screens(operator)
    screen.open("/")
    start = screen.page.url
    which, gap = slow
    gaps = [gap if which == 0 or place == which else 10 for place in range(len(bottles.code) + 1)]

    keys(screen, bottles.code, gaps)

    assert screen.page.get_by_label("Find", exact=True).first.input_value() == ""
    assert screen.page.url == start


def test_a_scan_into_a_field_stays_in_it(screens, operator, bottles):
    screen: Screen = screens(operator)
    screen.open("/record/reading/")
    box = screen.control("Lot")
    box.focus()

    screen.page.keyboard.type(bottles.code)

    assert box.input_value() == bottles.code
    assert screen.page.get_by_label("Find", exact=True).first.input_value() == ""
