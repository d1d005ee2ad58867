"""The brewery's logo on paper."""

from __future__ import annotations

import io
from pathlib import PurePosixPath

from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Spacer

from brewlog.logo import logo_bytes, logo_within


def draw_logo(canvas: Canvas, name: str, x: float, y: float, width: float, height: float) -> None:
    """The logo in a box of that size with its lower left at x, y: once in the file, shown as
    often as it is drawn."""
    form = f"logo-{PurePosixPath(name).stem}"
    if not canvas.hasForm(form):
        canvas.beginForm(form, 0, 0, 1, 1)
        canvas.drawImage(ImageReader(io.BytesIO(logo_bytes(name))), 0, 0, 1, 1, mask="auto")
        canvas.endForm()
    canvas.saveState()
    canvas.translate(x, y)
    canvas.scale(width, height)
    canvas.doForm(form)
    canvas.restoreState()


def letterhead(name: str) -> list[Flowable]:
    """The logo at the top of a letter; nothing where there is none."""
    return [_Logo(name, 50 * mm, 16 * mm), Spacer(1, 8)] if logo_bytes(name) else []


class _Logo(Flowable):
    """The logo at the top of a letter, at its largest in so much room."""

    def __init__(self, name: str, width: float, height: float) -> None:
        super().__init__()
        self._name = name
        self.width, self.height = logo_within(name, width, height)

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        draw_logo(self.canv, self._name, 0, 0, self.width, self.height)
