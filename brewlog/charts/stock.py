"""What there was of something over time, as a picture and as rows that say the same."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from django.utils import timezone

from brewlog.charts.plot import Curve, LimitLine, Mark, Plot, Point
from brewlog.charts.scales import Axis
from brewlog.movements import Course, Step
from brewlog.units import UnitSystem, fitting_unit, in_unit
from brewlog.when import on_day

# More than these are not read one by one: days, weeks... are summed up.
MOST_STEPS = 90
_SPANS = (1, 7, 28, 91, 364)

UNEXPLAINED = "more left than was there"
KEY = "The line holds until something came or left. Dotted: more left than the books had."


@dataclass(frozen=True)
class Span:
    """What came and left before `until`, since the span before; what there was at its end."""

    day: dt.date
    until: dt.datetime
    came: int
    left: int
    there: int
    unexplained: int


def span_days(course: Course) -> int:
    """How many days are summed up so that there are not too many; 0 where each step is told."""
    if len(course.steps) <= MOST_STEPS:
        return 0
    days = (course.until - course.since) / dt.timedelta(days=1)
    return next((each for each in _SPANS if days / each <= MOST_STEPS), _SPANS[-1])


def spans(course: Course, days: int) -> list[Span]:
    """The spans of so many days in which anything moved, by the brewery's calendar."""
    found = []
    there = course.opening
    for day, until, steps in _divided(course, days):
        if steps:
            changes = [step.movement.change for step in steps]
            there = steps[-1].there
            found.append(
                Span(
                    day,
                    until,
                    sum(change for change in changes if change > 0),
                    -sum(change for change in changes if change < 0),
                    there,
                    sum(step.unexplained for step in steps),
                )
            )
    return found


def _divided(course: Course, days: int) -> Iterator[tuple[dt.date, dt.datetime, list[Step]]]:
    """The last day of each span, the moment it ends, and the steps in it."""
    steps = list(reversed(course.steps))
    day = timezone.localtime(course.since).date()
    while steps:
        day += dt.timedelta(days=days)
        until = min(on_day(day).at, course.until)
        inside = []
        while steps and (steps[-1].movement.at < until or until == course.until):
            inside.append(steps.pop())
        yield day - dt.timedelta(days=1), until, inside


@dataclass(frozen=True)
class Planned:
    """What would be left after what is planned, less than nothing where it is short."""

    left: int


def stock_plot(
    title: str,
    course: Course,
    dimension: str,
    system: UnitSystem,
    words: Callable[[int], str],
    *,
    summed: list[Span],
    planned: Planned | None = None,
) -> Plot:
    """The course with its unexplained draws, and what planned batches would leave.

    `words` tells an amount. Where there are spans, each is a value; else each step is.
    """
    highest = max([course.opening, *(step.there for step in course.steps)])
    unit = fitting_unit(highest, dimension, system)

    def point(at: dt.datetime, amount: int) -> Point:
        return Point(at.timestamp(), in_unit(amount, dimension, unit), "", words(amount))

    changed = (
        [(each.until, each.there, each.unexplained) for each in summed]
        if summed
        else [(step.movement.at, step.there, step.unexplained) for step in course.steps]
    )
    points = [
        point(course.since, course.opening),
        *(point(at, there) for at, there, _ in changed),
        point(course.until, course.closing),
    ]
    return Plot(
        title,
        unit,
        "",
        (Curve(title, tuple(points)),),
        axis=Axis.DATES,
        zone=timezone.get_current_timezone_name(),
        limits=(_planned_line(planned, course, dimension, unit, words),) if planned else (),
        marks=tuple(
            Mark(at.timestamp(), f"{UNEXPLAINED}: {words(amount)}", "")
            for at, _, amount in changed
            if amount
        ),
        key=KEY if course.unexplained else "",
        least_height=1.0,
        is_stepped=True,
        from_nothing=True,
    )


def _planned_line(
    planned: Planned, course: Course, dimension: str, unit: str, words: Callable[[int], str]
) -> LimitLine:
    """A short line at the end of the picture."""
    start, end = course.since.timestamp(), course.until.timestamp()
    height = in_unit(max(0, planned.left), dimension, unit)
    left = f"{words(planned.left)} left" if planned.left >= 0 else f"{words(-planned.left)} short"
    return LimitLine(height, f"planned: {left}", start=start + 0.6 * (end - start), binds=False)
