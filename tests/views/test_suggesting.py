"""Counts suggested in the bottling form: planned ones only, nothing recorded."""

from __future__ import annotations

import pytest
from django.urls import reverse

from brewlog.models import BottlingLot
from tests import factories as make

pytestmark = pytest.mark.django_db

BOTTLE = reverse("entry", args=["bottle"])
SUGGEST = {"suggest": "1"}


@pytest.fixture
def typed(browse, operator, manager):
    """The bottling form with a batch, its amount and two flavours, before anything is counted."""
    make.batch(manager, "60 L", code="B7")
    make.flavour(manager, "Plain")
    make.flavour(manager, "Ginger")
    make.bottle_format(manager, "Bottle", rating="rated", rated_bar=6)
    return browse(operator).fill(
        BOTTLE,
        **{
            "draws-0-source": "B7",
            "draws-0-quantity": "33 L",
            "outputs-0-flavour": "Plain",
            "outputs-0-format": "Bottle",
            "outputs-1-flavour": "Ginger",
            "outputs-1-format": "Bottle",
        },
    )


def planned(page):
    return [page.fields[f"outputs-{number}-planned_count"] for number in (0, 1)]


def test_each_flavour_gets_an_equal_share(browse, operator, typed):
    page = browse(operator).send(BOTTLE, typed | SUGGEST)

    assert planned(page) == ["50", "50"]
    assert "100 bottles, 0.00 L left over." in page.text


def test_a_planned_count_that_stands_is_kept_and_actual_ones_are_never_filled_in(
    browse, operator, typed
):
    form = typed | {"outputs-0-planned_count": "12", "outputs-0-count": "11"}

    page = browse(operator).send(BOTTLE, form | SUGGEST)

    assert planned(page) == ["12", "50"]
    assert page.fields["outputs-0-count"] == "11"
    assert page.fields["outputs-1-count"] == ""


def test_nothing_is_recorded_and_what_was_typed_is_kept(browse, operator, typed):
    form = typed | {"note": "windy day", "outputs-0-label_version": "2026-2"}

    page = browse(operator).send(BOTTLE, form | SUGGEST)

    assert not BottlingLot.objects.exists()
    assert page.fields["note"] == "windy day"
    assert page.fields["outputs-0-label_version"] == "2026-2"
    assert page.fields["form_token"] == typed["form_token"]


def test_juice_typed_for_a_flavour_leaves_drink_for_more(browse, operator, manager, typed):
    juice = make.ingredient_lot(manager, "5 L")
    form = typed | {
        "additions-0-source": juice.code,
        "additions-0-quantity": "1.65 L",
        "additions-0-flavour": "Ginger",
    }

    page = browse(operator).send(BOTTLE, form | SUGGEST)

    # 16.5 L of drink each; with 1.65 L of juice the ginger fills 55 bottles.
    assert planned(page) == ["50", "55"]


@pytest.mark.parametrize(
    ("name", "what"),
    [("Bottle 330 mL", "bottles"), ("Crown cap", "Crown cap"), ("Front label", "Front label")],
)
def test_no_more_than_the_packaging_on_hand(browse, operator, manager, typed, name, what):
    packaging = make.ingredient(manager, name, kind="packaging", dimension="count")
    lot = make.ingredient_lot(manager, "60", of=packaging)

    page = browse(operator).send(BOTTLE, typed | {"additions-0-source": lot.code} | SUGGEST)

    assert sum(int(count) for count in planned(page)) == 60
    assert f"Short of {'Bottle bottles' if what == 'bottles' else what}: 40 more" in page.text


def test_bottles_called_like_their_format_limit_that_format_only(browse, operator, manager, typed):
    make.bottle_format(manager, "Swing-top", "750 mL")
    empty = make.ingredient(manager, "Bottle, brown", kind="packaging", dimension="count")
    lot = make.ingredient_lot(manager, "20", of=empty)
    form = typed | {"outputs-1-format": "Swing-top", "additions-0-source": lot.code}

    page = browse(operator).send(BOTTLE, form | SUGGEST)

    # Of the 33 L, 18 of 330 mL and 36 of 750 mL leave 0.06 L; 20 and 35 would leave 0.15 L.
    assert planned(page) == ["18", "36"]


@pytest.mark.parametrize(
    ("missing", "said"),
    [
        ({"draws-0-quantity": ""}, "Write the batch and how much is drawn of it"),
        ({"draws-0-quantity": "some"}, "Write the batch and how much is drawn of it"),
        (
            {"outputs-0-format": "", "outputs-1-format": ""},
            "Choose at least one flavour with its format",
        ),
        ({"outputs-0-fill": "300 mL"}, "stands here with two fills"),
    ],
)
def test_what_is_missing_is_said_in_words(browse, operator, typed, missing, said):
    page = browse(operator).send(BOTTLE, typed | missing | SUGGEST)

    assert page.status == 200
    assert said in page.text
    assert planned(page) == ["", ""]


def test_the_plan_page_takes_over_what_was_typed(browse, operator, typed):
    page = browse(operator).send(BOTTLE, typed | SUGGEST)

    plan = browse(operator).open(page.links["make the whole bottling plan"])

    assert plan.fields["drink"] == "33 L"
    assert plan.fields["batch"] == "B7"
    assert plan.fields["flavours-1-flavour"] == "Ginger"
    assert plan.fields["formats-0-format"] == "Bottle"


def test_the_plan_leads_back_to_the_form_with_its_counts_as_planned(browse, operator, typed):
    page = browse(operator).send(BOTTLE, typed | SUGGEST)
    address = page.links["make the whole bottling plan"]
    plan = browse(operator).open(f"{address}&work=1&loss=0")

    form = browse(operator).open(plan.links["Open the bottling form with these counts as planned"])

    assert planned(form) == ["50", "50"]
    assert form.fields["outputs-0-count"] == ""
    assert form.fields["draws-0-source"] == "B7"


def test_more_rows_on_the_plan_keep_what_was_typed(browse, operator, typed):
    page = browse(operator).open(
        reverse("calculation", args=["bottling-plan"]),
        **{"drink": "33 L", "work": 1, "add-rows": "flavours", "flavours-rows": 1},
        **{"flavours-0-flavour": "Plain"},
    )

    assert page.fields["flavours-rows"] == "4"
    assert page.fields["flavours-0-flavour"] == "Plain"
    assert page.response.context["answer"] is None


def test_the_button_stands_at_the_bottles_of_the_bottling_form_only(browse, operator):
    assert browse(operator).open(BOTTLE).response.content.count(b'name="suggest"') == 1
    other = browse(operator).open(reverse("entry", args=["feed"]))
    assert b'name="suggest"' not in other.response.content
