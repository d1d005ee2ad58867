"""A picture of values over time: what is drawn, as plain values, and the drawing of it.

The same plot makes the same drawing. Every point keeps its words, so that the table beside
the picture says exactly what is drawn.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.graphics.shapes import Drawing

from brewlog.charts import ink
from brewlog.charts.names import LineName, Room, beside_lines
from brewlog.charts.scales import Axis, Scale, Tick, date_ticks, hour_ticks, round_ticks
from brewlog.fonts import use_fonts

# A reading's bar reaches so many standard uncertainties up and down: about 95 in 100.
BAR = 2.0
_LANES = 3
_MORE_ROOM = 0.06


@dataclass(frozen=True)
class Point:
    """A value, with its standard uncertainty, and when and what as they are written.

    A ringed one stands out from the others.
    """

    x: float
    y: float
    when: str
    words: str
    u: float = 0.0
    is_ringed: bool = False


@dataclass(frozen=True)
class Curve:
    """Points in the order of time. Strong is what the picture is about; the others are quiet."""

    name: str
    points: tuple[Point, ...]
    is_strong: bool = True


@dataclass(frozen=True)
class LimitLine:
    """A limit, drawn across or from `start` to `until`, with its own words.

    What binds nobody, such as a mean, is drawn quietly; without words the key tells of it.
    """

    value: float
    words: str
    start: float | None = None
    until: float | None = None
    binds: bool = True


@dataclass(frozen=True)
class Mark:
    """Something that happened at a time."""

    x: float
    words: str
    when: str


@dataclass(frozen=True)
class Band:
    """A forecast: its middle, and from low to high 95 in 100."""

    xs: tuple[float, ...]
    low: tuple[float, ...]
    middle: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True)
class Plot:
    """All that is drawn; marks in the order of time.

    `x_title` says from when time is counted, `key` what the signs mean.
    """

    title: str
    unit: str
    x_title: str
    curves: tuple[Curve, ...]
    axis: Axis = Axis.HOURS
    zone: str = "UTC"
    limits: tuple[LimitLine, ...] = ()
    marks: tuple[Mark, ...] = ()
    band: Band | None = None
    key: str = ""
    least_height: float = 1.0  # of the scale, so that nothing is made to look large
    is_stepped: bool = False  # the value holds until the next point
    from_nothing: bool = False  # the scale begins at 0

    @property
    def points(self) -> list[Point]:
        return [point for curve in self.curves for point in curve.points]


@dataclass(frozen=True)
class Frame:
    """Where a plot stands in its drawing: the scales and what is written along the sides."""

    width: float
    height: float
    size: float
    x: Scale
    y: Scale
    x_ticks: list[Tick]
    y_ticks: list[Tick]
    x_title: str
    key: list[str]
    lanes: list[int | None]  # of each mark's name, from the plot upwards; None: no room


def framed(plot: Plot, width: float, size: float) -> Frame:
    """The scales of a plot in a drawing so wide, with letters of that size."""
    low, high = _value_range(plot)
    body = 17 * size
    y_ticks = round_ticks(low, high, 8)
    left = max(ink.room_for(words, size) for _, words in y_ticks) + size * 0.8
    right = width - size
    x_low, x_high = _time_range(plot)
    most = max(2, int((right - left) / (size * _tick_room(plot.axis, x_high - x_low))))
    x_title = plot.x_title
    if plot.axis == Axis.HOURS:
        x_ticks, unit = hour_ticks(x_high, most)
        x_title = f"{unit} {plot.x_title}"
    elif plot.axis == Axis.DATES:
        x_ticks = date_ticks(x_low, x_high, most, plot.zone)
    else:
        numbers = [point.x for point in plot.points]
        x_ticks = [
            (at, name)
            for at, name in round_ticks(x_low, x_high, most)
            if "." not in name and min(numbers) <= at <= max(numbers)
        ]
    x = Scale(x_low, x_high, left, right)
    key = ink.wrapped(plot.key, size * 0.92, width)
    foot = size * (3.1 + 1.3 * len(key))
    lanes = _lanes(plot, x, width, size)
    top = size * (1.9 + 1.25 * max((lane + 1 for lane in lanes if lane is not None), default=0))
    return Frame(
        width,
        foot + body + top,
        size,
        x,
        Scale(low, high, foot, foot + body),
        x_ticks,
        y_ticks,
        x_title,
        key,
        lanes,
    )


def _tick_room(axis: Axis, span: float) -> float:
    """Letters to leave for what is written along the foot: months with their year are long."""
    if axis == Axis.DATES:
        return 5.0 if span < 150 * 86400 else 7.0
    return 4.5


def _lanes(plot: Plot, x: Scale, width: float, size: float) -> list[int | None]:
    """The first lane in which each mark's name is clear of the names before it."""
    ends = [float("-inf")] * _LANES
    found: list[int | None] = []
    for mark in plot.marks:
        left, right = _name_of(mark, x, width, size)
        lane = next((n for n, end in enumerate(ends) if left > end + size * 0.6), None)
        if lane is not None:
            ends[lane] = right
        found.append(lane)
    return found


