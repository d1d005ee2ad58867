"""Which control points a record serves, and what was recorded for each."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from brewlog.domain import batches, checkpoints
from brewlog.when import When, on_day
from compliance.domain.monitoring import control_points_for, monitored, serves
from compliance.domain.plans import steps_of
from tests import factories
from tests.compliance.assessment import helpers
from tests.compliance.domain import plans as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def bottles(manager):
    return factories.bottles(manager)


def just_now() -> When:
    return When(timezone.now())


def test_a_reading_serves_the_step_whose_limit_is_about_it(manager, bottles):
    version = make.signed(manager)

    reading = factories.reading(manager, bottles, when=just_now(), stage="finished")

    (step,) = control_points_for(reading)
    assert (step.step, step.version) == ("finished", version)


@pytest.mark.parametrize(
    ("stage", "number"), [("finished", 1), ("shelf", 1), ("storage", 1), ("bottling", 0)]
)
def test_the_stage_decides_as_it_does_for_the_limit(manager, bottles, stage, number):
    make.signed(manager)

    reading = factories.reading(manager, bottles, when=just_now(), stage=stage)

    assert len(control_points_for(reading)) == number


def test_another_measurand_or_another_kind_of_lot_does_not_serve(manager, bottles):
    make.signed(manager)
    warm = factories.reading(
        manager, bottles, "21 °C", just_now(), measurand="temperature", stage="finished"
    )
    of_batch = factories.reading(manager, factories.batch(manager), when=just_now())

    assert control_points_for(warm) == []
    assert control_points_for(of_batch) == []


def test_what_was_read_before_the_plan_was_signed_serves_nothing(manager, bottles):
    make.signed(manager)

    reading = factories.reading(manager, bottles, when=factories.at(21), stage="finished")

    assert control_points_for(reading) == []


def test_a_reading_serves_the_version_that_was_in_force_then(manager, bottles):
    first = make.signed(manager)
    reading = factories.reading(manager, bottles, when=just_now(), stage="finished")
    make.signed(manager, first.plan)

    (step,) = control_points_for(reading)

    assert step.version == first


def test_a_draft_is_served_by_nothing(manager, bottles):
    make.draft(manager)

    reading = factories.reading(manager, bottles, when=just_now(), stage="finished")

    assert control_points_for(reading) == []


@pytest.mark.parametrize(("is_cold", "number"), [(True, 1), (False, 0)])
def test_the_temperature_of_a_cold_place_serves_the_limit_on_places(manager, is_cold, number):
    limit = helpers.limit(
        manager, "place_temperature", lot_kind="bottling", operator="<=", value="5"
    )
    place = factories.location(manager, is_cold=is_cold)
    make.signed(manager, steps=[*make.whole_steps(manager), make.step("cold store", limit=limit)])

    reading = checkpoints.record_reading(
        actor=manager, location=place, measurand="temperature", value="4 °C", when=just_now()
    )

    assert len(control_points_for(reading)) == number


def test_steps_looks_and_laboratory_results_serve_their_limits(manager):
    steep = helpers.limit(
        manager, "step_temperature", lot_kind="brew", step="steep", operator=">=", value="74"
    )
    mould = helpers.limit(manager, "condition", lot_kind="culture")
    alcohol = helpers.limit(
        manager, "peak", lot_kind="batch", measurand="alcohol", operator="<", value="0.5"
    )
    brew, culture, batch = (
        factories.brew(manager),
        factories.culture(manager),
        factories.batch(manager),
    )
    hot = batches.record_step(
        actor=manager, lot=brew, kind="steep", when=just_now(), temperature="80"
    )
    (look,) = checkpoints.check_condition(actor=manager, lot=culture, when=just_now())
    result = factories.lab_result(manager, batch, when=just_now())

    table = [[serves(record, limit) for limit in (steep, mould, alcohol)]
             for record in (hot, look, result)]  # fmt: skip
    assert table == [[True, False, False], [False, True, False], [False, False, True]]


def test_a_period_is_counted_step_by_step(manager, bottles, django_assert_num_queries):
    version = make.signed(manager)
    for value in ("3.1", "4.2", "4.21"):
        factories.reading(manager, bottles, value, stage="finished", when=just_now())
    factories.reading(manager, bottles, "3.3", stage="finished", when=factories.at(22))
    steps = steps_of(version)
    today = timezone.localdate()

    with django_assert_num_queries(4):
        found = monitored(steps, on_day(today - dt.timedelta(days=29)), on_day(today))

    first = found[0]
    # 4.2 stands on the line of "at most 4.2"; 4.21 is past it.
    assert (first.count, first.last.value_text, first.outside) == (3, "4.21", 1)
    assert [(each.count, each.outside, each.is_recorded) for each in found[1:]] == [
        (0, None, False),
        (0, None, False),
    ]


def test_mould_seen_is_counted_as_outside(manager):
    limit = helpers.limit(manager, "condition", lot_kind="culture")
    version = make.draft(manager, steps=[make.step(limit=limit)])
    for mould in ("none", "mould"):
        checkpoints.check_condition(
            actor=manager, lot=factories.culture(manager), when=just_now(), mould=mould
        )
    today = timezone.localdate()

    (found,) = monitored(steps_of(version), on_day(today), on_day(today))

    assert (found.count, found.outside) == (2, 1)
