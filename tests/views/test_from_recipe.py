"""Rows filled in from the recipe: as planned, oldest lots first, nothing recorded."""

from __future__ import annotations

import pytest
from django.urls import reverse

from brewlog.domain import batches
from brewlog.models import LotUse, RecipeLine
from tests import factories as make
from tests.factories import now, quantity

pytestmark = pytest.mark.django_db

FILL = reverse("entry", args=["fill"])
PITCH = reverse("entry", args=["pitch"])
BREW = reverse("entry", args=["brew"])
SUGGEST = {"suggest": "1"}


@pytest.fixture
def recipe(manager):
    return make.recipe_version(manager, "Black tea")


@pytest.fixture
def tea(recipe):
    return recipe.lines.get(role=RecipeLine.Role.TEA).ingredient


@pytest.fixture
def sugar(manager, recipe):
    return make.ingredient_lot(
        manager, "25 kg", of=recipe.lines.get(role=RecipeLine.Role.SUGAR).ingredient
    )


@pytest.fixture
def batch(manager, recipe):
    return batches.plan_batch(
        actor=manager, when=now(-1), recipe=recipe, planned=quantity("40 L"), code="B1"
    )


@pytest.fixture
def filled_in(browse, operator, batch):
    """The form with what the recipe takes filled in."""
    browser = browse(operator)

    def fill(address=FILL, **typed):
        return browser.send(address, browser.fill(address, **({"batch": "B1"} | typed)) | SUGGEST)

    return fill


def rows(page, lines="lines"):
    """The rows that hold something."""
    count = int(page.fields[f"{lines}-rows"])
    found = [
        (page.fields[f"{lines}-{number}-source"], page.fields[f"{lines}-{number}-quantity"])
        for number in range(count)
    ]
    return [row for row in found if any(row)]


def test_amounts_for_the_planned_volume_come_from_the_oldest_lots(filled_in, manager, tea, sugar):
    second = make.ingredient_lot(manager, "1 kg", of=tea, when=now(-2), code="T2")
    make.ingredient_lot(manager, "150 g", of=tea, when=now(-9), code="T1")
    make.ingredient_lot(manager, "1 kg", of=tea, when=now(-1), code="T3")
    make.ingredient_lot(manager, "300 mg", of=tea, when=now(-20), code="DUST")

    page = filled_in(note="windy day")

    assert rows(page) == [("T1", "150 g"), (second.code, "50 g"), (sugar.code, "2.4 kg")]
    assert "150 g of T1, then 50 g of T2, the oldest there is. Also there: T3." in page.text
    assert page.fields["note"] == "windy day"
    assert not LotUse.objects.exists()


def test_where_remainders_are_all_there_is_they_are_offered_and_the_rest_is_asked_for(
    filled_in, manager, tea, sugar
):
    make.ingredient_lot(manager, "2 g", of=tea, when=now(-20), code="REST")

    page = filled_in()

    assert rows(page) == [("REST", "2 g"), ("", "198 g"), (sugar.code, "2.4 kg")]
    assert "198 g more is not on the books." in page.text


def test_what_is_sent_then_is_what_is_recorded(browse, operator, filled_in, manager, tea, sugar):
    make.ingredient_lot(manager, "1 kg", of=tea, code="T1")
    page = filled_in()

    browse(operator).send(FILL, page.fields | {"lines-0-quantity": "195 g"})

    used = LotUse.objects.order_by("id").values_list("source__code", "quantity_text")
    assert list(used) == [("T1", "195 g"), (sugar.code, "2.4 kg")]


@pytest.mark.parametrize("kept_back", ["waiting", "past its date", "held", "used up"])
def test_a_lot_that_may_not_be_used_is_not_offered(
    filled_in, manager, reviewer, tea, sugar, kept_back
):
    fields = {"waiting": {"accepted": False}, "past its date": {"best_before": now(-2).at.date()}}
    lot = make.ingredient_lot(
        manager, "1 kg", of=tea, when=now(-9), code="T1", **fields.get(kept_back, {})
    )
    if kept_back == "held":
        make.hold(reviewer, lot, cause="other", why="torn sack")
    if kept_back == "used up":
        make.use(manager, lot, make.brew(manager, when=now(-3)), "1 kg", when=now(-3))

    page = filled_in()

    assert rows(page) == [("", "200 g"), (sugar.code, "2.4 kg")]
    assert "no lot of it may be used now" in page.text


def test_what_was_written_stays_and_what_went_in_is_not_asked_again(
    filled_in, manager, batch, tea, sugar
):
    other = make.ingredient_lot(manager, "1 kg", of=tea, code="T9")
    make.use(manager, sugar, batch, "2.4 kg", when=now())

    page = filled_in(**{"lines-0-source": other.code, "lines-0-quantity": "180 g"})

    assert rows(page) == [("T9", "180 g")]


def test_a_vessel_is_filled_from_the_sweet_tea_that_stands_ready(filled_in, manager, recipe):
    tea = make.brew(manager, "60 L", when=now(-1), recipe=recipe)

    page = filled_in()

    assert rows(page) == [(tea.code, "36 L")]


def test_once_the_sweet_tea_is_in_nothing_more_is_filled_in(filled_in, manager, recipe, batch):
    tea = make.brew(manager, "60 L", when=now(-1), recipe=recipe)
    make.use(manager, tea, batch, "36 L", when=now(), purpose="brew")

    page = filled_in()

    assert rows(page) == []
    assert "All of it is written already" in page.text


def test_of_several_starters_none_is_chosen(filled_in, manager):
    first = make.culture(manager, when=now(-5))
    assert rows(filled_in(PITCH)) == [(first.code, "4 L")]

    second = make.culture(manager, when=now(-4))
    page = filled_in(PITCH)

    assert rows(page) == [("", "4 L")]
    assert f"choose which: {first.code}, {second.code}." in page.text
    assert page.fields["quantity"] == ""


def test_a_brew_takes_all_but_the_starter(filled_in, manager, tea, sugar):
    make.ingredient_lot(manager, "1 kg", of=tea, code="T1")

    page = filled_in(BREW, recipe="Black tea v1", planned="100 L", batch="")

    assert rows(page) == [("T1", "500 g"), (sugar.code, "6 kg")]


@pytest.mark.parametrize(
    ("address", "typed", "told"),
    [
        (BREW, {"batch": ""}, "Write the recipe version and the planned volume"),
        (FILL, {"batch": ""}, "Write the batch; the amounts follow"),
        (FILL, {"batch": "B2"}, "B2 was begun without a recipe or a planned volume"),
        (FILL, {"batch": "B3"}, "Green tea v1 is not approved"),
    ],
)
def test_what_is_missing_for_it_is_told(filled_in, manager, address, typed, told):
    batches.plan_batch(actor=manager, when=now(-1), code="B2")
    batches.plan_batch(
        actor=manager,
        when=now(-1),
        code="B3",
        recipe=make.recipe_version(manager, "Green tea", approved=False),
        planned=quantity("10 L"),
        already_done=True,
    )

    page = filled_in(address, **typed)

    assert told in page.text
    assert rows(page) == []


def test_what_the_recipe_takes_stands_beside_the_empty_form(browse, operator, batch):
    page = browse(operator).open(FILL, lot="B1")

    assert "Black tea v1 takes for 40 L: 200 g" in page.text
    assert rows(page) == []
