"""Lines of Chinese and Japanese, which have no spaces to be broken at.

A line is broken at the last place it may be (`UNSPACED_BREAK`) or after a space, so that a full
stop or a closing bracket stays with what it closes and goes down with it. (reportlab's own way
lets one such sign hang over the edge of its column, and a second one begin the next line.)
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.platypus.paragraph import ParaLines, cjkU, makeCJKParaLine

from brewlog.scripts import UNSPACED_BREAK

# Widths are sums of floats.
_ROUNDING = 1e-6


def broken(frags: Sequence[Any], widths: Sequence[float]) -> ParaLines:
    """The lines of a paragraph's parts; `widths` of the first line, and of the others."""
    letters = [cjkU(c, frag, "utf8") for frag in frags for c in (frag.text or ("",))]
    breaks = _breaks(letters)
    lines: list[Any] = []
    start = 0
    while start < len(letters):
        width = widths[min(len(lines), len(widths) - 1)]
        end = _end_of_line(letters, start, width, breaks)
        lines.append(_line(letters[start:end], width))
        start = end
    return ParaLines(kind=1, lines=lines)


def _breaks(letters: Sequence[Any]) -> set[int]:
    """The places a line may end before: by the letters, and after a space."""
    text = "".join(c or "\n" for c in letters)
    found = {match.start() for match in UNSPACED_BREAK.finditer(text)}
    return found | {at + 1 for at, letter in enumerate(text) if letter == " "}


def _end_of_line(letters: Sequence[Any], start: int, width: float, breaks: set[int]) -> int:
    """Where the line ends that begins there. One word longer than the line is cut."""
    used = 0.0
    last = 0
    for at in range(start, len(letters)):
        if at in breaks and at > start:
            last = at
        if hasattr(letters[at].frag, "lineBreak"):
            return at + 1
        used += letters[at].width
        # A space at the end of a line takes no room.
        if used > width + _ROUNDING and letters[at] != " ":
            return last or max(at, start + 1)
    return len(letters)


def _line(letters: Sequence[Any], width: float) -> Any:
    """One line. Its last space is kept for the words to be put together again over a page."""
    used = sum(letter.width for letter in letters)
    if letters[-1] == " ":
        used -= letters[-1].width
    is_last = hasattr(letters[-1].frag, "lineBreak")
    return makeCJKParaLine(letters, width, used, width - used, is_last, False)


def put_together(lines: Any, start: int, stop: int) -> list[Any]:
    """The parts of some lines, for a paragraph that goes on over the page."""
    return [part for line in lines.lines[start:stop] for part in line.words]
