"""The box on every page: straight to what a code names, or everything that matches."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from brewlog.domain import lots
from brewlog.gs1 import check_digit
from brewlog.views.nouns import FURTHER_LISTINGS, LISTINGS
from brewlog.views.search import lookup_label
from tests import factories as make

pytestmark = pytest.mark.django_db

GTIN = "9520123456788"


def _straight(browse, person, typed):
    response = browse(person).client.get(reverse("find"), {"q": typed})
    return response.headers.get("Location", "")


def _found(page) -> list[tuple[str, str]]:
    """Each match with why, in the order shown."""
    said = page.response.context["groups"]
    return [(row.name.text, "; ".join(row.why)) for group in said for row in group.rows]


@pytest.fixture
def bottles(manager):
    flavour = make.flavour(manager, "Ginger", label_name="Kombucha with ginger", gtin=GTIN)
    return make.bottles(manager, flavour=flavour)


@pytest.mark.parametrize("typed", ["{}", " {} ", "lower"])
def test_a_typed_code_leads_straight_to_its_lot(browse, operator, manager, typed):
    batch = make.batch(manager)
    typed = batch.code.lower() if typed == "lower" else typed.format(batch.code)

    assert _straight(browse, operator, typed) == reverse("lot-detail", args=[batch.code])


def test_a_code_only_a_voided_lot_had_leads_to_it(browse, operator, manager):
    lot = make.ingredient_lot(manager)
    lots.void(actor=manager, record=lot, reason="written twice")

    assert _straight(browse, operator, lot.code).endswith(f"?entry={lot.pk}")


def test_a_vessels_code_leads_to_what_is_in_it(browse, operator, manager):
    batch = make.batch(manager, vessel=make.vessel(manager, "Tank 4"))
    empty = make.vessel(manager, "Tank 5")

    assert _straight(browse, operator, "tank 4") == reverse("lot-detail", args=[batch.code])
    assert _straight(browse, operator, "Tank 5") == reverse("vessel-detail", args=[empty.pk])


def test_a_vessel_that_holds_several_lots_by_the_books_leads_to_itself(browse, operator, manager):
    jar = make.vessel(manager, "Jar 1")
    make.culture(manager, vessel=jar)
    make.culture(manager, vessel=jar)

    assert _straight(browse, operator, "jar 1") == reverse("vessel-detail", args=[jar.pk])


@pytest.mark.parametrize(
    "scan",
    [
        "]C101{gtin}10{code}",
        "]d201{gtin}10{code}\x1d15270227",
        "01{gtin}10{code}15270227",
        "(01){gtin}(10){code}",
        "https://id.gs1.org/01/{gtin}/10/{code}",
        "]A0{code}",
    ],
)
def test_a_scan_leads_straight_to_its_lot(browse, operator, bottles, scan):
    typed = scan.format(gtin=GTIN.rjust(14, "0"), code=bottles.code)

    assert _straight(browse, operator, typed) == reverse("lot-detail", args=[bottles.code])


def test_a_scan_of_another_product_does_not_lead_to_a_lot_of_the_same_code(
    browse, operator, bottles
):
    other = "0952012345679" + check_digit("0952012345679")

    page = browse(operator).open(reverse("find"), q=f"]C101{other}10{bottles.code}")

    assert f"Scanned: lot {bottles.code} of GTIN {other}. No lot of ours is that." in page.text
    assert page.links[bottles.code] == reverse("lot-detail", args=[bottles.code])


def test_a_suppliers_case_leads_to_what_was_received_of_it(browse, operator, manager):
    lot = make.ingredient_lot(manager, supplier_code="TW-4471")

    page = browse(operator).open(reverse("find"), q="]C10119520123456785" + "10TW-4471")

    assert _found(page) == [(lot.code, "Supplier's lot code: TW-4471")]


def test_a_retail_code_leads_to_its_flavour(browse, operator, bottles):
    page = browse(operator).open(reverse("find"), q=f"]E0{GTIN}")

    assert ("Ginger", "") in _found(page)


def test_a_scan_that_cannot_be_read_says_why(browse, operator):
    page = browse(operator).open(reverse("find"), q="]C10119520123456786" + "10A")

    assert "check digit of (01) 19520123456786 does not fit: scan it again" in page.text


def test_what_matches_is_grouped_the_best_first_and_says_why_where_it_does_not_show(
    browse, operator, manager, bottles
):
    larder = make.customer(manager, "Ginger Larder")
    sent = make.shipment(manager, bottles, "5", larder)

    found = _found(browse(operator).open(reverse("find"), q="ginger"))

    assert found[0] == ("Ginger", "")
    assert (bottles.code, "") in found
    assert (sent.number, "") in found
    assert ("Ginger Larder", "") in found


def test_all_the_words_have_to_be_there(browse, operator, manager):
    supplier = make.supplier(manager, "Hill Farm")
    lot = make.ingredient_lot(manager, supplier=supplier, document_number="DN-1882")

    found = _found(browse(operator).open(reverse("find"), q="farm 1882"))

    assert found == [(lot.code, "Document number: DN-1882")]
    assert _found(browse(operator).open(reverse("find"), q="farm 1999")) == []


def test_of_many_the_best_are_shown_and_the_list_has_the_rest(browse, operator, manager):
    for number in range(9):
        make.supplier(manager, f"Hill {number}")

    page = browse(operator).open(reverse("find"), q="hill")

    assert len(_found(page)) == 6
    address = page.links["All that match in suppliers"]
    assert len(browse(operator).open(address).rows) == 10


def test_nothing_that_matches_brings_what_is_near(browse, operator, manager):
    batch = make.batch(manager)
    make.customer(manager, "Corner Larder")

    by_code = browse(operator).open(reverse("find"), q=f"{batch.code[:-1]}Z9")
    by_name = browse(operator).open(reverse("find"), q="Korner Lardr")

    assert by_code.links[batch.code] == reverse("lot-detail", args=[batch.code])
    assert "Corner Larder (customers)" in by_name.links


def test_nothing_typed_says_what_can_be(browse, operator):
    assert "Type or scan any code" in browse(operator).open(reverse("find"), q="  ").text


def test_it_asks_as_much_whatever_there_is(browse, operator, manager):
    browser = browse(operator)
    counted = []
    for more in (1, 20):
        for _ in range(more):
            make.use(
                manager,
                make.ingredient_lot(manager, supplier_code="AB-1"),
                make.brew(manager),
                "1 g",
                purpose="ingredient",
            )
        with CaptureQueriesContext(connection) as queries:
            browser.open(reverse("find"), q="AB-1")
        counted.append(len(queries))

    assert counted[0] == counted[1]


def test_every_field_sought_is_searched_by_its_list_too_and_has_words():
    for listing in (*LISTINGS, *FURTHER_LISTINGS):
        assert set(listing.sought) <= set(listing.search), listing.noun
        model = listing.queryset().model
        assert all(lookup_label(model, lookup) for lookup in listing.sought)
