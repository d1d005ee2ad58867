"""A screen, a phone's mostly: what a person sees, types and presses."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

import pytest
from django.utils import timezone
from playwright.sync_api import ConsoleMessage, Locator, Page, Request, Response, ViewportSize

PHONE: ViewportSize = {"width": 390, "height": 844}
DESK: ViewportSize = {"width": 1280, "height": 800}
# For a test that is run on a phone and at a desk; it takes `size`.
ON_BOTH_SCREENS = pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
# The long ones: with scripts at a desk, and on a phone where none run.
WITH_SCRIPTS_AND_WITHOUT = pytest.mark.parametrize(
    ("scripts", "size"),
    [(True, DESK), (False, PHONE)],
    ids=["desk-with-scripts", "phone-without-scripts"],
)

# What a browser says of a page it was refused or did not find. The test sees the status itself.
_PAGE_STATUS = re.compile(r"^Failed to load resource: the server responded with a status of 4\d\d")


@dataclass
class Watch:
    """Everything that was wrong with any page, in words."""

    found: list[str] = field(default_factory=list)
    # Words of what a test brings about on purpose.
    meant: set[str] = field(default_factory=set)

    def over(self, page: Page) -> None:
        page.on("console", self._console)
        page.on("pageerror", lambda error: self._note(f"{page.url}: {error}"))
        page.on("requestfailed", self._failed)
        page.on("response", self._response)

    def _note(self, fault: str) -> None:
        if not any(words in fault for words in self.meant):
            self.found.append(fault)

    def _console(self, message: ConsoleMessage) -> None:
        about_the_page = (
            message.page is not None
            and message.location["url"] == message.page.url
            and _PAGE_STATUS.match(message.text)
        )
        if message.type in {"error", "warning"} and not about_the_page:
            self._note(f"{message.location['url']}: {message.text}")

    def _failed(self, request: Request) -> None:
        # A second press of a button breaks off the first one's wait, and leaving a page what it
        # was still asking for.
        waits = request.is_navigation_request() or request.resource_type in {"xhr", "fetch"}
        broken_off = waits and request.failure == "net::ERR_ABORTED"
        if not broken_off:
            self._note(f"{request.url}: {request.failure}")

    def _response(self, response: Response) -> None:
        if response.status >= 500:
            self._note(f"{response.url}: answered {response.status}")

    def width(self, page: Page) -> None:
        """A page is as wide as its screen: nobody scrolls sideways to read or type."""
        wide = page.evaluate("document.documentElement.scrollWidth")
        if page.viewport_size is not None and wide > page.viewport_size["width"]:
            self._note(f"{page.url}: {wide} px wide")


def typed(days_ago: int, clock: str) -> str:
    """That time of a day some days ago, as a phone's date and time box takes it."""
    day = timezone.localdate() - dt.timedelta(days=days_ago)
    return f"{day}T{clock}"


def _called(label: str) -> re.Pattern[str]:
    """A control's label, whether or not it says that it is needed."""
    return re.compile(rf"^\s*{re.escape(label)}(\s+needed)?\s*$")


