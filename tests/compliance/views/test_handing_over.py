"""The pages of what is handed over: asked for, looked at, taken along."""

from __future__ import annotations

import io
import json
import zipfile

import openpyxl
import pytest
from django.urls import reverse

from tests import factories
from tests.compliance.documents import story as told

EVERYTHING = {"first": "2026-01-01", "last": "2026-12-31"}


@pytest.fixture
def story(brewery, manager):
    return told.tell(manager)


def page(browser, slug: str, **asked: str):
    return browser.get(reverse("hand-over", args=[slug]), asked)


def file_of(browser, slug: str, ending: str, **asked: str):
    return browser.get(reverse("hand-over-download", args=[slug, ending]), asked)


def test_the_page_of_all_records_leads_here(client, inspector, brewery):
    client.force_login(inspector)
    assert reverse("hand-over-index") in client.get(reverse("records")).content.decode()
    index = client.get(reverse("hand-over-index")).content.decode()
    assert reverse("hand-over", args=["organic"]) in index
    assert reverse("archive") not in index


def test_a_page_shows_the_first_rows_and_says_how_many_more(client, story):
    for number in range(60):
        factories.ingredient_lot(story.actor, when=factories.at(3), code=f"MANY-{number}")
    client.force_login(story.actor)
    shown = page(client, "traceability", **EVERYTHING).content.decode()
    assert "MANY-0" in shown
    assert "MANY-59" not in shown
    assert "And 14 more rows, in the file." in shown


def test_the_file_is_of_what_the_page_asked(client, story):
    client.force_login(story.actor)
    asked = {"lot": "b26061a", "way": "forward", **EVERYTHING}
    shown = page(client, "traceability", **asked)
    assert "lot=b26061a" in shown.content.decode()
    book = openpyxl.load_workbook(
        io.BytesIO(file_of(client, "traceability", "xlsx", **asked).content)
    )
    assert book["Receiving"].max_row == 1
    assert book["Shipping"].max_row == 2
    said = json.loads(file_of(client, "traceability", "json", **asked).content)
    assert said["asked"] == ("lot B26061A and what was made from it; 2026-01-01 to 2026-12-31")


def test_events_are_counted_on_the_page_and_whole_in_the_file(client, story):
    client.force_login(story.actor)
    assert "commissioning" in page(client, "events", **EVERYTHING).content.decode()
    answer = file_of(client, "events", "jsonld", **EVERYTHING)
    assert answer.headers["Content-Type"] == "application/ld+json"
    assert json.loads(answer.content)["type"] == "EPCISDocument"


@pytest.mark.parametrize("slug", ["traceability", "events", "organic", "alcohol"])
def test_nothing_in_the_period_says_so(client, story, slug):
    client.force_login(story.actor)
    shown = page(client, slug, first="2030-01-01").content.decode()
    assert "<table" not in shown or slug == "organic"
    assert "Noth" in shown or "No alcohol" in shown


def test_what_cannot_be_read_is_said_and_kept(client, story):
    client.force_login(story.actor)
    asked = {"lot": "NONE", "first": "2026-05-01", "last": "2026-04-01"}
    for answer, status in (
        (page(client, "traceability", **asked), 200),
        (file_of(client, "traceability", "xlsx", **asked), 400),
    ):
        shown = answer.content.decode()
        assert answer.status_code == status
        assert "No lot has the code &#x27;NONE&#x27;" in shown
        assert "This day is before the first." in shown
        assert 'value="NONE"' in shown


def test_what_is_not_there_is_not_found(client, story):
    client.force_login(story.actor)
    assert page(client, "nothing").status_code == 404
    assert file_of(client, "organic", "docx").status_code == 404


def test_the_manager_takes_the_whole_archive(client, story):
    client.force_login(story.actor)
    assert "changepassword" in client.get(reverse("archive")).content.decode()
    answer = client.get(reverse("archive-download"))
    with zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content))) as parts:
        assert "tables/brewlog_lot.jsonl" in parts.namelist()


@pytest.mark.parametrize("slug", ["traceability", "organic", "alcohol"])
def test_who_asks_for_paper_has_a_pdf(client, story, slug):
    client.force_login(story.actor)
    answer = file_of(client, slug, "pdf", **EVERYTHING)
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")
