from __future__ import annotations

import io

import pypdf
import pytest
from django.urls import reverse

from brewlog.recording import recording
from tests import factories
from tests.compliance.documents import story as told
from tests.compliance.documents.papers import words_of

PAPERS = ("lot-sheet-pdf", "lot-trace-pdf", "lot-labels-pdf")


@pytest.fixture
def story(brewery, manager):
    return told.tell(manager)


@pytest.mark.parametrize("name", PAPERS)
def test_a_stranger_is_asked_to_log_in(story, client, name):
    response = client.get(reverse(name, args=["L26071A"]))
    assert response.status_code == 302
    assert response["Location"].startswith(reverse("login"))


@pytest.mark.parametrize(
    ("role", "answers"),
    [
        ("operator", (200, 200, 200)),
        ("reviewer", (200, 200, 200)),
        ("manager", (200, 200, 200)),
        ("inspector", (200, 200, 200)),
    ],
)
def test_each_role_gets_its_papers(story, client, role, answers):
    client.force_login(factories.person(role))
    found = [client.get(reverse(name, args=["L26071A"])).status_code for name in PAPERS]
    assert tuple(found) == answers


def test_paper_is_shown_in_the_browser_under_a_name(story, client, operator):
    client.force_login(operator)
    response = client.get(reverse("lot-sheet-pdf", args=["L26071A"]))
    assert response["Content-Type"] == "application/pdf"
    assert response["Content-Disposition"] == 'inline; filename="lot-L26071A.pdf"'
    assert f"by {operator}" in words_of(response.content)


@pytest.mark.parametrize("code", ["A/B 7", "Ç%20?#1", "sheet.pdf", "..", "x.pdf/sheet.pdf", "1+1"])
def test_codes_of_any_letters_reach_their_papers(story, client, operator, code):
    factories.ingredient_lot(story.actor, "1 kg", code=code)
    client.force_login(operator)
    # The test client asks as a browser does: the address is already spelt out.
    response = client.get(reverse("lot-sheet-pdf", args=[code]))
    assert response.status_code == 200
    assert f"Lot {code}, page 1" in words_of(response.content)


def test_an_unknown_code_is_not_found(story, client, operator):
    client.force_login(operator)
    response = client.get(reverse("lot-sheet-pdf", args=["L26071Z"]))
    assert response.status_code == 404
    assert "L26071A" in response.content.decode()


def test_paper_follows_the_country_unless_asked(story, client, operator, brewery):
    client.force_login(operator)
    address = reverse("lot-sheet-pdf", args=["L26071A"])

    def width(response):
        return round(pypdf.PdfReader(io.BytesIO(response.content)).pages[0].mediabox.width)

    assert width(client.get(address)) == 595
    assert width(client.get(address, {"paper": "letter"})) == 612
    with recording(story.actor):
        brewery.reread()
        brewery.country = "United States"
        brewery.save()
    assert width(client.get(address)) == 612


@pytest.mark.parametrize(
    ("name", "asked", "words"),
    [
        ("lot-sheet-pdf", {"paper": "foolscap"}, "There is no paper &#x27;foolscap&#x27;"),
        ("lot-trace-pdf", {"direction": "sideways"}, "There are: forward, backward"),
        ("lot-labels-pdf", {"paper": "roll"}, "There is no paper &#x27;roll&#x27;"),
    ],
)
def test_what_there_is_not_is_answered_in_words(story, client, operator, name, asked, words):
    client.force_login(operator)
    response = client.get(reverse(name, args=["L26071A"]), asked)
    assert response.status_code == 400
    assert words in response.content.decode()


def test_a_symbol_there_is_not_is_refused_in_words(story, client, operator):
    client.force_login(operator)
    response = client.get(reverse("lot-labels-pdf", args=["L26071A"]), {"symbol": "ean"})
    assert response.status_code == 409
    assert "is not a symbol" in response.content.decode()


def test_a_held_lot_has_no_labels(story, client, operator):
    told.hold(story.actor, story.culture)
    client.force_login(operator)
    response = client.get(reverse("lot-labels-pdf", args=["L26071A"]))
    assert response.status_code == 409
    assert "must not be labelled for sale" in response.content.decode()


def test_trace_goes_both_ways(story, client, operator):
    client.force_login(operator)
    address = reverse("lot-trace-pdf", args=["B26061A"])
    assert "Where it went" in words_of(client.get(address).content)
    backward = client.get(address, {"direction": "backward"})
    assert "What it was made from" in words_of(backward.content)


def test_papers_only_answer_reading(story, client, operator):
    client.force_login(operator)
    assert client.post(reverse("lot-sheet-pdf", args=["L26071A"])).status_code == 405


def test_the_recall_page_offers_the_packet_with_what_it_was_asked(story, client, operator):
    client.force_login(operator)
    asked = {"since": "2026-03-13 09:00"}
    shown = client.get(reverse("lot-recall", args=["B26061A"]), asked).content.decode()
    address = reverse("lot-recall-file", args=["B26061A", "pdf"])
    assert f"{address}?since=2026-03-13+09%3A00" in shown
    pdf = client.get(address, asked)
    assert pdf["Content-Disposition"] == 'inline; filename="recall-B26061A.pdf"'
    assert "Suspect since 13 Mar 2026 09:00" in words_of(pdf.content)


@pytest.mark.parametrize(
    ("ending", "media_type"),
    [
        ("xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
        ("zip", "application/zip"),
    ],
)
def test_the_recall_packet_is_taken_along(story, client, operator, ending, media_type):
    client.force_login(operator)
    answer = client.get(reverse("lot-recall-file", args=["B26061A", ending]))
    assert (answer.status_code, answer["Content-Type"]) == (200, media_type)
    assert answer.content[:2] == b"PK"


def test_a_packet_asked_wrongly_says_what_there_is(story, client, operator):
    client.force_login(operator)
    for ending, query, words in (
        ("docx", "", "There are: pdf, xlsx, zip."),
        ("pdf", "?since=soon", "soon"),
        ("pdf", "?run=77", "There is no recall question 77 of B26061A."),
    ):
        answer = client.get(reverse("lot-recall-file", args=["B26061A", ending]) + query)
        assert answer.status_code == 400
        assert words in answer.content.decode()
