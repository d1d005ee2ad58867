"""When a hazard plan has to be looked at again (21 CFR 117.170, from memory)."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from brewlog.domain import lots, recipes
from brewlog.recording import Refused
from brewlog.when import When, now, on_day
from compliance.domain import plans
from compliance.domain.deviations import correct_deviation, open_deviation
from compliance.domain.reanalysis import _years_after, standings
from tests import factories
from tests.compliance.domain import plans as make

pytestmark = pytest.mark.django_db

FOUR_PARTS = {
    "problem_corrected": "emptied",
    "made_less_likely": "lids checked",
    "product_evaluated": "all looked at",
    "kept_out": "locked away",
}


def dues(plan, today=None):
    return standings([plan], today)[plan.pk].due


def texts(plan, today=None):
    return [each.text for each in dues(plan, today)]


def look_again(actor, plan, **changes):
    details = {"because": "new kettle", "found": "it still fits", "password": make.PASSWORD}
    return plans.note_reanalysis(actor=actor, plan=plan, **{**details, **changes})


def in_years(years: int, days: int = 0) -> dt.date:
    return _years_after(timezone.localdate(), years) + dt.timedelta(days=days)


def test_a_plan_just_signed_is_not_due(brewery, manager):
    version = make.signed(manager)

    standing = standings([version.plan])[version.plan.pk]

    assert standing.version == version
    assert standing.due == ()
    assert standing.latest == in_years(3)


def test_a_draft_is_not_due_for_anything(brewery, manager):
    version = make.draft(manager)

    assert dues(version.plan, in_years(9)) == ()


@pytest.mark.parametrize(("days", "is_due"), [(-1, False), (0, True), (1, True)])
def test_it_is_due_three_years_after_it_was_signed(brewery, manager, days, is_due):
    version = make.signed(manager)

    assert bool(dues(version.plan, in_years(3, days))) is is_due


def test_three_years_from_a_leap_day_end_in_february():
    assert _years_after(dt.date(2028, 2, 29), 3) == dt.date(2031, 2, 28)
    assert _years_after(dt.date(2028, 2, 28), 3) == dt.date(2031, 2, 28)


def test_looking_again_begins_the_three_years_anew(brewery, manager, reviewer):
    version = make.signed(manager)
    look_again(reviewer, version.plan)

    assert texts(version.plan, in_years(3, -1)) == []
    (due,) = dues(version.plan, in_years(3))
    assert due.since == in_years(3)


def test_a_recipe_version_approved_since_asks_for_it_until_it_was_looked_at(brewery, manager):
    factories.recipe_version(manager, "Before")
    version = make.signed(manager)
    recipe = factories.recipe_version(manager, "Ginger base", approved=False)

    assert texts(version.plan) == []

    recipes.approve(actor=manager, version=recipe)
    (due,) = dues(version.plan)
    assert due.text.startswith("Recipe version Ginger base v1 was approved since")
    assert due.since == timezone.localdate()

    look_again(manager, version.plan)
    assert texts(version.plan) == []


def test_a_new_version_of_the_plan_answers_too(brewery, manager):
    version = make.signed(manager)
    factories.recipe_version(manager)
    assert len(texts(version.plan)) == 1

    make.sign(manager, plans.copy_version(actor=manager, version=version))

    assert texts(version.plan) == []


@pytest.mark.parametrize(
    ("kind", "asks"),
    [("unanticipated", True), ("limit", False), ("procedure", False), ("complaint", False)],
)
def test_only_what_nobody_had_thought_of_asks_for_it(brewery, manager, kind, asks):
    version = make.signed(manager)
    open_deviation(
        actor=manager,
        kind=kind,
        title="vinegar eels",
        what_happened="seen",
        when=When(timezone.now()),
    )

    assert bool(texts(version.plan)) is asks


def test_a_deviation_of_before_the_signature_does_not_ask(brewery, manager):
    open_deviation(
        actor=manager,
        kind="unanticipated",
        title="eels",
        what_happened="seen",
        when=factories.at(1),
    )

    assert texts(make.signed(manager).plan) == []


def test_a_correction_that_looked_at_the_plan_again_answers_its_deviation(brewery, manager):
    version = make.signed(manager)
    deviation = open_deviation(
        actor=manager,
        kind="unanticipated",
        title="vinegar eels",
        what_happened="seen",
        when=When(timezone.now()),
    )
    assert texts(version.plan)[0].startswith("Nobody had thought of this: vinegar eels")

    correct_deviation(
        actor=manager,
        deviation=deviation,
        password=make.PASSWORD,
        plan_reanalysed=True,
        **FOUR_PARTS,
    )

    assert texts(version.plan) == []


def test_a_voided_deviation_asks_for_nothing(brewery, manager):
    version = make.signed(manager)
    deviation = open_deviation(
        actor=manager,
        kind="unanticipated",
        title="eels",
        what_happened="seen",
        when=When(timezone.now()),
    )
    lots.void(actor=manager, record=deviation, reason="threads of yeast")

    assert texts(version.plan) == []


def test_looking_again_needs_a_plan_in_force_both_parts_and_a_password(brewery, manager):
    plan = make.draft(manager).plan
    with pytest.raises(Refused, match="No version of"):
        look_again(manager, plan)
    version = make.signed(manager, plan)

    with pytest.raises(Refused, match="Write this part too"):
        look_again(manager, plan, found=" ")
    with pytest.raises(Refused, match="not your password"):
        look_again(manager, plan, password="no")
    with pytest.raises(Refused, match="was not signed yet"):
        look_again(manager, plan, when=factories.at(1))
    with pytest.raises(Refused, match="still to come"):
        look_again(manager, plan, when=on_day(timezone.localdate() + dt.timedelta(days=2)))

    assert not version.reanalyses.exists()


def test_it_keeps_what_was_looked_at(brewery, manager):
    version = make.signed(manager)

    entry = look_again(manager, version.plan, when=now(), found="steps 1 to 3; nothing to change")

    assert entry.version == version
    assert "steps 1 to 3; nothing to change" in entry.signature.contents


def test_many_plans_are_asked_in_as_many_queries_as_one(
    brewery, manager, django_assert_num_queries
):
    limit = make.ph_limit(manager)
    found = [make.signed(manager, make.plan(manager, f"Plan {n}"), limit).plan for n in range(4)]

    with django_assert_num_queries(5):
        standings(found[:1])
    with django_assert_num_queries(5):
        standings(found)
