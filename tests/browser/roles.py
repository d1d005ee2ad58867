"""What a page offers to whoever looks at it, and what is refused to them without its page."""

from __future__ import annotations

from tests.browser.screen import Screen


def ways_to_write(screen: Screen) -> list[str]:
    """Links to forms that record, and buttons that send one."""
    links = screen.page.locator('a[href*="/record/"], a[href$="/void/"], a[href$="/correct/"]')
    buttons = screen.page.locator("main form[method=post] button")
    return [*links.all_text_contents(), *buttons.all_text_contents()]


def is_refused(screen: Screen, address: str, **fields: str) -> bool:
    """Send a form without its page, with a valid token of the session: is it not for the role?"""
    cookies = {cookie["name"]: cookie["value"] for cookie in screen.page.context.cookies()}
    answer = screen.page.context.request.post(
        address,
        form={**fields, "csrfmiddlewaretoken": cookies["csrftoken"]},
        headers={"Referer": screen.page.url},
    )
    return answer.status == 403 and "Not for your role" in answer.text()