def _name_of(mark: Mark, x: Scale, width: float, size: float) -> tuple[float, float]:
    """Where a mark's name begins and ends: right of its line, clear of the values at the side."""
    room = min(ink.room_for(mark.words, size), width - x.start)
    left = min(x(mark.x) + 2, width - room)
    return left, left + room


def _value_range(plot: Plot) -> tuple[float, float]:
    """From the lowest to the highest that is drawn, in whole steps, and a little more."""
    values = [point.y + sign * BAR * point.u for point in plot.points for sign in (-1, 1)]
    values += [limit.value for limit in plot.limits]
    if plot.band:
        values += [*plot.band.low, *plot.band.high]
    if plot.from_nothing:
        values.append(0.0)
    low, high = min(values), max(values)
    lacking = max(0.0, plot.least_height - (high - low)) / 2
    more = _MORE_ROOM * max(high - low, plot.least_height)
    below = 0.0 if plot.from_nothing and low >= 0 else lacking + more
    return low - below, high + 2 * lacking + more - min(below, lacking)


def _time_range(plot: Plot) -> tuple[float, float]:
    times = [point.x for point in plot.points] + [mark.x for mark in plot.marks]
    times += [limit.until for limit in plot.limits if limit.until is not None]
    if plot.band:
        times += plot.band.xs
    low, high = min(times), max(times)
    least = {Axis.HOURS: 24.0, Axis.DATES: 86400.0, Axis.NUMBERS: 1.0}[plot.axis]
    if plot.axis == Axis.HOURS:
        return min(low, 0.0), max(high * 1.02, least)
    more = max((high - low) * 0.03, least / 2)
    return low - more, high + more


def draw(plot: Plot, width: float, size: float) -> Drawing:
    """The plot so wide, with letters of that size, both in points."""
    use_fonts()
    frame = framed(plot, width, size)
    drawing = Drawing(width, frame.height)
    for shapes in (
        _grid(plot, frame),
        _band(plot, frame),
        _mark_lines(plot, frame),
        _limit_lines(plot, frame),
        _limit_names(plot, frame),
        _mark_names(plot, frame),
        _curves(plot, frame),
        _foot(frame),
    ):
        for shape in shapes:
            drawing.add(shape)
    return drawing


def _grid(plot: Plot, frame: Frame) -> Iterator[Any]:
    x, y, size = frame.x, frame.y, frame.size
    for value, name in frame.y_ticks:
        yield ink.line((x.start, y(value)), (x.end, y(value)), ink.HAIR, 0.5)
        place = (x.start - size * 0.5, y(value) - size * 0.33)
        yield ink.words(place, name, size, ink.SOFT, anchor="end")
    written_to = float("-inf")
    for at, name in frame.x_ticks:
        yield ink.line((x(at), y.start), (x(at), y.start - size * 0.35), ink.SOFT, 0.6)
        half = ink.room_for(name, size) / 2
        middle = min(max(x(at), half), frame.width - half)
        if middle - half > written_to:
            written_to = middle + half + size * 0.3
            yield ink.words((middle, y.start - size * 1.4), name, size, ink.SOFT, anchor="middle")
    yield ink.line((x.start, y.start), (x.end, y.start), ink.SOFT, 0.8)
    unit = ink.fitted(plot.unit, size, frame.width)
    yield ink.words((0, frame.height - size), unit, size, ink.SOFT)


def _foot(frame: Frame) -> Iterator[Any]:
    size = frame.size
    below = frame.y.start - size * 2.7
    title = ink.fitted(frame.x_title, size, frame.width - frame.x.start)
    yield ink.words((frame.x.end, below), title, size, ink.SOFT, anchor="end")
    for number, row in enumerate(frame.key, start=1):
        place = (0, below - number * size * 1.3 + size * 0.2)
        yield ink.words(place, row, size * 0.92, ink.SOFT)


def _band(plot: Plot, frame: Frame) -> Iterator[Any]:
    if plot.band is None:
        return
    band = plot.band
    xs = [frame.x(value) for value in band.xs]
    low, middle, high = (
        list(zip(xs, map(frame.y, values), strict=True))
        for values in (band.low, band.middle, band.high)
    )
    yield ink.area([*high, *reversed(low)], ink.BAND)
    # Its edges are lines too: paper prints the shade faintly or not at all.
    yield ink.polyline(high, ink.HAIR, 0.6)
    yield ink.polyline(low, ink.HAIR, 0.6)
    yield ink.polyline(middle, ink.ACCENT, 1.1, (5, 3))


