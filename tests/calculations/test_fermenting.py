"""The forecast as pages use it."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from brewlog.calculations import fermenting
from brewlog.domain import batches
from brewlog.domain.lots import void
from brewlog.science.forecast import Status
from tests import factories
from tests.factories import at

pytestmark = pytest.mark.django_db


def batch_falling(actor, days, *, recipe=None, rate=0.25, begun=3):
    batch = factories.batch(actor, recipe=recipe, when=at(begun))
    for day in days:
        ph = 2.95 + 1.35 * math.exp(-rate * day)
        factories.reading(actor, batch, f"{ph:.2f}", when=at(begun + day, 10))
    return batch


def ask(batch, limit="3.5"):
    return fermenting.look_ahead(batch=batch, what="ph", limit=Decimal(limit), room=None)


def test_two_readings_are_too_few_and_that_is_the_answer(operator):
    answer = ask(batch_falling(operator, [0, 2]))

    assert answer.headline.startswith("Too few readings")
    assert len(answer.tables[0].rows) == 2


def test_the_day_found_is_about_where_the_curve_crosses(operator):
    batch = batch_falling(operator, [0, 1, 2, 3, 4])

    found, _ = fermenting.forecast_of(batch, "ph", [3.5])

    # 2.95 + 1.35 exp(-0.25 t) = 3.5 at t = 3.59 days.
    crossing = found.crossings[0]
    assert crossing.earliest_day < 3.6 < crossing.latest_day


def test_earlier_batches_of_the_recipe_narrow_the_interval(manager):
    recipe = factories.recipe_version(manager)
    alone, _ = fermenting.forecast_of(batch_falling(manager, [0, 1, 2], begun=20), "ph", [3.6])
    for begun in (3, 4, 5, 6):
        batch_falling(manager, [0, 1, 2, 3, 5, 7], recipe=recipe, begun=begun)

    found, _ = fermenting.forecast_of(
        batch_falling(manager, [0, 1, 2], recipe=recipe, begun=20), "ph", [3.6]
    )

    assert (alone.earlier_batches, found.earlier_batches) == (0, 4)

    def width(forecast):
        crossing = forecast.crossings[0]
        return (crossing.latest_day or 60.0) - crossing.earliest_day

    assert width(found) < width(alone)


def test_a_batch_that_rises_again_is_flagged_in_words(operator):
    batch = batch_falling(operator, [0, 1, 2, 3])
    factories.reading(operator, batch, "4.40", when=at(8))

    answer = ask(batch)

    assert answer.headline.startswith("No forecast: from pH 3.59 on day 3.0 to pH 4.40 on day 5.0")
    assert "rising" in answer.verdict
    assert any("risen again" in warning for warning in answer.warnings)


def test_a_voided_reading_does_not_count(operator):
    batch = batch_falling(operator, [0, 1])
    extra = factories.reading(operator, batch, "3.40", when=at(6))
    assert fermenting.forecast_of(batch, "ph", [3.2])[0].status is Status.FORECAST

    void(actor=operator, record=extra, reason="other jar")

    assert fermenting.forecast_of(batch, "ph", [3.2])[0].status is Status.TOO_FEW


def test_a_batch_without_starter_has_no_ferment_to_see(operator):
    batch = batches.plan_batch(actor=operator, when=at(3))

    with pytest.raises(ValidationError, match="no starter yet"):
        ask(batch)
