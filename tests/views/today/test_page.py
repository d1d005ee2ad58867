"""The start page as a whole: whom it concerns, how much of it, in which order."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test import RequestFactory
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from brewlog.domain import batches, line, lots, stock
from brewlog.models import User
from brewlog.recording import recording
from brewlog.views.today.page import groups_for
from tests import factories as make
from tests.views.today.settling import HOME

pytestmark = pytest.mark.django_db


def _kind(slug: str) -> str:
    return reverse("today-kind", args=[slug])


def test_nothing_to_do_says_so_and_where_to_begin(browse, operator, manager):
    make.ingredient_lot(manager)

    page = browse(operator).open(HOME)

    assert "Nothing needs doing now." in page.text
    assert page.links["Begin a batch"] == reverse("entry", args=["batch"])


def test_the_gravest_stands_first(browse, manager):
    make.ingredient_lot(manager, accepted=False)
    batches.plan_batch(actor=manager, when=make.now(-1))
    make.bottles(manager, 60, when=make.now(-3))
    lot = make.bottles(manager, 60, when=make.now(-3), carbonation="still")
    make.shipment(manager, lot, "24", when=make.now(-2))
    make.hold(manager, lot, "foreign", make.now(-1))

    text = browse(manager).open(HOME).text

    order = [
        "Shipped, and held since",
        "Bottles standing warm",
        "Held, waiting for a decision",
        "Batches to fill",
        "Deliveries to accept or reject",
    ]
    places = [text.index(each) for each in order]
    assert places == sorted(places)


def test_each_role_sees_what_concerns_it(browse, operator, reviewer, manager, inspector):
    lot = make.ingredient_lot(manager, "1 kg", when=make.now(-3))
    brew = make.brew(manager, when=make.now(-2))
    make.use(manager, lot, brew, "2 kg", make.now(-2), purpose="ingredient")
    make.hold(reviewer, lot, "other", make.now(-1))
    make.recipe_version(manager, "House green", approved=False)

    seen = {
        person: browse(person).open(HOME) for person in (operator, reviewer, manager, inspector)
    }

    settle, decide = f"Settle it: {lot.code}", f"Decide: {lot.code}"
    approve = "Approve it: House green v1"
    offered = {
        person: [button for button in (settle, decide, approve) if button in page.links]
        for person, page in seen.items()
    }
    assert offered == {
        operator: [],
        reviewer: [settle, decide],
        manager: [settle, decide, approve],
        inspector: [],
    }
    told = ["Held, waiting for a decision", "Needs a look", "Recipes to approve"]
    shown = {person: [each for each in told if each in page.text] for person, page in seen.items()}
    assert shown == {
        operator: told[:1],
        reviewer: told[:2],
        manager: told,
        inspector: told,
    }


def test_an_inspector_is_offered_no_form(browse, inspector, manager):
    _one_of_everything(manager)

    page = browse(inspector).open(HOME)

    assert "Bottles standing warm" in page.text
    assert [url for url in page.links.values() if "/record/" in url] == []


def test_a_few_of_a_kind_stand_on_the_page_and_all_of_them_behind_it(browse, operator, manager):
    tea = make.ingredient(manager)
    codes = [make.ingredient_lot(manager, of=tea, accepted=False).code for _ in range(19)]

    browser = browse(operator)
    page = browser.open(HOME)

    assert [code for code in codes if f"Accept it: {code}" in page.links] == codes[:5]
    assert page.links["and 14 more"] == _kind("deliveries")
    everything = browser.open(_kind("deliveries"))
    assert "19 now" in everything.text
    assert [code for code in codes if code in everything.links] == codes


def test_very_many_of_a_kind_stand_on_pages_of_fifty(browse, manager):
    _flags(manager, 51)
    browser = browse(manager)

    first, second = browser.open(_kind("flags")), browser.open(_kind("flags"), page="2")

    assert ("51 now" in first.text, "51 now" in second.text) == (True, True)
    assert (first.text.count("Other: number"), second.text.count("Other: number")) == (50, 1)


def test_a_kind_with_nothing_in_it_says_so(browse, operator):
    assert "Nothing of this kind waits now." in browse(operator).open(_kind("planned")).text


def test_there_is_no_list_of_what_is_no_kind(browse, operator):
    assert browse(operator).open(_kind("nonsense")).status == 404


@pytest.mark.parametrize("then", ["https://elsewhere.example/", "//elsewhere.example/", "nowhere"])
def test_a_form_never_leads_out_of_the_house(browse, operator, manager, then):
    lot = make.ingredient_lot(manager, accepted=False)
    accept = reverse("entry", args=["accept"])
    browser = browse(operator)

    form = browser.fill(accept, lot=lot.code, then=then) | {"reason": "sound", "then": then}
    page = browser.send(accept, form)

    assert page.response.redirect_chain == [(reverse("lot-detail", args=[lot.code]), 302)]


def _one_of_everything(manager) -> None:
    """A line more of each kind the records alone bring."""
    today = timezone.localdate()
    batch = make.batch(manager, when=make.now(-10), recipe=make.recipe_version(manager))
    make.reading(manager, batch, "4", make.now(-5), measurand="brix")
    lot = make.bottles(manager, 60, batch, "20 L", make.now(-4))
    line.keep_bottles(
        actor=manager, lot=lot, count=2, kept="cold", pull_on=today, when=make.now(-3)
    )
    stock.adjust(
        actor=manager,
        lot=lot,
        quantity=make.quantity("1"),
        why="sample",
        reference="NQ",
        when=make.now(-3),
    )
    batches.plan_batch(
        actor=manager,
        when=make.now(-1),
        recipe=make.recipe_version(manager),
        planned=make.quantity("60 L"),
    )
    make.ingredient_lot(manager, accepted=False, best_before=today + dt.timedelta(days=2))
    meter = make.instrument(manager, calibrate_every_days=7)
    make.calibration(manager, meter, when=make.now(-8), due_on=today)
    make.hold(manager, make.bottles(manager, 9, when=make.now(-2)), "other", make.now(-1))
    make.recipe_version(manager, approved=False)


def _queries(person, brewery) -> int:
    """What gathering the lines takes, whatever else stands on the page."""
    request = RequestFactory().get(HOME)
    request.user, request.brewery = User.objects.get(pk=person.pk), brewery
    with CaptureQueriesContext(connection) as captured:
        groups_for(request)
    return len(captured)


def test_the_lines_take_the_same_queries_however_many_there_are(manager, brewery):
    _one_of_everything(manager)
    first = _queries(manager, brewery)
    for _ in range(2):
        _one_of_everything(manager)
    third = _queries(manager, brewery)
    _flags(manager, 6)
    # Where not all of a kind stand on the page, they are counted.
    counted = _queries(manager, brewery)
    _flags(manager, 300)

    assert (first, third, counted, _queries(manager, brewery)) == (62, 62, 63, 63)


def _flags(manager, count: int) -> None:
    batch = make.batch(manager)
    with recording(manager):
        for number in range(count):
            lots.flag(batch, "other", f"number {number}")
