"""The watch over every page sees what it is there for."""

from __future__ import annotations

import pytest

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
    screen.page.wait_for_timeout(300)

    assert seen in " ".join(screen.watch.found)


def test_the_watch_sees_a_page_wider_than_the_phone(screen):
    screen.page.evaluate("document.body.append('wide'.repeat(200))")
    screen.page.evaluate("document.body.lastChild.parentElement.style.whiteSpace = 'nowrap'")
    screen.settle()

    assert any(words.endswith("px wide") for words in screen.watch.found)


def test_the_watch_lets_a_refused_page_be(screen):
    assert screen.open("/nothing/") == 404
    assert screen.watch.found == []
