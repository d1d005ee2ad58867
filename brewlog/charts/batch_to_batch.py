"""One value of every batch of a recipe, at the same point of the work, as a control chart.

Nothing is held by it: it says when batches are not what they were, and leaves why to people.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from brewlog.charts.plot import Curve, LimitLine, Mark, Plot, Point
from brewlog.charts.scales import Axis
from brewlog.domain.batch_values import Series
from brewlog.models import UsualRun
from brewlog.science.control_charts import (
    FEWEST,
    ControlChart,
    Sign,
    Signal,
    control_chart,
    held_against,
)
from brewlog.science.errors import OutOfRange


@dataclass(frozen=True)
class Charts:
    """The values and the steps between them, with what tells of a change; or why there is none.

    `told[n]` has the signs met at the value n, in words.
    """

    values: Plot | None
    ranges: Plot | None
    told: tuple[tuple[str, ...], ...]
    found: ControlChart | None = None
    why_none: str = ""


@dataclass(frozen=True)
class Usual:
    """The run that what is usual was fixed from, and the values of its batches by now."""

    run: UsualRun
    series: Series

    @property
    def chart(self) -> ControlChart | None:
        """None where the run has too few values by now, or they are alike."""
        try:
            return control_chart([each.value for each in self.series.values])
        except OutOfRange:
            return None


# Words along a mean would stand on the values, which go to and fro across it.
_VALUES_KEY = (
    "Dashed: the mean, {mean}, and how far up and down is usual. Ringed: where a rule tells of a "
    "change."
)
_RANGES_KEY = "Each step to the next batch. Dashed: the mean, {mean}, and how far is usual."
WIDE_STEP = "a wider step than usual from the batch before"


def charts_of(series: Series, usual: Usual | None = None) -> Charts:
    """The two charts, on the limits of the run that was fixed; else on limits of the values
    themselves, where there are enough of them and they differ."""
    fixed = usual.chart if usual else None
    if usual and fixed:
        return _drawn(series, _held_against(series, usual.run, fixed))
    blank = tuple(() for _ in series.values)
    if series.lacking:
        have = len(series.values)
        words = (
            f"{have} of {FEWEST} batches that limits can be drawn from have it: "
            f"{series.lacking} more."
        )
        return Charts(None, None, blank, why_none=words)
    try:
        found = control_chart([each.value for each in series.values])
    except OutOfRange:
        return Charts(None, None, blank, why_none="All values are alike: no limits can be drawn.")
    return _drawn(series, found)


def _held_against(series: Series, run: UsualRun, fixed: ControlChart) -> ControlChart:
    """The values on the limits of a run, from its first batch on."""
    begin = run.first.pitched_at
    before = [each for each in series.values if each.batch.pitched_at < begin]  # type: ignore[operator]
    values = [each.value for each in series.values]
    return held_against(values, fixed.mean, fixed.mean_range, judged_from=len(before))


def _drawn(series: Series, found: ControlChart) -> Charts:
    if not series.values:
        return Charts(None, None, (), why_none="No batch has it yet.")
    steps = _ranges_plot(series, found) if found.ranges else None
    return Charts(_values_plot(series, found), steps, _told(series, found), found)


# How each sign is told on the picture: met above the mean or rising, below it or falling.
_SIGN_WORDS = {
    Sign.BEYOND: ("above the usual", "below the usual"),
    Sign.TWO_OF_THREE: ("2 of 3 far above the mean", "2 of 3 far below the mean"),
    Sign.FOUR_OF_FIVE: ("4 of 5 well above the mean", "4 of 5 well below the mean"),
    Sign.EIGHT: ("8 in a row above the mean", "8 in a row below the mean"),
    Sign.SIX: ("6 in a row rising", "6 in a row falling"),
}


def _words_of(signal: Signal) -> str:
    above, below = _SIGN_WORDS[signal.sign]
    return above if signal.is_high else below


def _told(series: Series, found: ControlChart) -> tuple[tuple[str, ...], ...]:
    told: list[list[str]] = [[] for _ in series.values]
    for signal in found.signals:
        for at in range(signal.first, signal.last + 1):
            told[at].append(_words_of(signal))
    for at in found.wide_ranges:
        told[at + 1].append(WIDE_STEP)
    return tuple(map(tuple, told))


def _values_plot(series: Series, found: ControlChart) -> Plot:
    ringed = {at for each in found.signals for at in range(each.first, each.last + 1)}
    points = tuple(
        Point(at + 1, each.value, each.batch.code, each.words, is_ringed=at in ringed)
        for at, each in enumerate(series.values)
    )
    marks = tuple(
        Mark(each.first + 1, _words_of(each), points[each.first].when) for each in found.signals
    )
    plot = _plot(series, series.what.title, points, marks, 6 * found.sigma)
    lines = [_line(series, "usual up to", found.upper), LimitLine(found.mean, "", binds=False)]
    # None of these is ever less than nothing.
    if found.lower > 0:
        lines.append(_line(series, "usual down to", found.lower))
    key = _VALUES_KEY.format(mean=_figure(series, found.mean))
    return replace(plot, limits=tuple(lines), key=key)


def _ranges_plot(series: Series, found: ControlChart) -> Plot:
    wide = set(found.wide_ranges)
    points = tuple(
        Point(
            at + 2,
            each,
            series.values[at + 1].batch.code,
            _figure(series, each),
            is_ringed=at in wide,
        )
        for at, each in enumerate(found.ranges)
    )
    marks = tuple(Mark(at + 2, "wider than usual", points[at].when) for at in sorted(wide))
    plot = _plot(series, "From one batch to the next", points, marks, found.upper_range)
    lines = (
        _line(series, "usual up to", found.upper_range),
        LimitLine(found.mean_range, "", binds=False),
    )
    key = _RANGES_KEY.format(mean=_figure(series, found.mean_range))
    return replace(plot, limits=lines, key=key, from_nothing=True)


def _figure(series: Series, value: float) -> str:
    """With one more decimal than it is read with."""
    return f"{value:.{series.what.places + 1}f}"


def _line(series: Series, words: str, value: float) -> LimitLine:
    return LimitLine(value, f"{words} {_figure(series, value)}", binds=False)


def _plot(
    series: Series, title: str, points: tuple[Point, ...], marks: tuple[Mark, ...], height: float
) -> Plot:
    first, last = series.values[0].batch.code, series.values[-1].batch.code
    return Plot(
        title,
        series.unit,
        f"batches in order, {first} to {last}",
        (Curve(title, points),),
        axis=Axis.NUMBERS,
        marks=marks,
        least_height=height,
    )
