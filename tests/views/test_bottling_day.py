"""A bottling day on one page: its order, its forms, and that nothing is lost between them."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from brewlog.models import BottlingLot, LineClearance, Move, StockAdjustment, SubmittedForm
from tests import factories as make
from tests.compliance.assessment import helpers

pytestmark = pytest.mark.django_db

DAY = f"{reverse('bottling-day')}?batch=B7"


@pytest.fixture
def batch(manager):
    """A batch with everything at hand to bottle it in two flavours."""
    make.bottles(manager, 10, when=make.now(-9), code="L-LAST", carbonation="still")
    found = make.batch(manager, "60 L", when=make.now(-12), code="B7")
    make.reading(manager, found, "3.15", make.now(-1))
    make.reading(manager, found, "4", make.now(-1), measurand="brix")
    make.flavour(manager, "Plain")
    make.flavour(manager, "Ginger")
    make.bottle_format(manager, "Brown 330", rating="rated", rated_bar=8)
    make.location(manager, "Warm room", kind="warm_room")
    return found


PLAN = {
    "draws-0-quantity": "33 L",
    "outputs-0-flavour": "Plain",
    "outputs-0-format": "Brown 330",
    "outputs-1-flavour": "Ginger",
    "outputs-1-format": "Brown 330",
}


def _ago(minutes: int) -> str:
    """So many minutes ago, as a browser's box for a time is filled in."""
    moment = timezone.localtime() - dt.timedelta(minutes=minutes)
    return f"{moment:%Y-%m-%dT%H:%M}"


def _steps(page) -> dict[str, str]:
    """The word before each step of the page; of a step that stands for each lot, all of them."""
    found: dict[str, Any] = {}
    for part in page.response.context["parts"]:
        for step in part.steps:
            found.setdefault(step.title, []).append(step.shown.text)
    return {title: ", ".join(words) for title, words in found.items()}


def _do(browser, words: str, **typed: Any):
    """Follow a button of the page, type into its form, send it: it leads back here."""
    address = browser.open(DAY).links[words]
    form = browser.open(address).fields | typed
    page = browser.send(address.partition("?")[0], form)
    assert page.response.redirect_chain == [(DAY, 302)], page.text
    return page


