"""Label stock: where labels stand on a sheet or a roll. Plain geometry, in millimetres."""

from __future__ import annotations

from dataclasses import dataclass

# Printed at a time.
MOST_LABELS = 2000


class LabelError(ValueError):
    """A label that cannot be laid out. The message names the line and what to do."""


@dataclass(frozen=True)
class Sheet:
    """Where labels stand on a page; all lengths in millimetres. The pitch is from the edge
    of one label to the same edge of the next. On a roll, each label is a page of its own.

    Raises `LabelError` where they do not fit the page, or lie over one another.
    """

    name: str
    page_width: float
    page_height: float
    columns: int
    rows: int
    label_width: float
    label_height: float
    left: float
    top: float
    pitch_across: float
    pitch_down: float

    def __post_init__(self) -> None:
        across = self.left + (self.columns - 1) * self.pitch_across + self.label_width
        down = self.top + (self.rows - 1) * self.pitch_down + self.label_height
        if across > self.page_width + 0.01:
            raise LabelError(f"{self.name}: the labels are wider than the page.")
        if down > self.page_height + 0.01:
            raise LabelError(f"{self.name}: the labels are higher than the page.")
        over = self.columns > 1 and self.pitch_across < self.label_width - 0.01
        if over or (self.rows > 1 and self.pitch_down < self.label_height - 0.01):
            raise LabelError(f"{self.name}: the labels lie over one another.")

    @property
    def per_page(self) -> int:
        return self.columns * self.rows

    def corner(self, place: int) -> tuple[float, float]:
        """The lower left of the label at a place of the page (0 first)."""
        row, column = divmod(place, self.columns)
        x = self.left + column * self.pitch_across
        y = self.top + row * self.pitch_down + self.label_height
        return x, self.page_height - y


def roll(name: str, width: float, height: float) -> Sheet:
    """Labels one after the other, as a label printer takes them."""
    return Sheet(name, width, height, 1, 1, width, height, 0.0, 0.0, width, height)


PAGE_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
# Common sizes of label stock (common practice), for who has written down none of their own.
SHEETS = {
    "a4": Sheet("A4, 2 by 4", *PAGE_MM["a4"], 2, 4, 99.0, 67.7, 4.7, 13.0, 101.6, 67.7),
    "letter": Sheet("Letter, 2 by 3", *PAGE_MM["letter"], 2, 3, 101.6, 84.6, 4, 12.7, 106.4, 84.6),
    "single": roll("Single label", 99.0, 67.7),
}  # fmt: skip
