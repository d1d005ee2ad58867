"""The pages of registers and of people: facts, what happened, what can be recorded next."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from brewlog.domain import people, shipping
from brewlog.domain.instruments import Point
from brewlog.views.registers import DETAILS
from tests import factories as make
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db


def _recipe(actor):
    version = make.recipe_version(actor)
    return version.recipe, lambda: make.batch(actor, recipe=version)


def _vessel(actor):
    vessel = make.vessel(actor)
    return vessel, lambda: make.batch(actor, vessel=vessel, already_done=True)


def _ingredient(actor):
    tea = make.ingredient(actor)
    return tea, lambda: make.ingredient_lot(actor, of=tea)


def _supplier(actor):
    supplier = make.supplier(actor)
    return supplier, lambda: make.ingredient_lot(actor, supplier=supplier)


def _instrument(actor):
    meter, batch = make.instrument(actor), make.batch(actor)

    def more():
        make.reading(actor, batch, instrument=meter)
        make.calibration(actor, meter)

    return meter, more


def _buffer_bottle(actor):
    bottle, meter = make.buffer_bottle(actor), make.instrument(actor)
    point = Point(Decimal("4.01"), Decimal("4.02"), None, bottle)
    return bottle, lambda: make.calibration(actor, meter, points=[point])


def _customer(actor):
    shop, bottles = make.customer(actor), make.bottles(actor)
    return shop, lambda: make.shipment(actor, bottles, "2", shop)


def _shipment(actor):
    sent = make.shipment(actor, make.bottles(actor))

    def more():
        line = {"shipment": sent, "lot": make.bottles(actor), "quantity": quantity("2")}
        shipping.add_shipment_line(actor=actor, **line)

    return sent, more


def _location(actor):
    cooler = make.location(actor)
    return cooler, lambda: make.move(actor, make.bottles(actor), "5", cooler)


def _keg(actor):
    keg = make.keg(actor)
    return keg, lambda: make.keg_event(actor, keg, "cleaned")


def _culture_line(actor):
    line = make.culture_line(actor)
    return line, lambda: make.culture(actor, line=line)


def _flavour(actor):
    flavour = make.flavour(actor)
    return flavour, lambda: make.bottles(actor, flavour=flavour)


def _format(actor):
    bottle = make.bottle_format(actor)
    return bottle, lambda: make.bottles(actor, format=bottle)


MAKERS = {
    "recipe": _recipe,
    "vessel": _vessel,
    "ingredient": _ingredient,
    "supplier": _supplier,
    "instrument": _instrument,
    "buffer-bottle": _buffer_bottle,
    "customer": _customer,
    "shipment": _shipment,
    "location": _location,
    "keg": _keg,
    "culture-line": _culture_line,
    "flavour": _flavour,
    "format": _format,
}
NOUNS = [detail.noun for detail in DETAILS]


def test_every_noun_with_a_page_is_tried():
    assert set(MAKERS) == set(NOUNS)


@pytest.mark.parametrize("noun", NOUNS)
def test_a_page_shows_what_happened_and_asks_as_much_for_more_of_it(
    browse, manager, operator, noun
):
    record, more = MAKERS[noun](manager)
    address = reverse(f"{noun}-detail", args=[record.pk])
    browser = browse(operator)
    counted, rows = [], []
    for _ in range(2):
        more()
        more()
        with CaptureQueriesContext(connection) as queries:
            page = browser.open(address)
        assert page.status == 200
        assert str(record) in page.text
        counted.append(len(queries))
        rows.append(len(page.rows))

    assert counted[0] == counted[1]
    assert rows[1] >= rows[0] + 2


@pytest.mark.parametrize("noun", NOUNS)
def test_a_page_is_for_those_who_are_logged_in(browse, manager, inspector, noun):
    record, _ = MAKERS[noun](manager)
    address = reverse(f"{noun}-detail", args=[record.pk])

    page = browse(inspector).open(address)

    assert [url for url in page.links.values() if "/record/" in url] == []
    assert Client().get(address)["Location"].startswith(reverse("login"))
    assert browse(inspector).open(reverse(f"{noun}-detail", args=[999_999])).status == 404


def test_what_is_recorded_next_names_what_it_is_about(browse, operator, manager):
    shop = make.customer(manager, "Corner Larder")

    links = browse(operator).open(reverse("customer-detail", args=[shop.pk])).links

    assert links["Send out or sell"] == f"{reverse('entry', args=['ship'])}?customer=Corner+Larder"
    filled = browse(operator).open(links["Send out or sell"])
    assert filled.fields["customer"] == "Corner Larder"


def test_an_instrument_says_whether_it_can_be_leaned_on(browse, operator, manager):
    meter = make.instrument(manager, calibrate_every_days=14)
    address = reverse("instrument-detail", args=[meter.pk])

    never = browse(operator).open(address).text
    make.calibration(manager, meter, when=at(1))
    overdue = browse(operator).open(address).text
    make.calibration(manager, meter, when=make.now())
    good = browse(operator).open(address).text
    make.calibration(manager, meter, "failed", when=make.now())
    failed = browse(operator).open(address).text

    assert "Calibration never calibrated" in never
    assert "Calibration calibration overdue" in overdue
    assert "Calibration in calibration" in good
    assert "Calibration out of tolerance" in failed


def test_a_vessel_not_fit_for_acid_says_so(browse, operator, manager):
    crock = make.vessel(manager, material="ceramic")

    page = browse(operator).open(reverse("vessel-detail", args=[crock.pk]))

    assert "For acid drink not suitable" in page.text


def test_a_person_shows_the_role_and_its_changes(browse, manager, inspector, operator):
    people.change_role(actor=manager, person=operator, role="reviewer", reason="trained")

    page = browse(inspector).open(reverse("person-detail", args=[operator.pk]))

    assert "Role Reviewer: verifies and decides" in page.text
    assert [row[1:3] for row in page.rows[1:]] == [["operator", "reviewer"]]
    assert operator.password not in page.response.content.decode()


def test_roles_are_changed_by_managers(browse, manager, operator, reviewer):
    address = reverse("person-detail", args=[operator.pk])

    of_manager = browse(manager).open(address).links
    of_reviewer = browse(reviewer).open(address).links

    role = reverse("entry", args=["role"])
    assert of_manager["Change someone's role"] == f"{role}?person={operator.username}"
    assert "Change someone's role" not in of_reviewer


def test_everyone_chooses_their_units(browse, inspector):
    address = reverse("entry", args=["units"])

    page = browse(inspector).send(address, browse(inspector).fill(address, units="us"))

    inspector.refresh_from_db()
    assert inspector.units == "us"
    assert "US customary" in page.text


def test_a_recipe_offers_the_approval_of_its_version_until_it_is_given(browse, manager):
    version = make.recipe_version(manager, "Black tea base", approved=False)
    address = reverse("recipe-detail", args=[version.recipe_id])
    browser = browse(manager)
    approval = browser.open(address).links["Approve a recipe version"]

    browser.send(approval, browser.fill(approval))

    assert "Approve a recipe version" not in browser.open(address).links
