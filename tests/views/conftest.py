"""Browsers logged in as someone, and pages read as a person reads them."""

from __future__ import annotations

import copy
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

import pytest
from django.test import Client

MARKER = "INVALID["


@dataclass
class Page:
    """A response taken apart: its words, links, tables, fields and buttons."""

    response: Any
    text: str = ""
    links: dict[str, str] = field(default_factory=dict)  # words -> address
    rows: list[list[str]] = field(default_factory=list)  # of all tables, heads too
    fields: dict[str, str] = field(default_factory=dict)  # name -> value as it would be sent
    ids: set[str] = field(default_factory=set)

    @property
    def status(self) -> int:
        return self.response.status_code


class _Reader(HTMLParser):
    """Enough of a browser to read a page and send back its forms."""

    def __init__(self) -> None:
        super().__init__()
        self.page = Page(None)
        self.words: list[str] = []
        self.open_link: tuple[str, int] | None = None
        self.open_cell: int | None = None
        self.select: str | None = None
        self.is_first_option = False
        self.area: tuple[str, int] | None = None
        self.elsewhere = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        got = {name: value or "" for name, value in attrs}
        if "id" in got:
            self.page.ids.add(got["id"])
        if tag == "a":
            self.open_link = (got.get("href", ""), len(self.words))
        elif tag == "tr":
            self.page.rows.append([])
        elif tag in {"td", "th"}:
            self.open_cell = len(self.words)
        elif tag == "form":
            self.elsewhere = "find" in got.get("class", "")
        elif self.elsewhere:
            # The box for a lot code is on every page and part of no other form.
            return
        elif tag == "input" and got.get("type") not in {"submit", "button", "file"}:
            if got.get("type") not in {"checkbox", "radio"} or "checked" in got:
                ticked = "on" if got.get("type") == "checkbox" else ""
                self.page.fields[got.get("name", "")] = got.get("value", ticked)
        elif tag == "select":
            self.select = got["name"]
            self.is_first_option = True
            self.page.fields[self.select] = ""
        elif tag == "option" and self.select:
            # Where nothing is selected a browser sends the first of the list.
            if self.is_first_option or "selected" in got:
                self.page.fields[self.select] = got["value"]
            self.is_first_option = False
        elif tag == "textarea":
            self.area = (got["name"], len(self.words))

    def handle_endtag(self, tag: str) -> None:
        if tag == "a" and self.open_link:
            address, start = self.open_link
            self.page.links[self._since(start)] = address
            self.open_link = None
        elif tag in {"td", "th"} and self.open_cell is not None:
            self.page.rows[-1].append(self._since(self.open_cell))
            self.open_cell = None
        elif tag == "select":
            self.select = None
        elif tag == "textarea" and self.area:
            name, start = self.area
            self.page.fields[name] = "".join(self.words[start:]).removeprefix("\n")
            self.area = None
        if tag in {"td", "th", "dt", "dd", "li", "p", "h1", "h2", "h3", "label"}:
            self.words.append(" ")

    def handle_data(self, data: str) -> None:
        if not self.select:
            self.words.append(data)

    def _since(self, start: int) -> str:
        return " ".join("".join(self.words[start:]).split())


def read(response: Any) -> Page:
    """Take a page apart; a variable its template does not know fails the test."""
    body = response.content.decode()
    assert MARKER not in body, body[body.index(MARKER) :][:80]
    reader = _Reader()
    reader.feed(body)
    page = reader.page
    page.response = response
    page.text = " ".join("".join(reader.words).split())
    page.rows = [row for row in page.rows if row]
    return page


@dataclass
class Browser:
    """A browser with someone logged in, without scripts."""

    client: Client

    def open(self, address: str, **query: Any) -> Page:
        return read(self.client.get(address, query))

    def send(self, address: str, form: dict[str, Any], follow: bool = True) -> Page:
        return read(self.client.post(address, form, follow=follow))

    def fill(self, address: str, **typed: Any) -> dict[str, Any]:
        """The form at an address as it opens, with these fields typed into."""
        return dict(self.open(address).fields) | typed


@pytest.fixture
def strict_templates(settings):
    """Templates show a marker for every variable they do not know."""
    templates = copy.deepcopy(settings.TEMPLATES)
    templates[0]["OPTIONS"]["string_if_invalid"] = MARKER + "%s]"
    settings.TEMPLATES = templates


@pytest.fixture
def browse(strict_templates, brewery):
    """`browse(person)`: a browser with that person logged in."""

    def as_someone(person) -> Browser:
        client = Client()
        client.force_login(person)
        return Browser(client)

    return as_someone
