"""Cards and blank papers in the browser, and the way back from a paper to its entry."""

from __future__ import annotations

import pytest
from django.urls import reverse

from compliance.documents.paper_forms import CODES
from tests import factories
from tests.compliance.documents.papers import codes_of

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("typed", ["P-READ", " p-read ", "p-Read"])
def test_a_paper_code_in_the_box_opens_its_entry(browse, operator, typed):
    page = browse(operator).client.get(reverse("find"), {"q": typed})
    assert page["Location"] == reverse("entry", args=["reading"])


def test_the_code_of_a_round_opens_a_round_that_asks_when_it_was_read(browse, operator):
    jar = factories.vessel(operator, "Jar 1")
    lot = factories.culture(operator, vessel=jar, when=factories.now(-5))
    browser = browse(operator)

    address = browser.client.get(reverse("find"), {"q": "P-ROUND"})["Location"]

    assert address == f"{reverse('round')}?paper=1"
    asked = {"when", "done_by", "reason", "instrument", "sample_temperature"}
    assert asked <= set(browser.open(address).fields)
    assert f"row-{lot.pk}-value" in browser.open(address).fields


def test_a_lot_of_that_code_comes_first(browse, operator):
    factories.ingredient_lot(operator, code="P-READ")
    page = browse(operator).client.get(reverse("find"), {"q": "P-READ"})
    assert page["Location"] == reverse("lot-detail", args=["P-READ"])


def test_the_page_lists_every_code_and_the_record_page_leads_to_it(browse, operator):
    browser = browse(operator)
    assert browser.open(reverse("entry-index")).links["Paper forms"] == reverse("papers")
    page = browser.open(reverse("papers"))
    assert all(code in page.text for code in CODES)
    assert page.links["Print the whole set"] == reverse("paper-pdf", args=["set"])


def test_the_code_on_the_paper_leads_to_this_address(browse, operator):
    pdf = browse(operator).client.get(reverse("paper-pdf", args=["cleaning"]))
    assert pdf["Content-Disposition"] == 'inline; filename="paper-cleaning.pdf"'
    assert [code.text for code in codes_of(pdf.content, 203)] == [
        "http://testserver/find/?q=P-CLEAN"
    ]


@pytest.mark.parametrize(("key", "query"), [("nothing", {}), ("set", {"paper": "foolscap"})])
def test_a_paper_there_is_not_is_not_found(browse, operator, key, query):
    assert browse(operator).client.get(reverse("paper-pdf", args=[key]), query).status_code == 404


def test_cards_are_offered_where_there_are_some(browse, operator):
    starter = factories.culture(operator)
    vessel = factories.vessel(operator)
    batch = factories.batch(operator, starter=starter, vessel=vessel)
    browser = browse(operator)
    page = browser.open(reverse("lot-detail", args=[starter.code]))
    card = browser.client.get(page.links["Card"])
    texts = {code.text for code in codes_of(card.content, 203)}
    assert texts == {f"http://testserver/lots/{starter.code}/", starter.code}
    assert "Card" not in browser.open(reverse("lot-detail", args=[batch.code])).links
    page = browser.open(reverse("vessel-detail", args=[vessel.pk]))
    assert browser.client.get(page.links["Card (PDF)"]).status_code == 200
