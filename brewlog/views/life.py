"""A lot's life on its pages: the stages in words with their times, and its readings drawn."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from brewlog.charts.courses import Course
from brewlog.charts.picture import Picture, plotted
from brewlog.charts.plot import Plot, Point
from brewlog.domain.stages import (
    BOTTLED,
    FLAVOURED,
    KEPT_BACK,
    SHIPPED,
    STARTER_ADDED,
    TO_COLD,
    Happening,
)
from brewlog.models import Lot, LotKind
from brewlog.views.reader import Reader

# What a lot of a kind goes through; the ones in `_MAY` only where they happened.
_STAGES = {
    LotKind.BATCH: (STARTER_ADDED, KEPT_BACK, FLAVOURED, BOTTLED, SHIPPED),
    LotKind.BOTTLING: (TO_COLD, SHIPPED),
}
_MAY = {KEPT_BACK, FLAVOURED, SHIPPED}
_FIRST = {LotKind.BATCH: "begun", LotKind.BOTTLING: "filled"}


@dataclass(frozen=True)
class Step:
    """A stage: when it was reached, or '' where it was not yet."""

    title: str
    reached: str


def strip(lot: Lot, happened: Iterable[Happening], reader: Reader) -> list[Step]:
    """The stages of a batch or of bottles, in the order of the work; nothing for other lots."""
    stages = _STAGES.get(LotKind(lot.kind))
    if stages is None:
        return []
    times: dict[str, list[str]] = {stage: [] for stage in stages}
    for each in happened:
        if each.words in times:
            times[each.words].append(reader.when(each.when))
    # Bottles shipped are told of the bottles; of a batch it is rare, and told where it was.
    hidden = _MAY if lot.kind == LotKind.BATCH else set()
    steps = [Step(_FIRST[LotKind(lot.kind)], reader.when(lot.when))]
    for stage in stages:
        if times[stage] or stage not in hidden:
            steps.append(Step(stage, _spoken(times[stage])))
    return steps


def _spoken(times: list[str]) -> str:
    """The first time, and the last of several."""
    if len(times) < 2 or times[0] == times[-1]:
        return "".join(times[:1])
    return f"{times[0]} to {times[-1]}"


def pictures_of(courses: Iterable[Course], reader: Reader) -> list[Picture]:
    """The courses, each under what lies ahead of it where that was asked."""
    return [
        plotted(
            f"course-{each.measurand}",
            _as_read(each.plot, reader),
            each.ahead.words if each.ahead else "",
        )
        for each in courses
    ]


def _as_read(plot: Plot, reader: Reader) -> Plot:
    """The plot with its times and limits in the reader's words."""
    return replace(
        plot,
        x_title=reader.words(plot.x_title),
        curves=tuple(
            replace(curve, points=tuple(_point_as_read(each, reader) for each in curve.points))
            for curve in plot.curves
        ),
        limits=tuple(replace(each, words=reader.words(each.words)) for each in plot.limits),
        marks=tuple(replace(each, when=reader.words(each.when)) for each in plot.marks),
    )


def _point_as_read(point: Point, reader: Reader) -> Point:
    return replace(point, when=reader.words(point.when), words=reader.words(point.words))
