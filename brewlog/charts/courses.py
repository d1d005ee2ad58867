"""The course of a lot by its readings: what was read, what happened, which limits it has."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from brewlog.calculations.base import METRIC, Units
from brewlog.calculations.fermenting import Ahead, ahead, beside_earlier
from brewlog.calculations.records import brix_as_g_per_l, instrument_uncertainty
from brewlog.charts.plot import Band, Curve, LimitLine, Mark, Plot, Point
from brewlog.domain.course_limits import LIMITS_OF, CourseLimit
from brewlog.domain.stages import SHIPPED, Happening, pitched
from brewlog.models import Batch, BottlingLot, Checkpoint, Lot, Measurand
from brewlog.science.forecast import Flag, Forecast

# From so many readings on a picture says more than the table.
LEAST_READINGS = 2
# How far ahead of the last reading a forecast is drawn.
_AHEAD_DAYS = 7.0
_HOUR = dt.timedelta(hours=1)


@dataclass(frozen=True)
class _Scale:
    """How a measurand is drawn: its unit, and the least height of its scale."""

    unit: str
    least_height: float


_DRAWN = {
    Measurand.PH: _Scale("pH", 1.0),
    Measurand.BRIX: _Scale("Brix, °Bx", 4.0),
    Measurand.SPECIFIC_GRAVITY: _Scale("specific gravity 20/20", 0.02),
    Measurand.TOTAL_ACIDITY: _Scale("total acidity, g/L as acetic", 2.0),
    Measurand.TEMPERATURE: _Scale("temperature, °C", 8.0),
}
_TITLES = {Measurand.PH: "pH", Measurand.BRIX: "Sugar, by Brix", Measurand.TEMPERATURE: "Warmth"}
_FORECAST = {Measurand.PH: "ph", Measurand.BRIX: "sugar"}
KEY = "Bars: where 95 in 100 such readings lie."
SUGAR_UNIT = "sugar by Brix, g/L"
BAND_KEY = "Shaded: the curve ahead, 95 in 100; dashed: its middle."


@dataclass(frozen=True)
class Course:
    """A measurand's readings as a plot; `ahead` says what is to come, where it was asked."""

    measurand: str
    plot: Plot
    ahead: Ahead | None = None


def courses(
    lot: Lot,
    happened: Iterable[Happening],
    units: Units = METRIC,
    *,
    with_forecast: bool = False,
) -> list[Course]:
    """What was read of the lot at least twice, each kind as a plot with what happened to it."""
    start, since = _start(lot)
    by_measurand: dict[str, list[Checkpoint]] = defaultdict(list)
    readings = Checkpoint.objects.live().filter(lot=lot.pk, measurand__in=list(_DRAWN))
    for each in readings.select_related("instrument").order_by("happened_at", "id"):
        by_measurand[each.measurand].append(each)
    drawn = [kind for kind in _DRAWN if len(by_measurand[kind]) >= LEAST_READINGS]
    if not drawn:
        return []
    marks = _marks(happened, start)
    limits = [limit for ask in LIMITS_OF for limit in ask(lot)]
    found = []
    for kind in drawn:
        points = tuple(_point(each, start, units) for each in by_measurand[kind])
        plot = Plot(
            title=_TITLES.get(kind, kind.label.partition(",")[0].capitalize()),
            unit=_unit(kind, units),
            x_title=since,
            curves=(Curve(lot.code, points),),
            limits=tuple(_limit_line(each, units) for each in limits if each.measurand == kind),
            marks=marks,
            key=KEY,
            least_height=_DRAWN[kind].least_height,
        )
        found.append(Course(kind, plot))
    detail = lot.detail
    if with_forecast and isinstance(detail, Batch):
        return [_with_forecast(each, detail) for each in found]
    return found


def _start(lot: Lot) -> tuple[dt.datetime, str]:
    """When time is counted from, and its words."""
    detail = lot.detail
    started = pitched(detail) if isinstance(detail, Batch) else None
    if started is not None:
        return started.at, f"since starter was added, {started}"
    begun = "filled" if isinstance(detail, BottlingLot) else "begun"
    return lot.happened_at, f"since it was {begun}, {lot.when}"


