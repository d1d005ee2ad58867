"""A line of the start page, settled by the form it leads to."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from tests.views.conftest import Browser

HOME = reverse("home")


def settle(browser: Browser, button: str, through: str = "", **typed: Any) -> dict[str, str]:
    """Follow a line's button, type what is missing, send it: that leads back to the start page
    and the line is gone. The form as the line opened it.

    A day's work, `through` one of its buttons, leads back to that.
    """
    address = browser.open(HOME).links[button]
    if through:
        address = browser.open(address).links[through]
    opened = browser.open(address).fields
    page = browser.send(address.partition("?")[0], opened | typed)
    if through:
        assert page.response.redirect_chain, page.text
    else:
        assert page.response.redirect_chain == [(HOME, 302)], page.text
    assert button not in browser.open(HOME).links
    return opened
