"""Values become places on the picture, in the same way every time."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reportlab.graphics.shapes import Circle, Line, Polygon, PolyLine, String

from brewlog.charts import ink
from brewlog.charts.picture import LETTERS, NARROW, WIDE
from brewlog.charts.plot import Band, Curve, LimitLine, Mark, Plot, Point, draw, framed
from brewlog.charts.scales import Axis, Scale, date_ticks, hour_ticks, round_ticks
from brewlog.charts.svg import svg
from tests.charts.rooms import cut_off, rooms, written_over


def plot_of(*values: tuple[float, float], **given) -> Plot:
    points = tuple(Point(x, y, f"{x:g} h", f"{y:g}", 0.05) for x, y in values)
    return Plot("pH", "pH", "since starter was added", (Curve("B1", points),), **given)


def shapes(plot: Plot, kind: type, width: float = 500) -> list:
    return [shape for shape in draw(plot, width, 10).contents if isinstance(shape, kind)]


def said(plot: Plot, width: float = 500) -> list[str]:
    return [shape.text for shape in shapes(plot, String, width)]


def test_a_scale_lays_values_along_its_stretch():
    scale = Scale(0, 48, 30, 510)

    assert [scale(hours) for hours in (0, 12, 48)] == [30, 150, 510]


def test_points_stand_where_their_values_are():
    plot = plot_of((0, 4.5), (24, 4.0), (48, 3.5))

    frame = framed(plot, 500, 10)
    dots = [(dot.cx, dot.cy) for dot in shapes(plot, Circle)]

    assert dots == [(frame.x(x), frame.y(y)) for x, y in ((0, 4.5), (24, 4.0), (48, 3.5))]
    # Evenly apart in time and value, so evenly apart on the picture; time to the right.
    assert dots[1][0] - dots[0][0] == pytest.approx(dots[2][0] - dots[1][0])
    assert dots[0][1] - dots[1][1] == pytest.approx(dots[1][1] - dots[2][1])
    assert dots[0][0] == frame.x.start


def test_the_bar_of_a_reading_reaches_two_standard_uncertainties():
    plot = plot_of((0, 4.0))
    y = framed(plot, 500, 10).y

    bars = [
        (line.y1, line.y2)
        for line in shapes(plot, Line)
        if line.x1 == line.x2 and line.strokeColor == ink.SOFT and line.y1 > y.start
    ]

    assert bars == [(pytest.approx(y(3.9)), pytest.approx(y(4.1)))]


def test_a_limit_is_drawn_at_its_value_up_to_its_deadline_with_its_words():
    limit = LimitLine(4.2, "limit ≤ 4.2 pH within 7 days", 0.0, 168.0)
    plot = plot_of((0, 4.5), (24, 4.4), limits=(limit,))
    frame = framed(plot, 500, 10)

    (line, end) = [each for each in shapes(plot, Line) if each.strokeColor == ink.LIMIT]

    assert (line.x1, line.y1) == (frame.x(0), frame.y(4.2))
    assert (line.x2, line.y2) == (frame.x(168), frame.y(4.2))
    assert end.x1 == end.x2 == frame.x(168)
    assert "limit ≤ 4.2 pH within 7 days" in said(plot)


WIDTHS = (NARROW, 500, WIDE)
A_DAY = 86400.0
AWKWARD = {
    "two limits of one value": plot_of(
        (0, 4.5),
        (24, 4.4),
        limits=(LimitLine(4.2, "limit ≤ 4.2 pH: at bottling"), LimitLine(4.2, "limit < 4.2 pH")),
    ),
    "limits at the foot and at the top": plot_of(
        (0, 2.5),
        (24, 4.5),
        limits=(
            *(LimitLine(2.5, f"limit ≥ 2.5 pH: flavour number {n}") for n in range(4)),
            *(LimitLine(4.5, f"limit ≤ 4.5 pH within {n} days", 0.0, 24.0 * n) for n in (1, 7)),
        ),
    ),
    "a limit at the very top, below what happened": plot_of(
        (0, 4.5),
        (24, 3.2),
        least_height=0.1,
        limits=(LimitLine(4.6, "limit ≤ 4.6 pH: after adding starter"),),
        marks=(Mark(0, "starter added", ""), Mark(23, "bottled", ""), Mark(22, "kept back", "")),
    ),
    "more limits than there is room for": plot_of(
        (0, 3.2), (24, 3.1), limits=tuple(LimitLine(3.0, f"limit ≤ 3.0 pH: {n}") for n in range(40))
    ),
    "a limit with more to say than fits": plot_of(
        (0, 3.2), (24, 3.1), limits=(LimitLine(3.0, "limit ≥ 2.5 pH, whatever is said of it " * 4),)
    ),
    "much that happened at once": plot_of(
        *((hour, 4.5 - hour / 200) for hour in range(0, 200, 8)),
        marks=tuple(Mark(hour, f"flavoured again, tank {hour}", "") for hour in range(0, 200, 9)),
    ),
    "a name wider than the picture": plot_of(
        (0, 4.5), (24, 4.4), marks=(Mark(23, "four in five in a row far above the mean " * 4, ""),)
    ),
    "years on a date line": replace(
        plot_of((0, 4.5), (3650 * A_DAY, 4.4)), axis=Axis.DATES, is_stepped=True
    ),
    "the end of a month on a date line": replace(
        plot_of((A_DAY * 20, 4.5), (A_DAY * 28.9, 4.4)), axis=Axis.DATES
    ),
    "thousands along the foot": replace(
        plot_of((99_000, 4.5), (100_000, 4.4)), axis=Axis.NUMBERS, from_nothing=True
    ),
    "large amounts": replace(
        plot_of((0, 4_000_000), (24, 12_500_000)), unit="litres of everything there is, " * 3
    ),
    "negative values": plot_of((0, -1234.5), (24, -4321), least_height=1000),
}


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("plot", AWKWARD.values(), ids=AWKWARD)
def test_no_words_are_written_over_others_or_beyond_the_picture(plot, width):
    drawn = draw(plot, width, LETTERS)

    assert written_over(drawn) == []
    assert cut_off(drawn) == []


WORDS = st.text("abc é≤4.2 ", min_size=1, max_size=60).map(str.strip).filter(bool)
TIMES = st.floats(0, 3000).map(lambda hour: round(hour, 2))


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    values=st.lists(st.tuples(TIMES, st.floats(-100, 5000)), min_size=1, max_size=20),
    limits=st.lists(st.tuples(st.floats(-100, 5000), WORDS), max_size=6),
    marks=st.lists(st.tuples(TIMES, WORDS), max_size=8),
    axis=st.sampled_from(Axis),
    width=st.sampled_from(WIDTHS),
)
def test_whatever_is_drawn_no_words_are_written_over_others(values, limits, marks, axis, width):
    scale = A_DAY if axis == Axis.DATES else 1.0
    plot = replace(
        plot_of(
            *((scale * x, y) for x, y in sorted(values)),
            limits=tuple(LimitLine(value, words) for value, words in limits),
            marks=tuple(Mark(scale * x, words, "") for x, words in sorted(marks)),
        ),
        axis=axis,
    )

    drawn = draw(plot, width, LETTERS)

    assert written_over(drawn) == []
    assert cut_off(drawn) == []


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("is_stepped", [False, True])
def test_a_limits_words_keep_clear_of_the_curve_where_they_can(width, is_stepped):
    falling = [(hour, 4.5 - hour / 100) for hour in range(0, 120, 6)]
    plot = replace(
        plot_of(*falling, limits=(LimitLine(3.4, "limit ≤ 3.4 pH"),), least_height=0.1),
        is_stepped=is_stepped,
    )
    drawn = draw(plot, width, LETTERS)

    (room,) = [room for text, room in rooms(drawn) if text.startswith("limit")]
    (line,) = [shape for shape in drawn.contents if isinstance(shape, PolyLine)]
    places = list(zip(line.points[::2], line.points[1::2], strict=True))
    walked = [
        (x + (onward - x) * share / 50, y + (up - y) * share / 50)
        for (x, y), (onward, up) in pairwise(places)
        for share in range(51)
    ]

    assert [
        (x, y) for x, y in walked if room.left < x < room.right and room.low < y < room.high
    ] == []


def test_a_mean_is_drawn_more_quietly_than_what_binds():
    lines = (LimitLine(3.2, "mean", binds=False), LimitLine(3.6, "limit ≤ 3.6 pH"))
    plot = plot_of((0, 3.1), (24, 3.3), limits=lines)
    y = framed(plot, 500, 10).y

    drawn = {line.y1: line.strokeColor for line in shapes(plot, Line) if line.strokeDashArray}
    colours = {text.text: text.fillColor for text in shapes(plot, String)}

    assert drawn == {y(3.2): ink.SOFT, y(3.6): ink.LIMIT}
    assert (colours["mean"], colours["limit ≤ 3.6 pH"]) == (ink.SOFT, ink.LIMIT)


def test_a_ringed_value_stands_out():
    points = (Point(0, 3.1, "", ""), Point(24, 3.3, "", "", is_ringed=True))
    plot = replace(plot_of((0, 3.1)), curves=(Curve("B1", points),))

    rings = [dot for dot in shapes(plot, Circle) if dot.strokeColor == ink.LIMIT]

    assert [(ring.cx, ring.fillColor) for ring in rings] == [
        (framed(plot, 500, 10).x(24), ink.PAPER)
    ]


def test_names_of_what_happened_at_once_stand_in_lanes():
    marks = (Mark(0, "starter added", ""), Mark(2, "flavoured", ""), Mark(4, "bottled", ""))
    plot = plot_of((0, 4.5), (300, 3.2), marks=(*marks, Mark(6, "moved to cold", "")))

    heights = {shape.text: shape.y for shape in shapes(plot, String)}

    assert len({heights[mark.words] for mark in marks}) == 3
    assert "moved to cold" not in heights  # no room left: the table has it


def test_a_forecast_is_an_area_with_its_middle_dashed():
    band = Band((0, 24, 48), (4.4, 4.0, 3.7), (4.5, 4.1, 3.8), (4.6, 4.2, 3.9))
    plot = plot_of((0, 4.5), band=band)
    frame = framed(plot, 500, 10)

    (area,) = shapes(plot, Polygon)
    dashed = [line for line in shapes(plot, PolyLine) if line.strokeDashArray]

    assert area.points[:2] == [frame.x(0), frame.y(4.6)]
    assert area.points[-2:] == [frame.x(0), frame.y(4.4)]
    assert [line.points[1::2] for line in dashed] == [[frame.y(v) for v in band.middle]]


def test_earlier_batches_are_quiet_and_drawn_beneath():
    quiet = Curve("B0", (Point(0, 4.4, "", ""), Point(24, 4.1, "", "")), is_strong=False)
    plot = plot_of((0, 4.5), (24, 4.3))
    plot = replace(plot, curves=(*plot.curves, quiet))

    lines = shapes(plot, PolyLine)

    assert [line.strokeColor for line in lines] == [ink.HAIR, ink.INK]


def test_stock_holds_until_it_changes():
    plot = replace(plot_of((0, 10), (24, 4)), is_stepped=True, from_nothing=True)
    frame = framed(plot, 500, 10)

    (line,) = shapes(plot, PolyLine)

    assert line.points[2:4] == [frame.x(24), frame.y(10)]
    assert frame.y.low == 0


@pytest.mark.parametrize("count", [1, 3, 400])
@pytest.mark.parametrize("width", [320, 720])
def test_everything_stays_within_the_picture(count, width):
    values = [(hour, 4.5 - hour / 400) for hour in range(count)]
    marks = (Mark(0, "starter added", ""), Mark(count, "moved to cold", ""))
    limits = (LimitLine(4.2, "limit ≤ 4.2 pH within 7 days", 0, 168.0),)
    plot = plot_of(*values, marks=marks, limits=limits, key="Bars: where 95 in 100 lie. " * 4)

    drawing = draw(plot, width, 12)

    for shape in drawing.contents:
        left, low, right, high = shape.getBounds()
        assert left >= -2
        assert right <= width + 2
        assert low >= -2
        assert high <= drawing.height + 2


def test_the_same_plot_makes_the_same_drawing():
    plot = plot_of((0, 4.5), (24, 4.0))

    drawn, again = (svg(draw(plot, 500, 10), "ph", "pH", "") for _ in range(2))

    assert drawn == again


def test_values_alike_are_not_made_to_look_far_apart():
    frame = framed(plot_of((0, 3.40), (24, 3.41), least_height=1.0), 500, 10)

    assert frame.y.high - frame.y.low >= 1.0


@pytest.mark.parametrize(
    ("low", "high", "names"),
    [
        (3.1, 4.6, ["3.5", "4.0", "4.5"]),
        (-3, 12, ["0", "5", "10"]),
        (0.998, 1.012, ["1.000", "1.005", "1.010"]),
    ],
)
def test_round_values_are_written_along_the_side(low, high, names):
    assert [name for _, name in round_ticks(low, high, 4)] == names


def test_elapsed_time_is_in_hours_then_in_days():
    assert hour_ticks(72, 4) == ([(0, "0"), (24, "24"), (48, "48"), (72, "72")], "hours")
    ticks, unit = hour_ticks(240, 6)
    assert (ticks[1], unit) == ((48, "2"), "days")


def test_dates_are_midnights_of_the_brewery_also_when_the_clocks_change():
    # The clocks of Lisbon go forward on 29 March 2026 at 01:00 UTC.
    ticks = date_ticks(1774612800, 1775044800, 6, "Europe/Lisbon")  # 27 Mar 12:00 to 1 Apr 12:00

    assert [name for _, name in ticks] == ["28 Mar", "29 Mar", "30 Mar", "31 Mar", "1 Apr"]
    gaps = [(later - earlier) / 3600 for (earlier, _), (later, _) in pairwise(ticks)]
    assert gaps == [24, 23, 24, 24]


def test_a_year_is_marked_by_months():
    ticks = date_ticks(1767225600, 1798761600, 8, "UTC")

    assert [name for _, name in ticks] == [
        "Jan 2026",
        "Apr 2026",
        "Jul 2026",
        "Oct 2026",
        "Jan 2027",
    ]


def test_numbers_have_their_own_axis():
    plot = replace(plot_of(*((n, 3.2) for n in range(1, 31))), axis=Axis.NUMBERS)

    names = [name for _, name in framed(plot, 500, 10).x_ticks]
    assert names == ["5", "10", "15", "20", "25", "30"]  # there is no number 0