@dataclass
class Screen:
    """One page open in one browser."""

    page: Page
    watch: Watch

    # Going about ------------------------------------------------------------------------

    def open(self, address: str) -> int:
        """Go to an address; its status."""
        answer = self.page.goto(address)
        assert answer is not None
        self.watch.width(self.page)
        return answer.status

    def log_in(self, username: str, password: str = "living culture 7") -> None:
        self.open("/")
        self.write("User name", username)
        self.write("Password", password)
        self.press("Log in")

    def follow(self, words: str) -> None:
        """Press the link that says exactly this, unfolding what hides it."""
        link = self.main.get_by_role("link", name=words, exact=True, include_hidden=True).first
        if not link.is_visible():
            self.main.get_by_text("More to record", exact=True).click()
        with self.leaving():
            link.click()

    def press(self, words: str) -> None:
        """Press the button that says exactly this."""
        with self.leaving():
            self.main.get_by_role("button", name=words, exact=True).click()

    @contextmanager
    def leaving(self) -> Iterator[None]:
        """Do what leads to another page, and wait until that one stands.

        A page that has loaded answers every question at once, also just before it goes: without
        waiting for the next one, the old page would be asked on a slow machine. The next one may
        also be put in its place by a script, so the old one is marked.
        """
        self.page.evaluate("document.body.setAttribute('data-old', '')")
        yield
        self.page.locator("body:not([data-old])").wait_for(state="attached")
        self.settle()

    def settle(self) -> None:
        self.page.wait_for_load_state()
        self.watch.width(self.page)

    def entry(self, title: str) -> None:
        """From any page to the form of an entry, by the index of them."""
        navigation = self.page.get_by_role("navigation")
        with self.leaving():
            navigation.get_by_role("link", name="Record", exact=True).click()
        self.follow(title)

    def lot(self, code: str) -> None:
        """To a lot, by its code typed into the box on every page."""
        self.look_up(code)
        assert self.heading == code

    def look_up(self, words: str) -> None:
        """Type into the box on every page and press its button."""
        self.page.get_by_label("Find", exact=True).first.fill(words)
        with self.leaving():
            self.page.get_by_role("search").get_by_role("button", name="Open").click()

    # Writing ----------------------------------------------------------------------------

    @property
    def main(self) -> Locator:
        return self.page.locator("main")

    def row(self, title: str, number: int) -> Locator:
        return self.main.get_by_role("group", name=f"{title}, row {number}", exact=True)

    def control(self, label: str, within: Locator | None = None) -> Locator:
        """The control of that label, unfolded."""
        control = (within or self.main).get_by_label(_called(label))
        while not control.is_visible():
            control.locator("xpath=ancestor::details[not(@open)]/summary").last.click()
        return control

    def write(self, label: str, value: str | bool, within: Locator | None = None) -> None:
        """Type, choose, tap or tick, whichever the control is for."""
        answers = (within or self.main).get_by_role("group", name=_called(label))
        if answers.get_by_role("radio").count():
            answers.get_by_role("radio", name=str(value), exact=True).check()
            return
        control = self.control(label, within)
        kind = control.evaluate("element => element.type")
        if isinstance(value, bool):
            control.set_checked(value)
        elif kind == "select-one":
            control.select_option(label=value)
        else:
            control.fill(value)

    def write_all(self, fields: dict[str, str | bool], within: Locator | None = None) -> None:
        for label, value in fields.items():
            self.write(label, value, within)

    def value(self, label: str, within: Locator | None = None) -> str:
        return self.control(label, within).input_value()

    # Reading ----------------------------------------------------------------------------

    @property
    def heading(self) -> str:
        return self.page.locator("h1").inner_text()

    @property
    def text(self) -> str:
        """All words of the page, one space between."""
        return " ".join(self.main.inner_text().split())

    @property
    def said(self) -> str:
        """What the page says was done."""
        return " ".join(" ".join(self.page.get_by_role("status").all_inner_texts()).split())

    @property
    def errors(self) -> list[str]:
        """The list on top of a form of what is to be mended."""
        listed = self.page.locator("#errors li").all_inner_texts()
        return [" ".join(each.split()) for each in listed]

    def table(self, title: str) -> list[list[str]]:
        """The body of the table under that heading: its cells, row by row."""
        section = self.main.get_by_role("region", name=title, exact=True)
        rows = section.locator("tbody tr").all()
        return [
            [" ".join(cell.split()) for cell in row.locator("th, td").all_text_contents()]
            for row in rows
        ]

    def download(self, words: str) -> bytes:
        """The paper behind the link that says exactly this."""
        link = self.main.get_by_role("link", name=words, exact=True)
        answer = self.page.context.request.get(str(link.get_attribute("href")))
        assert answer.status == 200
        assert answer.headers["content-type"] == "application/pdf"
        return answer.body()

    def trace_rows(self) -> list[list[str]]:
        """Every lot made from the one whose trace is open."""
        section = self.main.locator("section[aria-labelledby=forward-title]")
        return [
            row.locator("th, td").all_text_contents() for row in section.locator("tbody tr").all()
        ]
