"""The colours and letters of pictures, by what they are for.

On paper they are these inks; on a page each is a class that the stylesheet colours for
light, dark and print.
"""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.graphics.shapes import (
    Circle,
    Group,
    Line,
    Path,
    Polygon,
    PolyLine,
    Rect,
    String,
    UserNode,
)
from reportlab.lib.colors import Color, HexColor, white

from brewlog.fonts import BOLD, REGULAR, is_plain, pieces_of, printable, width_of
from brewlog.shaped import in_shapes

INK = HexColor("#111111")
SOFT = HexColor("#5a5a5a")
HAIR = HexColor("#b9b4ac")
ACCENT = HexColor("#7a3e12")  # brewed tea: 8.6:1 on white, prints dark without colour
LIMIT = HexColor("#8c1d18")
BAND = HexColor("#ece6da")
PAPER = white

ROLES: dict[str, Color] = {
    "ink": INK,
    "soft": SOFT,
    "hair": HAIR,
    "accent": ACCENT,
    "limit": LIMIT,
    "band": BAND,
    "paper": PAPER,
}

Place = tuple[float, float]


def line(
    start: Place, end: Place, colour: Color, width: float = 0.6, dashes: Sequence[float] = ()
) -> Line:
    return Line(
        *start, *end, strokeColor=colour, strokeWidth=width, strokeDashArray=list(dashes) or None
    )


def polyline(
    places: Sequence[Place], colour: Color, width: float = 1.0, dashes: Sequence[float] = ()
) -> PolyLine:
    flat = [number for place in places for number in place]
    return PolyLine(
        flat, strokeColor=colour, strokeWidth=width, strokeDashArray=list(dashes) or None
    )


def area(places: Sequence[Place], fill: Color) -> Polygon:
    flat = [number for place in places for number in place]
    return Polygon(flat, fillColor=fill, strokeColor=None)


def dot(place: Place, radius: float, fill: Color, outline: Color | None = None) -> Circle:
    return Circle(*place, radius, fillColor=fill, strokeColor=outline, strokeWidth=1)


def box(
    corner: Place,
    width: float,
    height: float,
    outline: Color | None,
    fill: Color = PAPER,
    *,
    weight: float = 0.6,
    dashes: Sequence[float] = (),
) -> Rect:
    return Rect(
        *corner,
        width,
        height,
        fillColor=fill,
        strokeColor=outline,
        strokeWidth=weight,
        strokeDashArray=list(dashes) or None,
    )


def curve(colour: Color, width: float = 0.7, dashes: Sequence[float] = ()) -> Path:
    """An empty path, to be moved along."""
    return Path(
        strokeColor=colour,
        strokeWidth=width,
        fillColor=None,
        strokeDashArray=list(dashes) or None,
    )


class OtherWords(String, UserNode):
    """Words with letters that need more than the first type family, or run from right to left.
    On paper they are drawn piece by piece; a page's browser sets them itself."""

    def provideNode(self) -> Group:  # noqa: N802 reportlab's name
        shown = printable(self.text)
        room = {"start": 0.0, "middle": 0.5, "end": 1.0}[str(self.textAnchor)]
        left = self.x - room * width_of(shown, self.fontName, self.fontSize)
        drawn = Group()
        for font, piece in pieces_of(shown, self.fontName):
            drawn.add(
                String(left, self.y, in_shapes(piece, font), fontName=font, fontSize=self.fontSize,
                       fillColor=self.fillColor)
            )  # fmt: skip
            left += width_of(piece, self.fontName, self.fontSize)
        return drawn


def words(
    place: Place,
    text: str,
    size: float,
    colour: Color = INK,
    *,
    anchor: str = "start",
    is_bold: bool = False,
) -> String:
    kind = String if is_plain(printable(text)) else OtherWords
    return kind(
        *place,
        printable(text) if kind is String else text,
        fontName=BOLD if is_bold else REGULAR,
        fontSize=size,
        fillColor=colour,
        textAnchor=anchor,
    )


def room_for(text: str, size: float, *, is_bold: bool = False) -> float:
    """The room to leave for words: pages are set in wider letters than papers."""
    return 1.22 * width_of(printable(text), BOLD if is_bold else REGULAR, size)


def fitted(text: str, size: float, room: float, *, is_bold: bool = False) -> str:
    """The words, cut with an ellipsis where they are wider than the room."""
    if room_for(text, size, is_bold=is_bold) <= room:
        return text
    while text and room_for(text + "…", size, is_bold=is_bold) > room:
        text = text[:-1]
    return text + "…"


def wrapped(text: str, size: float, room: float) -> list[str]:
    """The words on as many lines as they need."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and room_for(longer, size) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
