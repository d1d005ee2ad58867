from __future__ import annotations

import pytest
from django.utils import timezone

from brewlog.trace import scope
from tests.trace.plants import day, hour

pytestmark = pytest.mark.django_db


def marks(found) -> dict[str, str]:
    """Each lot's code with when the material came, or the draw that was before it."""
    return {
        each.facts.code: str(each.arrived)
        if each.arrived
        else "before: "
        + "; ".join(f"{draw.source.code} {draw.drawn} < {draw.arrived}" for draw in each.earlier)
        for each in found.lots
    }


@pytest.fixture
def vessel(plant):
    """X goes into a vessel at hour 10."""
    x, vessel = plant.batch(40, code="X"), plant.batch(60, code="V")
    plant.use(x, vessel, 40, hour(10), added=40)
    return vessel, x


def test_what_was_drawn_before_stays_in_the_scope_with_the_two_times(plant, vessel):
    drink, x = vessel
    plant.use(drink, plant.bottles(1, code="EARLY"), 20, hour(9))
    plant.use(drink, plant.bottles(1, code="LATE"), 20, hour(11))

    assert marks(scope(x)) == {
        "X": "2026-03-01 00:00",
        "V": "2026-03-01 10:00",
        "EARLY": "before: V 2026-03-01 09:00 < 2026-03-01 10:00",
        "LATE": "2026-03-01 11:00",
    }


def test_a_draw_at_the_same_minute_counts_as_carried(plant, vessel):
    drink, x = vessel
    plant.use(drink, plant.bottles(1, code="TIE"), 20, hour(10))

    assert [each.facts.code for each in scope(x).drawn_before] == []


def test_a_draw_known_to_the_same_day_counts_as_carried(plant, vessel):
    drink, x = vessel
    plant.use(drink, plant.bottles(1, code="SAME DAY"), 20, day(0))
    plant.use(drink, plant.bottles(1, code="DAY BEFORE"), 20, day(-1))

    assert [each.facts.code for each in scope(x).drawn_before] == ["DAY BEFORE"]


def test_the_day_is_the_brewerys_day(plant, vessel):
    """At UTC+11 hour 10 is nine in the evening of 1 March: the draw of that day overlaps.

    At UTC-11 it is 11 at night of the 28th of February, and a draw of the 28th overlaps.
    """
    drink, x = vessel
    with timezone.override("Pacific/Pago_Pago"):
        plant.use(drink, plant.bottles(1, code="FEBRUARY"), 20, day(-1))
        found = scope(x)

    assert [each.facts.code for each in found.drawn_before] == []


def test_what_was_made_from_an_early_draw_is_before_too(plant, vessel):
    drink, x = vessel
    early, later = plant.batch(20, code="EARLY"), plant.bottles(1, code="FROM EARLY")
    plant.use(drink, early, 20, hour(9))
    plant.use(early, later, 20, hour(50))

    assert marks(scope(x))["FROM EARLY"] == "before: EARLY 2026-03-03 02:00 < None"


def test_one_way_that_carries_is_enough(plant, vessel):
    drink, x = vessel
    blend = plant.bottles(1, code="BLEND")
    plant.use(drink, blend, 10, hour(9))
    plant.use(drink, blend, 10, hour(12))
    plant.use(x, blend, 1, hour(11))

    found = {each.facts.code: each for each in scope(x).lots}
    assert str(found["BLEND"].arrived) == "2026-03-01 11:00"
    assert found["BLEND"].earlier == ()
    assert found["BLEND"].distance == 1


def test_material_leaves_a_lot_no_sooner_than_it_came_there(plant, vessel):
    """V to W on day 0, some time: not before X came at ten. W was drawn from at nine."""
    drink, x = vessel
    w, bottles = plant.batch(20, code="W"), plant.bottles(1, code="FROM W")
    plant.use(drink, w, 20, day(0))
    plant.use(w, bottles, 10, hour(9))

    assert [each.facts.code for each in scope(x).drawn_before] == ["FROM W"]


def test_since_the_last_good_check_marks_the_draws_before_it(plant):
    x = plant.batch(100, code="X")
    plant.use(x, plant.bottles(1, code="GOOD"), 20, hour(9))
    plant.use(x, plant.bottles(1, code="DOUBTFUL"), 20, hour(30))

    assert [each.facts.code for each in scope(x).drawn_before] == []
    found = scope(x, since=hour(24))
    assert marks(found) == {
        "X": "2026-03-02 00:00",
        "GOOD": "before: X 2026-03-01 09:00 < 2026-03-02 00:00",
        "DOUBTFUL": "2026-03-02 06:00",
    }
    assert found.ids == {each.facts.lot_id for each in found.lots}


def test_a_scope_is_two_queries_however_large(django_assert_num_queries, plant, vessel):
    drink, x = vessel
    with django_assert_num_queries(2):
        scope(x)
    for _ in range(3):
        plant.use(drink, plant.bottles(1), 10)
    with django_assert_num_queries(2):
        assert len(scope(x).lots) == 5
