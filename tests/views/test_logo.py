"""The page that chooses the brewery's logo shows the one there is."""

from __future__ import annotations

import re

import pytest
from django.core.files.storage import default_storage

from brewlog.domain import people
from brewlog.logo import logo_bytes
from brewlog.models import Brewery
from tests.factories import picture

pytestmark = pytest.mark.django_db

ADDRESS = "/record/logo/"


def test_it_says_that_papers_go_without_one(browse, manager):
    assert "Papers and labels go without a logo" in browse(manager).open(ADDRESS).text


def test_the_logo_is_shown_with_who_chose_it_whatever_else_changed_since(browse, manager):
    people.set_logo(actor=manager, reason="a new sign", logo=picture(200, 100))
    other = people.add_person(
        actor=manager, username="bea", name="Bea Moss", role="manager", password="tea for two 22"
    )
    people.change_brewery(actor=other, reason="shorter", name="Salt")
    browser = browse(manager)

    page = browser.open(ADDRESS)

    [source] = re.findall(r'<img src="([^"]+)"', page.response.content.decode())
    sent = b"".join(browser.client.get(source).streaming_content)
    assert sent == logo_bytes(Brewery.objects.get().logo.name)
    assert f"by {manager}" in page.text
    assert "Bea Moss" not in page.text


def test_a_logo_whose_file_is_gone_is_named(browse, manager):
    people.set_logo(actor=manager, reason="a new sign", logo=picture(200, 100))
    default_storage.delete(Brewery.objects.get().logo.name)

    page = browse(manager).open(ADDRESS)

    assert f"Its file is gone: {Brewery.objects.get().logo.name}" in page.text
    assert "<img" not in page.response.content.decode()
