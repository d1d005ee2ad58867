"""The watch over every page sees what it is there for."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest

from tests.browser.screen import Screen

pytestmark = pytest.mark.browser


@pytest.fixture
def screen(screens, operator):
    """A page that is about to go wrong on purpose: what is seen is taken from the watch."""
    screen = screens(operator)
    yield screen
    screen.watch.found.clear()


@pytest.mark.parametrize(
    ("done", "seen"),
    [
        ("document.body.setAttribute('style', 'color: red')", "Content Security Policy"),
        ("console.warn('about to go')", "about to go"),
        ("setTimeout(() => { throw new Error('slipped') })", "slipped"),
        ("fetch('/nothing/')", "404"),
    ],
    ids=["style", "warning", "error", "missing"],
)
def test_the_watch_sees(screen, done, seen):
    screen.page.evaluate(f"() => {{ {done} }}")

    assert noticed(screen, seen)


def noticed(screen: Screen, words: str) -> bool:
    """Whether the watch wrote these words down. What went wrong in the page arrives here a
    moment later: after milliseconds on a quiet machine, after a second on a busy one."""
    for _ in range(100):
        if words in " ".join(screen.watch.found):
            return True
        screen.page.wait_for_timeout(100)
    return False


def test_the_watch_sees_a_page_wider_than_the_phone(screen):
    screen.page.evaluate("document.body.append('wide'.repeat(200))")
    screen.page.evaluate("document.body.lastChild.parentElement.style.whiteSpace = 'nowrap'")
    screen.settle()

    assert any(words.endswith("px wide") for words in screen.watch.found)


def test_the_watch_lets_a_refused_page_be(screen):
    assert screen.open("/nothing/") == 404
    assert screen.watch.found == []


class InTwoHalves(BaseHTTPRequestHandler):
    """A slow line: the start of each page, and a while later the rest of it."""

    halves = (
        b"<nav><a href=/record/>Record</a></nav><h1>Entries</h1><main>",
        b"<a href=/receive/>Receive a delivery</a></main>",
    )

    def do_GET(self) -> None:
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        start, rest = self.halves
        self.wfile.write(start)
        time.sleep(0.4)
        self.wfile.write(rest)

    def log_message(self, *words: object) -> None:
        """Nothing on the terminal."""


@pytest.fixture
def slow_line() -> Iterator[str]:
    with ThreadingHTTPServer(("127.0.0.1", 0), InTwoHalves) as server:
        threading.Thread(target=server.serve_forever).start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()


def test_a_page_that_comes_in_pieces_is_waited_for(screens, slow_line):
    screen = screens()
    screen.page.goto(f"{slow_line}/")

    screen.entry("Receive a delivery")

    assert screen.page.url == f"{slow_line}/receive/"
