"""Symbols as parts of a page."""

from __future__ import annotations

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from brewlog.fonts import REGULAR, printable, width_of
from compliance.documents.barcodes import Symbol, draw_symbol
from compliance.documents.page import INK
from compliance.documents.prose import draw_line


class SymbolBlock(Flowable):
    """A symbol with the text it carries beneath it."""

    def __init__(
        self, symbol: Symbol, module_mm: float, words: str = "", bar_height_mm: float = 10
    ) -> None:
        super().__init__()
        self.symbol, self.module_mm, self.bar_height_mm = symbol, module_mm, bar_height_mm
        self.words = printable(words)
        self.width = symbol.width(module_mm * mm)
        self.height = symbol.height(module_mm * mm, bar_height_mm * mm) + (9 if words else 0)

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        below = 9 if self.words else 0
        draw_symbol(self.canv, self.symbol, 0, below, self.module_mm, self.bar_height_mm)
        if self.words:
            self.canv.setFillColor(INK)
            left = (self.width - width_of(self.words, REGULAR, 7.5)) / 2
            draw_line(self.canv, max(0, left), 1.5, self.words, REGULAR, 7.5)
