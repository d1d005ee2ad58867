"""A web of lots as boxes and lines: across for the way of a lot, downwards for a family."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator
from dataclasses import dataclass
from typing import Any

from reportlab.graphics.shapes import Drawing, Path

from brewlog.charts import ink
from brewlog.charts.layers import Layout, layered
from brewlog.fonts import use_fonts

# More boxes than these are not read as a picture any more.
MOST_BOXES = 60

# In letters: a box, the least between boxes of a layer, and what a line passing through takes.
_BOX_WIDTH, _BOX_HEIGHT = 11.5, 3.6
_BETWEEN = 0.9
_PASSING = 1.2
_LEAST_GAP = 3.0


@dataclass(frozen=True)
class Box:
    """A lot: its code, a line on what it is, and a line on how it stands."""

    key: str
    title: str
    what: str = ""
    state: str = ""
    is_asked: bool = False
    is_faint: bool = False
    rank: int | None = None


@dataclass(frozen=True)
class Join:
    """A line from one box to another, with its words at the far end.

    A dot before the words says that what they name lies between the two.
    """

    source: str
    into: str
    words: str = ""
    is_through: bool = False


@dataclass(frozen=True)
class Web:
    """All that is drawn. `ranks` are the names of the ranks; only a web downwards has them."""

    title: str
    boxes: tuple[Box, ...]
    joins: tuple[Join, ...]
    is_down: bool = False
    ranks: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True)
class _Laid:
    """Places along and across the layers, in points. `along` is the near side of each layer."""

    web: Web
    layout: Layout
    size: float
    along: list[float]
    depth: float
    across: dict[tuple[int, float], float]
    extent: dict[str, float]
    ports: dict[tuple[str, str], float]
    length: float
    breadth: float

    def at(self, along: float, across: float) -> ink.Place:
        """A place on the drawing: layers run to the right, or downwards."""
        if self.web.is_down:
            return across, self.length - along
        return along, self.breadth - across


def web_size(web: Web, size: float) -> tuple[float, float]:
    """Width and height of the drawing with letters of that size."""
    laid = _lay(web, size)
    return (laid.breadth, laid.length) if web.is_down else (laid.length, laid.breadth)


def draw_web(web: Web, size: float) -> Drawing:
    """The web with letters of that size, in points."""
    use_fonts()
    laid = _lay(web, size)
    width, height = (laid.breadth, laid.length) if web.is_down else (laid.length, laid.breadth)
    drawing = Drawing(width, height)
    shapes = [*(_path(laid, join) for join in web.joins), *_ranks(laid)]
    for join in web.joins:
        shapes += _join_words(laid, join)
    for box in web.boxes:
        shapes += _box(laid, box)
    for shape in shapes:
        drawing.add(shape)
    return drawing


def _lay(web: Web, size: float) -> _Laid:
    keys = [box.key for box in web.boxes]
    pairs = [(join.source, join.into) for join in web.joins]
    ranked: dict[Hashable, int] = {box.key: box.rank for box in web.boxes if box.rank is not None}
    layout = layered(keys, pairs, ranked or None)
    widest = max((ink.room_for(join.words, size * 0.9) for join in web.joins), default=0.0)
    incoming: dict[str, list[str]] = defaultdict(list)
    for join in web.joins:
        incoming[join.into].append(join.source)
    slot = widest + size if web.is_down else size * 1.15
    side = size * (_BOX_WIDTH if web.is_down else _BOX_HEIGHT)
    extent = {key: max(side, slot * len(incoming[key])) for key in keys}
    across, breadth = _across(layout, extent, size)
    depth = size * (_BOX_HEIGHT if web.is_down else _BOX_WIDTH)
    gap = size * _LEAST_GAP + (size if web.is_down else widest)
    first = size if not web.ranks else size * 1.8
    along = [first + number * (depth + gap) for number in range(len(layout.layers))]
    length = (along[-1] if along else 0.0) + depth + size
    ports = {}
    for key, sources in incoming.items():
        before = {source: across[layout.paths[source, key][-2]] for source in sources}
        ordered = sorted(sources, key=lambda source: (before[source], source))
        middle = across[layout.place[key]]
        for number, source in enumerate(ordered):
            ports[source, key] = middle + (number - (len(ordered) - 1) / 2) * (
                extent[key] / len(ordered)
            )
    return _Laid(web, layout, size, along, depth, across, extent, ports, length, breadth)


def _across(
    layout: Layout, extent: dict[str, float], size: float
) -> tuple[dict[tuple[int, float], float], float]:
    """The middle of every box and bend across its layer, each layer about the same middle."""
    rows: dict[int, dict[float, float]] = defaultdict(dict)
    for path in layout.paths.values():
        for layer, position in path:
            rows[layer][position] = size * _PASSING
    for node, (layer, position) in layout.place.items():
        rows[layer][position] = extent[str(node)]
    totals = {
        layer: sum(row.values()) + size * _BETWEEN * (len(row) - 1) for layer, row in rows.items()
    }
    breadth = max(totals.values(), default=0.0) + 2 * size
    found = {}
    for layer, row in rows.items():
        edge = (breadth - totals[layer]) / 2
        for position in sorted(row):
            found[layer, position] = edge + row[position] / 2
            edge += row[position] + size * _BETWEEN
    return found, breadth


def _path(laid: _Laid, join: Join) -> Path:
    """From the far side of one box, straight past the layers between, to its place at the other."""
    points = laid.layout.paths[join.source, join.into]
    line = ink.curve(ink.SOFT)
    layer, _ = points[0]
    here = (laid.along[layer] + laid.depth, laid.across[points[0]])
    line.moveTo(*laid.at(*here))
    for number, point in enumerate(points[1:], start=1):
        is_last = number == len(points) - 1
        across = laid.ports[join.source, join.into] if is_last else laid.across[point]
        there = (laid.along[point[0]], across)
        middle = (here[0] + there[0]) / 2
        line.curveTo(*laid.at(middle, here[1]), *laid.at(middle, there[1]), *laid.at(*there))
        here = there
        if not is_last:
            here = (there[0] + laid.depth, across)
            line.lineTo(*laid.at(*here))
    return line


def _join_words(laid: _Laid, join: Join) -> Iterator[Any]:
    if not join.words:
        return
    size = laid.size * 0.9
    layer, _ = laid.layout.place[join.into]
    x, y = laid.at(laid.along[layer], laid.ports[join.source, join.into])
    room = ink.room_for(join.words, size)
    if laid.web.is_down:
        yield ink.box((x - room / 2, y + size * 0.25), room, size * 1.15, None)
        yield ink.words((x, y + size * 0.5), join.words, size, ink.SOFT, anchor="middle")
        if join.is_through:
            yield ink.dot((x, y + size * 1.65), size * 0.26, ink.ACCENT)
        return
    yield ink.box((x - room - size * 0.4, y - size * 0.5), room, size, None)
    yield ink.words((x - size * 0.4, y - size * 0.33), join.words, size, ink.SOFT, anchor="end")


def _box(laid: _Laid, box: Box) -> Iterator[Any]:
    size = laid.size
    layer, _ = place = laid.layout.place[box.key]
    middle = laid.across[place]
    extent, depth = laid.extent[box.key], laid.depth
    if laid.web.is_down:
        x, y = laid.at(laid.along[layer] + depth, middle - extent / 2)
        width, height = extent, depth
    else:
        x, y = laid.at(laid.along[layer], middle + extent / 2)
        width, height = depth, extent
    outline = ink.ACCENT if box.is_asked else ink.SOFT if box.is_faint else ink.INK
    weight = 2.0 if box.is_asked else 0.8
    dashes = (2, 2) if box.is_faint else ()
    yield ink.box((x, y), width, height, outline, weight=weight, dashes=dashes)
    rows = [(box.title, ink.INK, True), (box.what, ink.SOFT, False), (box.state, ink.INK, False)]
    rows = [row for row in rows if row[0]]
    top = y + height / 2 + len(rows) * size * 0.55
    for number, (text, colour, is_bold) in enumerate(rows):
        letters = size if is_bold else size * 0.85
        shown = ink.fitted(text, letters, width - size * 0.6, is_bold=is_bold)
        place_of = (x + width / 2, top - (number + 0.8) * size * 1.1)
        yield ink.words(place_of, shown, letters, colour, anchor="middle", is_bold=is_bold)


def _ranks(laid: _Laid) -> Iterator[Any]:
    """A line and a name above the first layer of each rank."""
    first: dict[int, int] = {}
    for box in laid.web.boxes:
        if box.rank is not None:
            layer, _ = laid.layout.place[box.key]
            first[box.rank] = min(layer, first.get(box.rank, layer))
    size = laid.size
    for rank, name in laid.web.ranks:
        _, y = laid.at(laid.along[first[rank]] - size * (1.8 if first[rank] == 0 else 2.9), 0)
        if first[rank] > 0:
            yield ink.line((0, y), (laid.breadth, y), ink.HAIR, 0.8)
        yield ink.box((0, y - size * 1.4), ink.room_for(name, size * 0.9), size * 1.2, None)
        yield ink.words((0, y - size * 1.15), name, size * 0.9, ink.ACCENT)