def test_the_whole_day(browse, operator, manager, batch):
    helpers.limit(
        manager,
        "presence",
        title="Bottle opened in the second ferment",
        measurand="pressure",
        lot_kind="bottling",
        within_hours=48,
        since="bottled",
    )
    browser = browse(operator)
    page = browser.open(DAY)
    assert "Bottles burst." in page.text
    assert "adds about 0.26 % vol of alcohol" in page.text
    assert _steps(page) == {
        "Read the sugar left, as Brix": "done",
        "Keep back starter, before flavouring": "next",
        "Plan flavours, formats and counts": "to do",
        "Fill, count and record": "to do",
    }

    page = _do(browser, "Keep back starter", quantity="4 L")
    assert "4 L of B7 kept back as S" in page.text
    assert _steps(page)["Plan flavours, formats and counts"] == "next"

    # The plan, and the day is interrupted.
    address = page.links["Make the plan"]
    form = browser.open(address).fields | PLAN
    suggested = browser.send(address.partition("?")[0], form | {"suggest": "1"})
    aside = suggested.fields | {"put-aside": "1"}
    page = browser.send(address.partition("?")[0], aside)
    assert page.response.redirect_chain == [(DAY, 302)]
    assert "Put aside: 50 Plain, Brown 330, 50 Ginger, Brown 330." in page.text
    assert _steps(page)["Fill, count and record"] == "next"
    assert not BottlingLot.objects.filter(flavour__name="Plain").exists()

    # Filled and counted, in the form as it was left.
    page = _do(
        browser,
        "Write the counts",
        when=_ago(30),
        **{"outputs-0-count": "49", "outputs-0-rejects": "1", "outputs-1-count": "48"},
    )
    plain, ginger = BottlingLot.objects.filter(flavour__name__in=["Plain", "Ginger"]).order_by("pk")
    assert (plain.planned_count, plain.made, ginger.planned_count, ginger.made) == (50, 49, 50, 48)
    assert "Put aside" not in page.text
    assert _steps(page)["Line clear of the last flavour"] == "next, to do"

    # The line, between the flavours; the glass.
    kept = {"first_label_kept": "on", "last_label_kept": "on", "when": _ago(20)}
    _do(browser, f"Clear the line: {plain.code}", **kept)
    page = _do(browser, f"Clear the line: {ginger.code}", **kept)
    assert [each.previous.code for each in LineClearance.objects.order_by("pk")] == [
        "L-LAST",
        plain.code,
    ]
    assert "first and last label kept" in page.text
    glass = browser.open(page.links[f"Glass broke: {ginger.code}"]).fields
    cleared = LineClearance.objects.get(lot=ginger)
    assert glass["last_good_check_at"] == f"{cleared.when}".replace(" ", "T")
    broke = {"broken": "1", "set_apart": "6", "cleaned": "line, floor", "when": _ago(10)}
    page = _do(browser, f"Glass broke: {ginger.code}", **broke)
    assert "1 broke" in page.text
    assert "6 set apart" in page.text
    labels = browser.open(page.links[f"Print labels: {plain.code}"]).fields
    assert (labels["lot"], labels["count"]) == (plain.code, "49")
    assert page.links[f"Labels: {plain.code}"] == reverse("lot-labels", args=[plain.code])

    # Read, and into the warm.
    for lot in (plain, ginger):
        _do(browser, f"Take a reading: {lot.code}", value="3.20")
        page = _do(browser, f"Move them there: {lot.code}")
    assert {move.to_location.name for move in Move.objects.all()} == {"Warm room"}
    assert _steps(page)["pH after flavouring"] == "done, done"
    assert _steps(page)["Begin the second ferment, warm"] == "done, done"
    assert f"{plain.code} Bottle opened in the second ferment" in page.text
    assert "47 h left" in page.text

    # Planned and filled, and every litre said.
    assert "98 filled, 100 planned; 0.66 L unexplained." in page.text
    assert "23 L left in the vessel by the books" in page.text
    assert _steps(page)["Where the drink of B7 went"] == "to do"
    page = _do(browser, "Write what became of the rest", why="sediment")
    assert StockAdjustment.objects.get(lot=batch.pk).quantity_text == "23 L"
    assert "23 L: sediment." in page.text
    assert _steps(page)["Where the drink of B7 went"] == "done"
    assert _steps(page)["Labels"] == "next, to do"
    why = browser.open(page.links[f"Say why in the note of {ginger.code}"])
    note = why.fields | {"note": "the last crate was short", "reason": "counted again"}
    browser.send(why.response.request["PATH_INFO"], note)
    assert f"{ginger.code}: the last crate was short" in browser.open(DAY).text


def test_a_form_put_aside_can_be_begun_anew(browse, operator, batch):
    browser = browse(operator)
    address = browser.open(DAY).links["Make the plan"]
    browser.send(
        address.partition("?")[0], browser.open(address).fields | PLAN | {"put-aside": "1"}
    )

    left = browser.open(address)
    assert left.fields["outputs-1-flavour"] == "Ginger"
    assert "not recorded yet" in left.text
    anew = browser.open(left.response.request["PATH_INFO"] + left.links["Begin anew"])

    assert anew.fields["outputs-1-flavour"] == ""
    assert anew.fields["draws-0-source"] == "B7"


