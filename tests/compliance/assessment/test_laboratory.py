"""Limits on how long ago a laboratory last looked."""

from __future__ import annotations

import datetime as dt

import pytest

from brewlog.domain.lots import void
from brewlog.when import on_day
from compliance.decision import Verdict
from tests import factories
from tests.compliance.assessment import helpers

pytestmark = pytest.mark.django_db

FAILS, REVIEW, CLEAR = Verdict.FAILS, Verdict.NEEDS_REVIEW, None
at = factories.at
QUARTER = {"lot_kind": "bottling", "measurand": "alcohol", "operator": "<=", "value": "10",
           "unit": "days"}  # fmt: skip


@pytest.fixture
def recipe(manager, brewery):
    return factories.recipe_version(manager)


@pytest.fixture
def tested(manager, recipe):
    """Another batch of the recipe, which results are of."""
    return factories.batch(manager, recipe=recipe, when=at(1, 12))


@pytest.fixture
def bottles(manager, recipe):
    """Of that recipe, filled on the 20th."""
    batch = factories.batch(manager, recipe=recipe)
    return factories.bottles(manager, batch=batch, drawn="34 L")


@pytest.mark.parametrize(
    ("sign", "taken", "found"),
    [
        ("<=", at(10, 23), CLEAR), ("<=", at(10, 1), CLEAR), ("<=", at(9, 23), FAILS),
        ("<", at(10), FAILS), ("<", at(11), CLEAR),
        ("<=", on_day(dt.date(2026, 3, 10)), CLEAR), ("<=", on_day(dt.date(2026, 3, 9)), FAILS),
        ("<=", at(30), CLEAR), ("<=", at(31), FAILS),  # a later one makes up for it
    ],
)  # fmt: skip
def test_days_to_the_nearest_result_of_the_recipe(manager, bottles, tested, sign, taken, found):
    helpers.limit(manager, "lab_age", **{**QUARTER, "operator": sign})
    factories.lab_result(manager, tested, when=taken)

    assert helpers.verdict(bottles) is found


def test_no_result_of_the_recipe_is_not_known(manager, bottles, tested):
    helpers.limit(manager, "lab_age", **QUARTER)
    factories.lab_result(manager, factories.batch(manager), when=at(19))  # of no recipe
    wrong = factories.lab_result(manager, tested, when=at(19))
    void(actor=manager, record=wrong, reason="another brewery's")

    found = helpers.finding(bottles)
    assert (found.verdict, found.text) == (
        REVIEW, "no laboratory result of its recipe; the limit is ≤ 10 days",
    )  # fmt: skip


def test_one_of_its_own_settles_it_whenever_it_was_taken(manager, bottles):
    helpers.limit(manager, "lab_age", **QUARTER)
    factories.lab_result(manager, bottles, when=at(20, month=6))

    assert helpers.verdict(bottles) is CLEAR


def test_one_of_another_measurand_does_not(manager, bottles, tested):
    helpers.limit(manager, "lab_age", **QUARTER)
    factories.lab_result(manager, bottles, "3.4", when=at(21), measurand="ph")
    factories.lab_result(manager, tested, "3.4", when=at(19), measurand="ph")

    assert helpers.verdict(bottles) is REVIEW


def test_tells_which_result_and_how_old(manager, bottles, tested):
    helpers.limit(manager, "lab_age", **QUARTER)
    factories.lab_result(manager, tested, "0.31", when=at(5))

    found = helpers.finding(bottles)
    assert found.text == "15 days since the nearest laboratory result; the limit is ≤ 10 days"
    assert found.decision.margin == -5
    assert found.evidence[0].text == "alcohol, % vol 0.31, North Quay Laboratory"
