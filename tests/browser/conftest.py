"""Chromium against the running application, as wide as a phone or a desk's screen.

Every page opened is watched: a message on the console, a breach of the content policy, a
file that did not come or a page wider than the screen fails the test at its end.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, ViewportSize, sync_playwright

from tests.browser.screen import PHONE, Screen, Watch
from tests.left_out import chromium

ColorScheme = Literal["light", "dark"]
SWITCHES = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--disable-quic"]


@pytest.fixture(scope="module")
def running_browser() -> Iterator[Browser]:
    with pytest.MonkeyPatch.context() as patch:
        # Playwright keeps a loop in this thread while the browser runs, and Django takes
        # every test for asynchronous code then. Nothing here runs inside that loop.
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "yes")
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=chromium(), args=SWITCHES)
            yield browser
            browser.close()


@pytest.fixture
def screens(any_screens, brewery):
    """`any_screens` in a brewery that is set up."""
    return any_screens


@pytest.fixture
def any_screens(running_browser, live_server):
    """`any_screens(person, scripts=True, scheme="light", size=PHONE)`: a phone in somebody's
    hand, or another screen, at the start page; nobody is logged in and nothing is open where no
    person is named."""
    contexts = []
    watch = Watch()

    def screen(
        person=None,
        scripts: bool = True,
        scheme: ColorScheme = "light",
        size: ViewportSize = PHONE,
    ) -> Screen:
        context = running_browser.new_context(
            base_url=live_server.url,
            viewport=size,
            color_scheme=scheme,
            java_script_enabled=scripts,
            accept_downloads=True,
        )
        context.set_default_timeout(15_000)
        contexts.append(context)
        if person is not None:
            client = Client()
            client.force_login(person)
            key = client.cookies[settings.SESSION_COOKIE_NAME].value
            context.add_cookies(
                [{"name": settings.SESSION_COOKIE_NAME, "value": key, "url": live_server.url}]
            )
        page = context.new_page()
        watch.over(page)
        opened = Screen(page, watch)
        if person is not None:
            opened.open("/")
        return opened

    yield screen
    for context in contexts:
        context.close()
    assert watch.found == []