def _point(reading: Checkpoint, start: dt.datetime, units: Units) -> Point:
    u, _ = instrument_uncertainty(reading.instrument, reading.measurand)
    value = float(reading.value)
    if reading.measurand == Measurand.TEMPERATURE and units.us:
        value, u = value * 9 / 5 + 32, u * 9 / 5
    hours = (reading.happened_at - start) / _HOUR
    return Point(round(hours, 3), value, str(reading.when), reading.value_text, u)


def _unit(kind: str, units: Units) -> str:
    if kind == Measurand.TEMPERATURE and units.us:
        return "temperature, °F"
    return _DRAWN[Measurand(kind)].unit


def _limit_line(limit: CourseLimit, units: Units) -> LimitLine:
    value = limit.value
    if limit.measurand == Measurand.TEMPERATURE and units.us:
        value = value * 9 / 5 + 32
    start = None if limit.within_hours is None else 0.0
    return LimitLine(value, limit.words, start, limit.within_hours)


def _marks(happened: Iterable[Happening], start: dt.datetime) -> tuple[Mark, ...]:
    """What bears on the readings, once a day of each: every shipment would crowd it."""
    marks: list[Mark] = []
    last: dict[str, float] = {}
    for each in happened:
        x = (each.when.at - start) / _HOUR
        if each.words != SHIPPED and x - last.get(each.words, float("-inf")) >= 24:
            last[each.words] = x
            marks.append(Mark(x, each.words, str(each.when)))
    return tuple(marks)


# What lies ahead, and what went before ---------------------------------------------------


def _with_forecast(course: Course, batch: Batch) -> Course:
    """The course with its forecast drawn; too few readings leave the words that say so."""
    what = _FORECAST.get(Measurand(course.measurand))
    told = ahead(batch, what) if what else None
    if told is None or told.found is None:
        return replace(course, ahead=told)
    plot = course.plot if what == "ph" else _in_g_per_l(course.plot)
    last = max(point.x for point in plot.points) / 24
    band = _band(told.found, last + _AHEAD_DAYS)
    return Course(course.measurand, replace(plot, band=band, key=f"{KEY} {BAND_KEY}"), told)


def _in_g_per_l(plot: Plot) -> Plot:
    """Readings in °Bx on the scale that sugar is forecast in; their words stay as typed."""
    (curve,) = plot.curves
    points = tuple(
        replace(each, y=brix_as_g_per_l(Decimal(str(each.y))), u=10 * each.u)
        for each in curve.points
    )
    return replace(
        plot, unit=SUGAR_UNIT, curves=(replace(curve, points=points),), least_height=20.0
    )


def _band(found: Forecast, until: float) -> Band | None:
    """The forecast's band up to a day, in hours."""
    if found.band is None:
        return None
    count = sum(day <= until for day in found.band.days)
    band = found.band
    return Band(
        tuple(day * 24 for day in band.days[:count]),
        band.low[:count],
        band.middle[:count],
        band.high[:count],
    )


def overlay(batch: Batch, what: str) -> Plot | None:
    """The batch over its recipe's earlier ones; None without them, or with too few readings."""
    title, unit, least, places = {
        "ph": ("pH beside earlier batches", "pH", 1.0, 2),
        "sugar": ("Sugar beside earlier batches", SUGAR_UNIT, 20.0, 0),
    }[what]
    found = beside_earlier(batch, what)
    if len(found) < 2 or found[0][0] != batch or len(found[0][1]) < LEAST_READINGS:
        return None
    curves = tuple(
        Curve(
            each.code,
            tuple(
                Point(24 * r.day, r.value, f"{24 * r.day:.0f} h", f"{r.value:.{places}f}", r.u)
                for r in readings
            ),
            is_strong=each == batch,
        )
        for each, readings in found
    )
    key = f"Dark: {batch.code}. Light: the {len(curves) - 1} before it of the same recipe. {KEY}"
    return Plot(title, unit, "since starter was added", curves, key=key, least_height=least)


def flags_of(batch: Batch, what: str) -> tuple[str, ...]:
    """How the batch differs from what its recipe's earlier ones lead one to expect, in words."""
    told = ahead(batch, what)
    if told is None or told.found is None:
        return ()
    return tuple(FLAG_WORDS[flag] for flag in told.found.flags)


FLAG_WORDS = {
    Flag.SLOW: "slower than they were",
    Flag.FAST: "faster than they were",
    Flag.STALLED: "stalled, hardly moving since the last readings",
    Flag.RISING: "risen again",
}