def _ends(limit: LimitLine, frame: Frame) -> ink.Place:
    """From where to where a limit is drawn."""
    start = frame.x(limit.start) if limit.start is not None else frame.x.start
    end = frame.x(limit.until) if limit.until is not None else frame.x.end
    return start, end


def _limit_lines(plot: Plot, frame: Frame) -> Iterator[Any]:
    for limit in plot.limits:
        y = frame.y(limit.value)
        start, end = _ends(limit, frame)
        if not limit.binds:
            yield ink.line((start, y), (end, y), ink.SOFT, 0.9, (4, 3))
            continue
        yield ink.line((start, y), (end, y), ink.LIMIT, 1.2, (7, 2))
        if limit.until is not None:
            half = frame.size * 0.5
            yield ink.line((end, y - half), (end, y + half), ink.LIMIT, 1.6)


def _limit_names(plot: Plot, frame: Frame) -> Iterator[Any]:
    """The words of each limit beside its line; where there is no room, the table has them."""
    size = frame.size
    limits = sorted((each for each in plot.limits if each.words), key=lambda each: -each.value)
    within = Room(frame.x.start, frame.y.start + size * 0.1, frame.x.end, frame.y.end + size * 0.15)
    names = [
        LineName(
            ink.fitted(limit.words, size, frame.x.end - frame.x.start - 4),
            frame.y(limit.value),
            *_ends(limit, frame),
        )
        for limit in limits
    ]
    curves = [_path(plot, curve, frame) for curve in plot.curves if curve.is_strong]
    places = beside_lines(names, within, curves, size)
    for limit, name, place in zip(limits, names, places, strict=True):
        if place is not None:
            yield _behind(place, name.text, size)
            yield ink.words(place, name.text, size, ink.LIMIT if limit.binds else ink.SOFT)


def _behind(place: ink.Place, text: str, size: float) -> Any:
    """Blank paper for words, so that no line runs through them."""
    left, y = place
    return ink.box((left - 1, y - size * 0.2), ink.room_for(text, size) + 2, size * 1.05, None)


def _mark_lines(plot: Plot, frame: Frame) -> Iterator[Any]:
    """From the foot up to the name of each mark."""
    for mark, lane in zip(plot.marks, frame.lanes, strict=True):
        x, top = frame.x(mark.x), frame.y.end
        if lane is not None:
            top += frame.size * (0.4 + 1.25 * lane)
        end = (x, top + frame.size * 0.7)
        yield ink.line((x, frame.y.start), end, ink.ACCENT, 0.7, (1.5, 2.5))


def _mark_names(plot: Plot, frame: Frame) -> Iterator[Any]:
    """Names in lanes above; where there is no room, the table has them."""
    size = frame.size
    for mark, lane in zip(plot.marks, frame.lanes, strict=True):
        if lane is not None:
            left, right = _name_of(mark, frame.x, frame.width, size)
            text = ink.fitted(mark.words, size * 0.95, right - left)
            place = (left, frame.y.end + size * (0.4 + 1.25 * lane))
            yield _behind(place, text, size * 0.95)
            yield ink.words(place, text, size * 0.95, ink.ACCENT)


def _curves(plot: Plot, frame: Frame) -> Iterator[Any]:
    for each in sorted(plot.curves, key=lambda curve: curve.is_strong):
        places = _places(each, frame)
        colour = ink.INK if each.is_strong else ink.HAIR
        path = _path(plot, each, frame)
        if len(path) > 1:
            yield ink.polyline(path, colour, 1.3 if each.is_strong else 1.0)
        for point, place in zip(each.points, places, strict=True):
            if point.u and each.is_strong:
                ends = [frame.y(point.y + sign * BAR * point.u) for sign in (-1, 1)]
                yield ink.line((place[0], ends[0]), (place[0], ends[1]), ink.SOFT, 0.8)
            if point.is_ringed:
                yield ink.dot(place, _radius(each, frame) + 3, ink.PAPER, ink.LIMIT)
            yield ink.dot(place, _radius(each, frame), colour)


def _radius(curve: Curve, frame: Frame) -> float:
    """Of the curve's dots: smaller where there are very many, so that each is still seen."""
    usual = frame.size * (0.24 if curve.is_strong else 0.13)
    return min(usual, max(1.0, 0.45 * (frame.x.end - frame.x.start) / len(curve.points)))


def _places(curve: Curve, frame: Frame) -> list[ink.Place]:
    return [(frame.x(point.x), frame.y(point.y)) for point in curve.points]


def _path(plot: Plot, curve: Curve, frame: Frame) -> list[ink.Place]:
    """The places its line goes through."""
    places = _places(curve, frame)
    return _stepped(places) if plot.is_stepped else places


def _stepped(places: Sequence[ink.Place]) -> list[ink.Place]:
    path: list[ink.Place] = []
    for x, y in places:
        if path:
            path.append((x, path[-1][1]))
        path.append((x, y))
    return path
