"""What the words of a drawing take up, as wide as a page sets them."""

from __future__ import annotations

from itertools import combinations

from reportlab.graphics.shapes import Drawing, String

from brewlog.charts import ink
from brewlog.charts.names import Room, room_of
from brewlog.fonts import BOLD

_SHARE_LEFT_OF = {"start": 0.0, "middle": 0.5, "end": 1.0}


def rooms(drawing: Drawing) -> list[tuple[str, Room]]:
    """Every word or line of words with its room."""
    found = []
    for shape in drawing.contents:
        if isinstance(shape, String):
            is_bold = shape.fontName == BOLD
            room = ink.room_for(shape.text, shape.fontSize, is_bold=is_bold)
            left = shape.x - room * _SHARE_LEFT_OF[shape.textAnchor]
            place = room_of((left, shape.y), shape.text, shape.fontSize, is_bold=is_bold)
            found.append((shape.text, place))
    return found


def written_over(drawing: Drawing) -> list[tuple[str, str]]:
    """The pairs of words that are written over each other."""
    return [
        (one, other)
        for (one, room), (other, elsewhere) in combinations(rooms(drawing), 2)
        if room.meets(elsewhere)
    ]


def cut_off(drawing: Drawing) -> list[str]:
    """Words that reach beyond the picture."""
    whole = Room(-0.5, -0.5, drawing.width + 0.5, drawing.height + 0.5)
    return [text for text, room in rooms(drawing) if not whole.holds(room)]
