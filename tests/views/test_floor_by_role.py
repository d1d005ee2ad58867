"""Each flow of the floor as each role: whoever may record does it to its end, and stands in it.

What a role may not open is in `tests/test_urls.py`; that nothing is offered that is refused, in
`tests/browser/test_roles.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from django.urls import reverse

from brewlog.models import (
    BottlingLot,
    Brewery,
    Checkpoint,
    LotUse,
    SavedView,
    Shipment,
    Vessel,
)
from compliance.models import Binding, RecallRun, RuleSet
from tests import factories as make
from tests.compliance import rules
from tests.factories import now
from tests.test_urls import count_of_records
from tests.views.conftest import Browser, Page

pytestmark = pytest.mark.django_db

PASSWORD = "living culture 7"


@dataclass
class Plant:
    """What the flows need: a batch in a jar, tea, bottles, a customer, a flavour and a format."""

    batch: Any
    tea: Any
    bottles: Any
    customer: Any
    flavour: Any
    bottle: Any


@pytest.fixture
def plant(manager):
    return Plant(
        batch=make.batch(manager, vessel=make.vessel(manager, "Jar 1"), when=now(-9)),
        tea=make.ingredient_lot(manager, "5 kg"),
        bottles=make.bottles(manager, 100),
        customer=make.customer(manager, "Corner Larder"),
        flavour=make.flavour(manager, "Ginger"),
        bottle=make.bottle_format(manager, "Swing-top"),
    )


def record(browser: Browser, slug: str, **typed: Any) -> Page:
    address = reverse("entry", args=[slug])
    return browser.send(address, browser.fill(address, **typed))


def take_a_reading(browser: Browser, plant: Plant) -> Any:
    record(browser, "reading", lot=plant.batch.code, value="3.31")
    return Checkpoint.objects.get().recorded_by


def use_a_lot(browser: Browser, plant: Plant) -> Any:
    named = {"source": plant.tea.code, "into": plant.batch.code, "purpose": "ingredient"}
    record(browser, "use", quantity="100 g", **named)
    return LotUse.objects.get(source=plant.tea.pk).recorded_by


def bottle(browser: Browser, plant: Plant) -> Any:
    record(
        browser,
        "bottle-one",
        batch=plant.batch.code,
        drawn="10 L",
        flavour=plant.flavour.name,
        format=plant.bottle.name,
        count="30",
    )
    return BottlingLot.objects.get(flavour=plant.flavour).recorded_by


def ship(browser: Browser, plant: Plant) -> Any:
    line = {"lines-0-lot": plant.bottles.code, "lines-0-quantity": "12"}
    record(browser, "ship", customer=plant.customer.name, **line)
    return Shipment.objects.get().recorded_by


def go_round(browser: Browser, plant: Plant) -> Any:
    address = reverse("round")
    typed = {f"row-{plant.batch.pk}-value": "3.28", "save": "all"}
    browser.send(address, browser.fill(address) | typed)
    return Checkpoint.objects.get().recorded_by


def drill(browser: Browser, plant: Plant) -> Any:
    typed = {"lot": plant.batch.code, "kind": "drill", "question": "Who has it?"}
    record(browser, "start-recall", **typed)
    return RecallRun.objects.get().recorded_by


def add_a_vessel(browser: Browser, plant: Plant) -> Any:
    record(browser, "vessel", name="Jar 2", material="glass", capacity="20 L")
    return Vessel.objects.get(name="Jar 2").recorded_by


FLOWS: list[Callable[[Browser, Plant], Any]] = [
    take_a_reading,
    use_a_lot,
    bottle,
    ship,
    go_round,
    drill,
    add_a_vessel,
]
named = pytest.mark.parametrize("flow", FLOWS, ids=lambda flow: flow.__name__)


@named
@pytest.mark.parametrize("role", ["operator", "reviewer", "manager"])
def test_whoever_records_goes_through_it_and_stands_in_it(browse, plant, role, flow):
    person = make.person(role)

    assert flow(browse(person), plant) == person


@pytest.mark.parametrize(
    "slug", ["reading", "use", "bottle", "bottle-one", "ship", "start-recall", "vessel"]
)
def test_an_inspector_comes_to_none_of_it(browse, inspector, plant, slug):
    before = count_of_records()
    client = browse(inspector).client
    address = reverse("entry", args=[slug])

    assert client.get(address).status_code == 403
    assert client.post(address, {"lot": plant.batch.code, "value": "3.3"}).status_code == 403
    assert count_of_records() == before


@pytest.mark.parametrize("role", ["inspector", "operator", "reviewer", "manager"])
def test_everyone_keeps_a_view_of_a_list_for_themselves(browse, plant, role):
    person = make.person(role)
    browser = browse(person)

    page = browser.open(reverse("vessel-list"), q="jar")
    browser.send(page.links["Save this view"], {"name": "Jars"})

    assert SavedView.objects.get().owner == person
    assert "Jar 1" in browser.open(browser.open(reverse("vessel-list")).links["Jars"]).text


@pytest.mark.parametrize("role", ["inspector", "operator", "reviewer", "manager"])
def test_a_drill_is_signed_by_reviewers_and_managers(browse, manager, plant, role):
    run = rules.ask_recall(manager, plant.batch)
    address = f"{reverse('entry', args=['sign-recall'])}?run={run.pk}"
    browser = browse(make.person(role))
    may = role in {"reviewer", "manager"}

    answer = browser.client.get(address)
    if may:
        typed = {"counted": "0", "learnt": "Nothing.", "password": PASSWORD}
        browser.send(address, browser.fill(address, **typed))

    run.refresh_from_db()
    assert answer.status_code == (200 if may else 403)
    assert (run.signature is not None) == may


@pytest.mark.parametrize("role", ["inspector", "operator", "reviewer", "manager"])
def test_the_brewery_is_set_up_by_managers(browse, manager, brewery, role):
    rules.read_in(manager)
    guidance = RuleSet.objects.get(key="kombucha-guidance")
    browser, may = browse(make.person(role)), role == "manager"
    for slug, typed in {
        "brewery": {"name": "Ours now", "reason": "we have a name"},
        "bind-rules": {"ruleset": str(guidance.pk), "since": "2026-01-01"},
    }.items():
        address = reverse("entry", args=[slug])
        if may:
            browser.send(address, browser.fill(address, **typed))
        else:
            assert browser.client.post(address, typed).status_code == 403

    assert (Brewery.objects.get().name == "Ours now") == may
    assert Binding.objects.exists() == may
