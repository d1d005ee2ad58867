"""Stock over time is drawn step by step, or summed up by days where there are many."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone
from reportlab.graphics.shapes import String

from brewlog.charts.picture import LETTERS, NARROW
from brewlog.charts.plot import draw
from brewlog.charts.stock import MOST_STEPS, Planned, span_days, spans, stock_plot
from brewlog.movements import Course, Movement, Step, Way
from brewlog.units import METRIC, US, show_quantity
from brewlog.when import on_day
from tests.charts.rooms import cut_off, written_over

G = 1_000


@pytest.fixture(autouse=True)
def in_lisbon():
    """Its clocks go forward on 29 March 2026 and back on 25 October."""
    with timezone.override("Europe/Lisbon"):
        yield


def day(number: int, month: int = 3) -> dt.datetime:
    return on_day(dt.date(2026, month, 1) + dt.timedelta(days=number - 1)).at


def course(*moved: tuple[dt.datetime, int, int], opening: int = 0, days: int = 400) -> Course:
    """Of moments, changes and what is unexplained of them."""
    there, steps = opening, []
    for at, change, unexplained in moved:
        there += change + unexplained
        movement = Movement(1, at, at, "minute", change, Way.USED, "B1")
        steps.append(Step(movement, there, unexplained))
    return Course(day(1), day(1 + days), opening, tuple(steps))


def plot(found: Course, **given):
    days = span_days(found)
    return stock_plot(
        "On hand",
        found,
        "mass",
        given.pop("system", METRIC),
        lambda amount: show_quantity(amount, "mass"),
        summed=spans(found, days) if days else [],
        **given,
    )


def test_few_steps_are_drawn_one_by_one_and_hold_until_the_next():
    found = course((day(3), 2000 * G, 0), (day(9), -500 * G, 0), opening=1000 * G, days=20)

    drawn = plot(found)

    assert [(point.x, point.y) for point in drawn.points] == [
        (day(1).timestamp(), 1.0),
        (day(3).timestamp(), 3.0),
        (day(9).timestamp(), 2.5),
        (day(21).timestamp(), 2.5),
    ]
    assert (drawn.unit, drawn.is_stepped, drawn.from_nothing) == ("kg", True, True)


def test_amounts_are_in_the_readers_units():
    found = course((day(3), -100 * G, 0), opening=453_592 * 2, days=20)

    assert plot(found, system=US).unit == "lb"
    assert plot(found, system=US).points[0].y == pytest.approx(2.0, abs=1e-4)
    assert plot(found).unit == "g"


def test_many_steps_are_summed_up_by_days_and_lose_nothing():
    moved = [(day(2) + dt.timedelta(hours=5 * n), -G, 0) for n in range(MOST_STEPS + 60)]
    found = course(*moved, opening=1000 * G, days=80)

    summed = spans(found, span_days(found))

    assert span_days(found) == 1
    assert sum(span.left for span in summed) == G * len(moved)
    assert summed[-1].there == found.closing
    assert len({span.day for span in summed}) == len(summed) <= MOST_STEPS


@pytest.mark.parametrize("month", [3, 10])
def test_a_day_on_which_the_clocks_change_is_one_day(month):
    # Every two hours for days, around 29 March or 25 October.
    begin = on_day(dt.date(2026, month, 20)).at
    moved = [(begin + dt.timedelta(hours=n), -1, 0) for n in range(24 * 12)]
    found = Course(begin, begin + dt.timedelta(days=14), 0, course(*moved, opening=500).steps)

    summed = spans(found, 1)

    lengths = {span.day.day: span.left for span in summed}
    changed = 29 if month == 3 else 25
    assert lengths.pop(changed) == (23 if month == 3 else 25)
    assert set(list(lengths.values())[:-1]) == {24}


def test_what_moves_on_the_very_last_moment_is_in_the_last_span():
    found = course((day(2), -G, 0), (day(401), -G, 0), opening=10 * G)

    assert [span.left for span in spans(found, 28)] == [G, G]


def test_an_unexplained_draw_is_named_where_it_was():
    found = course((day(3), -1500 * G, 500 * G), opening=1000 * G, days=20)

    (mark,) = plot(found).marks

    assert (mark.x, mark.words) == (day(3).timestamp(), "more left than was there: 500 g")


def test_what_is_planned_is_a_line_of_its_own():
    found = course((day(3), -G, 0), opening=1000 * G, days=20)

    (line,) = plot(found, planned=Planned(-200 * G)).limits

    assert (line.value, line.binds, line.words) == (0.0, False, "planned: 200 g short")


def test_a_picture_with_everything_on_it_is_legible_on_a_phone():
    moved = [(day(2 + n), -50 * G, 10 * G) for n in range(60)]
    found = course(*moved, opening=3000 * G, days=89)
    drawn = draw(plot(found, planned=Planned(10 * G)), NARROW, LETTERS)

    assert written_over(drawn) == []
    assert cut_off(drawn) == []
    assert any("more left" in each.text for each in drawn.contents if isinstance(each, String))
