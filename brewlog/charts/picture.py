"""A picture with its words: for the page as SVG at two widths, and as a table to be read out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.utils.safestring import SafeString
from reportlab.graphics.shapes import Drawing

from brewlog.charts.plot import LimitLine, Plot, draw
from brewlog.charts.svg import svg

WIDE, NARROW = 720.0, 344.0
LETTERS = 12.0


@dataclass(frozen=True)
class Picture:
    """What a page shows: the sentence above, the picture, and a table that says the same.

    Where there is no drawing the sentence says why. `key` is unique on the page.
    """

    key: str
    title: str
    sentence: str = ""
    columns: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    described: str = ""
    drawing: Callable[[float], Drawing] | None = None
    # A web of boxes keeps its size and scrolls in its frame; a plot fits a phone.
    fits: bool = True

    @property
    def is_drawn(self) -> bool:
        return self.drawing is not None

    @property
    def table(self) -> list[list[tuple[str, str]]]:
        """The rows, each cell with its column's name for a narrow screen."""
        return [list(zip(self.columns, row, strict=True)) for row in self.rows]

    @property
    def wide(self) -> SafeString:
        return self._svg("wide", WIDE)

    @property
    def narrow(self) -> SafeString:
        return self._svg("narrow", NARROW)

    def _svg(self, name: str, width: float) -> SafeString:
        assert self.drawing is not None
        drawn = self.drawing(width)
        return svg(drawn, f"{self.key}-{name}", self.title, self.described)


def plotted(key: str, plot: Plot, sentence: str = "", when: str = "When") -> Picture:
    """The picture of a plot, with a table of its points, its marks and its limits."""
    several = len(plot.curves) > 1
    has_u = any(point.u for point in plot.points)
    rows = [
        (
            *((curve.name,) if several else ()),
            point.when,
            point.words,
            *((f"± {point.u:.2g}" if point.u else "",) if has_u else ()),
        )
        for curve in plot.curves
        for point in curve.points
    ]
    blank = ("",) * has_u
    rows += [(*(("",) if several else ()), mark.when, mark.words, *blank) for mark in plot.marks]
    rows += [
        (*(("",) if several else ()), _reach(limit), limit.words, *blank) for limit in plot.limits
    ]
    columns = (
        *(("Lot",) if several else ()),
        when,
        plot.unit,
        *(("Uncertainty, k = 1",) if has_u else ()),
    )
    return Picture(
        key,
        plot.title,
        sentence,
        columns,
        tuple(rows),
        _described(plot),
        lambda width: draw(plot, width, LETTERS),
    )


def _reach(limit: LimitLine) -> str:
    """For how long a line is drawn."""
    return "all along" if limit.until is None else "up to its deadline"


def _described(plot: Plot) -> str:
    """What a picture shows, for who cannot see it; the table has the values."""
    points = plot.points
    lowest, highest = (pick(points, key=lambda each: each.y).words for pick in (min, max))
    parts = [f"{len(points)} value{'' if len(points) == 1 else 's'}, {lowest} to {highest}"]
    parts += [f"{'limit' if limit.binds else 'line'}: {limit.words}" for limit in plot.limits]
    parts += [f"{mark.words}: {mark.when}" for mark in plot.marks]
    return ". ".join(parts) + ". The table below has every value."