def test_a_form_put_aside_is_found_by_everyone_at_those_batches(
    browse, operator, reviewer, manager, batch
):
    make.batch(manager, "20 L", when=make.now(-9), code="B8")
    browser = browse(operator)
    address = browser.open(DAY).links["Make the plan"]
    browser.send(
        address.partition("?")[0], browser.open(address).fields | PLAN | {"put-aside": "1"}
    )

    assert "Put aside:" in browser.open(DAY).text
    assert "Put aside:" not in browser.open(f"{DAY}&batch=B8").text
    found = browse(reviewer).open(DAY)
    assert f"by {operator}." in found.text
    assert browse(reviewer).open(found.links["Open the plan"]).fields["outputs-1-flavour"] == (
        "Ginger"
    )
    assert not SubmittedForm.objects.exists()


@pytest.fixture
def plan(browse, operator, reviewer, batch):
    """A plan put aside by the operator, as both have it open: who sends what of it."""
    address = browse(operator).open(DAY).links["Make the plan"]
    url = address.partition("?")[0]
    first = browse(operator).open(address).fields | PLAN | {"outputs-1-planned_count": "50"}
    browse(operator).send(url, first | ASIDE)
    opened = {who: browse(who).open(address).fields for who in (operator, reviewer)}

    def send(who, **typed):
        return browse(who).send(url, opened[who] | typed)

    send.opened, send.url, send.address = opened, url, address
    return send


ASIDE = {"put-aside": "1"}


def test_what_two_people_plan_in_different_fields_is_kept_together(
    browse, operator, reviewer, plan
):
    plan(reviewer, **ASIDE | {"outputs-1-planned_count": "48"})
    plan(operator, **ASIDE | {"outputs-0-planned_count": "60"})

    kept = browse(operator).open(plan.address).fields
    assert kept["outputs-0-planned_count"] == "60"
    assert kept["outputs-1-planned_count"] == "48"


def test_what_another_planned_in_the_same_field_is_told_and_stands_until_decided(
    browse, operator, reviewer, plan
):
    plan(reviewer, **ASIDE | {"outputs-1-planned_count": "48"})
    told = plan(operator, **ASIDE | {"outputs-1-planned_count": "45"})

    assert f"{reviewer} wrote “48” here at" in told.text
    assert "send it again to put it in place of that" in told.text
    assert told.fields["outputs-1-planned_count"] == "45"
    assert browse(reviewer).open(plan.address).fields["outputs-1-planned_count"] == "48"

    browse(operator).send(plan.url, told.fields | ASIDE)
    assert browse(reviewer).open(plan.address).fields["outputs-1-planned_count"] == "45"


def test_nothing_is_recorded_before_what_another_planned_was_seen(operator, reviewer, browse, plan):
    more = {"outputs-rows": "3", "outputs-2-flavour": "Plain", "outputs-2-format": "Brown 330"}
    plan(reviewer, **ASIDE | more)
    counts = {"outputs-0-count": "49", "outputs-1-count": "48"}
    told = plan(operator, **counts)

    assert f"{reviewer} wrote “Plain” here at" in told.text
    assert told.fields["outputs-2-flavour"] == "Plain"
    assert told.fields["outputs-0-count"] == "49"
    assert not BottlingLot.objects.filter(flavour__name="Plain").exists()

    browse(operator).send(
        plan.url, told.fields | {"outputs-2-count": "3", "draws-0-quantity": "34 L"}
    )
    assert BottlingLot.objects.filter(flavour__name="Plain").count() == 2


def test_a_form_opened_before_anything_was_put_aside_puts_nothing_over_it(
    browse, operator, reviewer, batch
):
    address = browse(operator).open(DAY).links["Make the plan"]
    url = address.partition("?")[0]
    blank = browse(operator).open(address).fields
    browse(reviewer).send(url, browse(reviewer).open(address).fields | PLAN | ASIDE)

    told = browse(operator).send(url, blank | ASIDE | {"outputs-0-flavour": "Ginger"})

    assert f"{reviewer} wrote “Plain” here at" in told.text
    assert told.fields["outputs-0-flavour"] == "Ginger"
    # What stayed empty here is filled in from there.
    assert told.fields["outputs-1-flavour"] == "Ginger"
    assert browse(reviewer).open(address).fields["outputs-0-flavour"] == "Plain"


