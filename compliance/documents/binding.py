"""Many papers bound as one: chapters, a table of contents with page numbers, bookmarks.

The pages are drawn once. The numbers in the contents are written when all pages are there,
into room that was left for them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, PageBreak

from brewlog.charts.ink import HAIR
from brewlog.fonts import BOLD, REGULAR, printable, width_of
from compliance.documents.page import (
    BOTTOM,
    INK,
    PAPERS,
    SIDE,
    SOFT,
    TOP,
    Head,
    NumberedCanvas,
    render,
)

_LINE = 5.6 * mm
_HEADING = 12 * mm


class Chapter(Flowable):
    """Begins a chapter (level 0) or a paper in it (level 1): a line of the contents, a bookmark.

    `head` is what the pages say from there on; without it, what the binder's cover says.
    """

    def __init__(self, title: str, level: int, head: Head) -> None:
        super().__init__()
        self.title, self.level, self.head = title, level, head

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        return 0, 0

    def draw(self) -> None:
        self.canv.chapter(self.title, self.level, self.head)


class _ContentsPage(Flowable):
    """A page left free for a part of the contents."""

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        return width, height

    def draw(self) -> None:
        self.canv.leave_for_contents()


class BoundCanvas(NumberedCanvas):
    """Writes the contents into the pages left for it."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._contents_pages: list[int] = []
        self._level = 0
        self._listed: list[int] = []

    def chapter(self, title: str, level: int, head: Head) -> None:
        self._level = level
        self._listed.append(len(self._marks))
        super().bookmark(title, level, head)

    def bookmark(self, title: str, level: int = 0, head: Head | None = None) -> None:
        """A heading within a chapter: a bookmark under it, no line of the contents."""
        if self._listed:
            super().bookmark(title, self._level + 1, head)

    def leave_for_contents(self) -> None:
        self._contents_pages.append(len(self._held) + 1)

    def _finish(self, number: int, count: int) -> None:
        if number in self._contents_pages:
            self._write_contents(self._contents_pages.index(number))
        super()._finish(number, count)

    def _write_contents(self, place: int) -> None:
        """The lines of one page of the contents, each leading to its page."""
        lines = lines_of_a_page(self._pagesize[1])
        right = self._pagesize[0] - SIDE
        y = self._pagesize[1] - TOP - _HEADING
        self.setFillColor(INK)
        self._line(y + 4 * mm, "Contents" if place == 0 else "Contents, continued", "", BOLD, 14)
        for key in self._listed[place * lines : (place + 1) * lines]:
            mark = self._marks[key]
            y -= _LINE
            self.setFillColor(INK if mark.level == 0 else SOFT)
            font = BOLD if mark.level == 0 else REGULAR
            indent = "" if mark.level == 0 else "      "
            self._line(y, f"{indent}{mark.title}", str(mark.page), font, 9)
            self._leader(y, f"{indent}{mark.title}", str(mark.page), font)
            # Named: each held page counts its own links from the first.
            name, area = f"contents-{key}", (SIDE, y - 1.5, right, y + 9)
            self.linkRect("", f"heading-{key}", area, name=name, relative=0)

    def _leader(self, y: float, title: str, page: str, font: str) -> None:
        """Dots that lead the eye from a title to its page."""
        left = SIDE + width_of(printable(title), font, 9) + 2 * mm
        right = self._pagesize[0] - SIDE - width_of(page, font, 9) - 2 * mm
        if left < right:
            self.saveState()
            self.setStrokeColor(HAIR)
            self.setLineWidth(0.7)
            self.setLineCap(1)
            # From the right, so that the dots of all lines stand under one another.
            self.setDash([0, 3.2])
            self.line(right, y + 0.5, left, y + 0.5)
            self.restoreState()


def lines_of_a_page(height: float) -> int:
    """How many lines of contents a page of that height holds."""
    return int((height - TOP - BOTTOM - _HEADING) / _LINE) - 1


def bind(head: Head, cover: Sequence[Flowable], inside: Sequence[Flowable], paper: str) -> bytes:
    """The PDF of a cover, the contents, and what is inside, which begins with a `Chapter`."""
    chapters = sum(isinstance(part, Chapter) for part in inside)
    pages = max(1, math.ceil(chapters / lines_of_a_page(PAPERS[paper][1])))
    contents = [part for _ in range(pages) for part in (PageBreak(), _ContentsPage())]
    return render(head, [*cover, *contents, *inside], paper, BoundCanvas)
