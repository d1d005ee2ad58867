"""What axe finds on a page, by day and by night.

Rules: axe-core's tags for WCAG 2.0, 2.1 and 2.2, levels A and AA, and its best practices.
https://github.com/dequelabs/axe-core/blob/develop/doc/API.md#axe-core-tags
"""

from __future__ import annotations

from typing import Any

from axe_playwright_python.base import AXE_SCRIPT

from tests.browser.screen import Screen

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
ALL_RULES = {"type": "tag", "values": RULES}
# What a scheme alone can change: it names other colours and nothing else.
COLOURS = {"type": "rule", "values": ["color-contrast"]}

# axe's own answer names all that it passed, which takes longer to hand over than to find.
_RUN = """options => axe.run(options).then(found => found.violations.flatMap(
    each => each.nodes.map(node => each.id + ': ' + node.html.slice(0, 120))))"""


def violations(screen: Screen) -> list[str]:
    """What axe finds on the page that is open: its address, the rule, the element."""
    if not screen.page.evaluate("'axe' in window"):
        screen.page.evaluate(AXE_SCRIPT)
    return _found(screen, ALL_RULES)


def violations_day_and_night(screen: Screen) -> list[str]:
    """The same, and what the dark scheme's colours add; a page opened in the light."""
    found = violations(screen)
    screen.page.emulate_media(color_scheme="dark")
    found += [f"by night {each}" for each in _found(screen, COLOURS)]
    screen.page.emulate_media(color_scheme="light")
    return found


def _found(screen: Screen, rules: dict[str, Any]) -> list[str]:
    # Without `preload`, which fetches the style sheets again for a rule that is not asked for.
    options = {"runOnly": rules, "resultTypes": ["violations"], "preload": False}
    return [f"{screen.page.url} {each}" for each in screen.page.evaluate(_RUN, options)]