def test_a_form_kept_while_it_is_typed_says_that_another_wrote_there(
    browse, operator, reviewer, plan
):
    script = {"headers": {"HX-Request": "true"}}
    plan(reviewer, **ASIDE | {"outputs-1-planned_count": "48"})
    client = browse(operator).client

    apart = client.post(plan.address, plan.opened[operator] | ASIDE, **script)
    same = client.post(
        plan.address, plan.opened[operator] | ASIDE | {"outputs-1-planned_count": "45"}, **script
    )

    assert "Somebody else wrote" not in apart.content.decode()
    assert "Somebody else wrote in the same fields" in same.content.decode()
    assert browse(reviewer).open(plan.address).fields["outputs-1-planned_count"] == "48"


def test_the_bare_form_put_aside_is_its_persons_own(browse, operator, reviewer, batch):
    bottle = reverse("entry", args=["bottle"])
    browser = browse(operator)
    browser.send(bottle, browser.open(bottle).fields | PLAN | {"put-aside": "1"})

    assert browser.open(bottle).fields["outputs-0-flavour"] == "Plain"
    assert browse(reviewer).open(bottle).fields["outputs-0-flavour"] == ""


def test_several_batches_are_bottled_together(browse, operator, manager, batch):
    make.batch(manager, "20 L", when=make.now(-9), code="B8")

    browser = browse(operator)
    page = browser.open(f"{DAY}&batch=B8")
    form = browser.open(page.links["Make the plan"]).fields

    assert page.links["Keep back starter of B8"]
    assert (form["draws-0-source"], form["draws-0-quantity"]) == ("B7", "60 L")
    assert (form["draws-1-source"], form["draws-1-quantity"]) == ("B8", "20 L")


def test_what_was_filled_last_time_is_offered_again(browse, operator, manager):
    recipe = make.recipe_version(manager)
    before = make.batch(manager, "40 L", when=make.now(-40), recipe=recipe)
    flint = make.bottle_format(manager, "Flint 750", "750 mL")
    for name in ("Lemon", "Rose"):
        flavour = make.flavour(manager, name)
        make.bottles(manager, 20, before, "16 L", make.now(-30), flavour=flavour, format=flint)
    make.batch(manager, "60 L", when=make.now(-12), code="B7", recipe=recipe)

    browser = browse(operator)
    form = browser.open(browser.open(DAY).links["Make the plan"]).fields

    offered = [form[f"outputs-{row}-{name}"] for row in (0, 1) for name in ("flavour", "format")]
    assert offered == ["Lemon", "Flint 750", "Rose", "Flint 750"]
    assert form["outputs-0-planned_count"] == form["outputs-0-count"] == ""


def test_a_held_batch_is_not_to_be_bottled(browse, operator, reviewer, batch):
    make.hold(reviewer, batch, when=make.now(-1))

    page = browse(operator).open(DAY)

    assert "B7 is kept back" in page.text


def test_an_inspector_sees_how_far_it_is_and_is_offered_no_form(browse, inspector, batch):
    page = browse(inspector).open(DAY)

    assert "Keep back starter, before flavouring" in page.text
    assert [url for url in page.links.values() if "/record/" in url] == []


def test_the_batches_to_choose_from_are_those_with_something_in_the_vessel(
    browse, operator, manager, batch
):
    make.bottles(manager, 60, make.batch(manager, "20 L", code="B-EMPTY"), "20 L")

    page = browse(operator).open(reverse("bottling-day"))

    assert "B7" in page.text
    assert "B-EMPTY" not in page.text


def test_a_code_that_is_no_batch_is_told(browse, operator, batch):
    page = browse(operator).open(f"{reverse('bottling-day')}?batch=B9")

    assert "B9: no batch has that code." in page.text
    assert "B7" in page.text
