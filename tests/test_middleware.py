"""Each request works on the brewery's clock."""

from __future__ import annotations

import pytest
from django.http import HttpResponse, HttpResponseRedirect
from django.utils import timezone

from brewlog.middleware import BreweryMiddleware, SentFromPageMiddleware, brewery_context
from tests import factories


def clock_during(request) -> str:
    seen = []

    def page(asked):
        seen.append(timezone.get_current_timezone_name())
        return HttpResponse()

    BreweryMiddleware(page)(request)
    return seen[0]


def test_a_page_is_made_on_the_brewerys_clock(rf, manager):
    brewery = factories.brewery(manager, "America/Santiago")
    request = rf.get("/")
    assert clock_during(request) == "America/Santiago"
    assert brewery_context(request) == {"brewery": brewery}
    assert timezone.get_current_timezone_name() == "UTC"


def test_a_page_before_set_up_is_made_in_utc(rf, db):
    request = rf.get("/")
    assert clock_during(request) == "UTC"
    assert brewery_context(request) == {"brewery": None}


def test_what_is_asked_with_a_nul_is_asked_without_it(client, manager):
    # PostgreSQL refuses such a text even in a question.
    factories.supplier(manager, "Hill Farm")
    client.force_login(manager)
    answer = client.get("/suppliers/", {"q": "Hill\x00 Farm"})
    assert answer.status_code == 200
    assert "Hill Farm" in answer.text
    assert client.get("/find/", {"q": "\x00B1"}).status_code == 200


def test_an_address_with_a_nul_is_no_address(client, manager):
    client.force_login(manager)
    assert client.get("/lots/B%001/").status_code == 400


@pytest.mark.parametrize(("sent_from", "status"), [("page", 204), ("", 302)])
def test_a_script_is_told_where_what_it_sent_leads_to(rf, sent_from, status):
    request = rf.post("/", headers={"X-Sent-From": sent_from})

    answer = SentFromPageMiddleware(lambda asked: HttpResponseRedirect("/lots/B1/"))(request)

    assert (answer.status_code, answer.headers["Location"]) == (status, "/lots/B1/")


def test_a_script_is_shown_a_page_as_it_is(rf):
    request = rf.post("/", headers={"X-Sent-From": "page"})

    assert SentFromPageMiddleware(lambda asked: HttpResponse("x"))(request).status_code == 200


def test_a_template_outside_any_request_cycle_has_no_brewery(rf):
    assert brewery_context(rf.get("/")) == {"brewery": None}
