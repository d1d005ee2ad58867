"""The pages of the other logs and of complaints."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from brewlog.models import ReviewFlag
from compliance.models import Complaint, Deviation, LogEntry
from tests import factories
from tests.compliance.domain.test_logs import WHOLE, complain, write

pytestmark = pytest.mark.django_db


def entry(slug: str) -> str:
    return reverse("entry", args=[slug])


@pytest.mark.parametrize("log", LogEntry.Log.values)
def test_an_operator_writes_each_log_and_finds_it_in_the_list(browse, operator, log):
    browser = browse(operator)
    address = entry(f"log-{log}")

    page = browser.send(address, browser.fill(address, what="as planned", **WHOLE[log]))

    (kept,) = LogEntry.objects.all()
    assert (kept.log, kept.subject, kept.is_good) == (log, WHOLE[log]["subject"], True)
    assert "as planned" in page.text
    (row,) = browser.open("/logs/", log=log).rows[1:]
    assert WHOLE[log]["subject"] in row


def test_what_is_not_as_it_should_be_asks_what_was_done(browse, operator):
    browser = browse(operator)
    address = entry("log-sanitiser")
    form = browser.fill(address, what="caps", **WHOLE["sanitiser"])
    del form["is_good"]

    assert "write what was done about it" in browser.send(address, form).text
    assert not LogEntry.objects.exists()
    browser.send(address, form | {"note": "mixed anew"})
    assert not LogEntry.objects.get().is_good


def test_the_list_is_narrowed_searched_and_downloaded(browse, operator, client):
    write(operator, "water")
    write(operator, "pest", is_good=False, note="box moved")
    browser = browse(operator)

    assert len(browser.open("/logs/", good="no").rows) == 2
    assert len(browser.open("/logs/", q="tap").rows) == 2
    assert len(browser.open("/logs/").rows) == 3
    client.force_login(operator)
    sheet = client.get("/logs/download.csv", {"q": "tap"}).content.decode()
    assert "tap 2" in sheet
    assert "bait box" not in sheet


@pytest.mark.parametrize(("who", "answer"), [("operator", 200), ("inspector", 403)])
def test_an_inspector_reads_the_logs_and_writes_none(browse, operator, who, answer, request):
    write(operator)
    browser = browse(request.getfixturevalue(who))

    assert browser.open(entry("log-cleaning")).status == answer
    assert "filler" in browser.open("/logs/").text


def test_a_complaint_stands_on_the_lots_page_and_leads_to_its_trace(browse, operator):
    lot = factories.bottles(operator)
    browser = browse(operator)
    address = f"{entry('complaint')}?lot={lot.code}"

    form = browser.fill(address, kind="injury", said_by="Corner shop", what="a bottle burst")
    page = browser.send(address, form)

    assert page.links["Trace it"] == reverse("lot-trace", args=[lot.code])
    assert page.links["Who else has it"] == reverse("lot-recall", args=[lot.code])
    assert "Deviation opened" in page.text
    assert ReviewFlag.objects.filter(lot=lot).exists()
    assert Deviation.objects.get().lots.get().lot_id == lot.pk
    page = browser.open(reverse("lot-detail", args=[lot.code]))
    assert "1 complaint" in page.text
    assert "a bottle burst" in page.text


def test_a_lot_without_complaints_does_not_speak_of_them(browse, operator):
    lot = factories.bottles(operator)

    assert "omplaint" not in browse(operator).open(reverse("lot-detail", args=[lot.code])).text


def test_what_came_of_it_is_a_reviewers_word(browse, operator, reviewer):
    (complaint,) = complain(operator, lot=factories.bottles(operator))
    address = f"{entry('complaint-outcome')}?complaint={complaint.pk}"

    assert browse(operator).open(address).status == 403
    browser = browse(reviewer)
    page = browser.send(address, browser.fill(address, outcome="within limits, told the shop"))

    assert "answered" in page.text
    assert Complaint.objects.get().outcome == "within limits, told the shop"


def test_the_lists_take_the_same_queries_for_one_row_and_for_three(browse, operator):
    lot = factories.bottles(operator)
    browser = browse(operator)
    counts = []
    for more in (1, 2):
        for _ in range(more):
            write(operator, vessel=factories.vessel(operator))
            complain(operator, lot=lot, customer=factories.customer(operator))
        for address in ("/logs/", "/complaints/"):
            with CaptureQueriesContext(connection) as queries:
                browser.open(address)
            counts.append(len(queries))

    assert counts == [10, 9, 10, 9]
