"""A drawing as SVG for a page under a strict policy: no style, colours by class.

reportlab's own writer puts everything in `style`, which the policy refuses, and gives every
picture the same ids. This one writes the few shapes that our drawings are made of.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe
from reportlab.graphics.shapes import (
    Circle,
    Drawing,
    Line,
    Path,
    Polygon,
    PolyLine,
    Rect,
    String,
)

from brewlog.charts.ink import ROLES, OtherWords
from brewlog.fonts import BOLD
from brewlog.scripts import is_from_right, set_apart

_CLASS = {colour.hexval(): name for name, colour in ROLES.items()}


def svg(drawing: Drawing, name: str, title: str, description: str) -> SafeString:
    """The drawing, to be read out as its title and description. `name` is unique on the page."""
    width, height = _number(drawing.width), _number(drawing.height)
    shapes = "\n".join(_written(shape, drawing.height) for shape in drawing.contents)
    return mark_safe(  # noqa: S308  every text is escaped
        f'<svg class="chart" role="img" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}" aria-labelledby="{name}-title {name}-desc">\n'
        f'<title id="{name}-title">{escape(title)}</title>\n'
        f'<desc id="{name}-desc">{escape(description)}</desc>\n{shapes}\n</svg>'
    )


def _number(value: float) -> str:
    # Adding nothing turns a minus nothing into nothing.
    return f"{round(value, 1) + 0.0:.1f}".removesuffix(".0")


def _written(shape: Any, height: float) -> str:
    return _WRITERS[type(shape)](shape, height)


def _attributes(**given: str | float) -> str:
    return " ".join(
        f'{name.replace("_", "-")}="{value if isinstance(value, str) else _number(value)}"'
        for name, value in given.items()
    )


def _paint(shape: Any) -> str:
    """What it is filled and drawn with, as classes, and the weight of its line."""
    fill = getattr(shape, "fillColor", None)
    stroke = getattr(shape, "strokeColor", None)
    names = [f"fill-{_CLASS[fill.hexval()]}" if fill else "fill-none"]
    given = {}
    if stroke:
        names.append(f"line-{_CLASS[stroke.hexval()]}")
        given["stroke_width"] = f"{shape.strokeWidth:g}"
        if shape.strokeDashArray:
            given["stroke_dasharray"] = " ".join(f"{each:g}" for each in shape.strokeDashArray)
    return f'class="{" ".join(names)}" {_attributes(**given)}'.rstrip()


def _line(shape: Line, height: float) -> str:
    ends = _attributes(x1=shape.x1, y1=height - shape.y1, x2=shape.x2, y2=height - shape.y2)
    return f"<line {ends} {_paint(shape)}/>"


def _rect(shape: Rect, height: float) -> str:
    top = height - shape.y - shape.height
    place = _attributes(x=shape.x, y=top, width=shape.width, height=shape.height)
    return f"<rect {place} {_paint(shape)}/>"


def _circle(shape: Circle, height: float) -> str:
    return f"<circle {_attributes(cx=shape.cx, cy=height - shape.cy, r=shape.r)} {_paint(shape)}/>"


def _pairs(numbers: list[float], height: float) -> Iterator[str]:
    for x, y in zip(numbers[::2], numbers[1::2], strict=True):
        yield f"{_number(x)},{_number(height - y)}"


def _polyline(shape: PolyLine, height: float) -> str:
    return f'<polyline points="{" ".join(_pairs(shape.points, height))}" {_paint(shape)}/>'


def _polygon(shape: Polygon, height: float) -> str:
    return f'<polygon points="{" ".join(_pairs(shape.points, height))}" {_paint(shape)}/>'


# reportlab's path operators: how many pairs each takes, and SVG's letter for it.
_OPERATORS = ((1, "M"), (1, "L"), (3, "C"), (0, "Z"))


def _path(shape: Path, height: float) -> str:
    pairs = _pairs(shape.points, height)
    steps = []
    for operator in shape.operators:
        count, letter = _OPERATORS[operator]
        steps.append(letter + " ".join(next(pairs) for _ in range(count)))
    return f'<path d="{" ".join(steps)}" {_paint(shape)}/>'


def _string(shape: String, height: float) -> str:
    weight = {"font_weight": "600"} if shape.fontName == BOLD else {}
    place = _attributes(
        x=shape.x,
        y=height - shape.y,
        font_size=f"{shape.fontSize:g}",
        text_anchor=str(shape.textAnchor),
        **weight,
    )
    said = set_apart(shape.text, is_from_right(shape.text))
    return f"<text {place} {_paint(shape)}>{escape(said)}</text>"


_WRITERS: dict[type, Callable[[Any, float], str]] = {
    Line: _line,
    Rect: _rect,
    Circle: _circle,
    PolyLine: _polyline,
    Polygon: _polygon,
    Path: _path,
    String: _string,
    OtherWords: _string,
}
