"""The brewery's logo on paper."""

from __future__ import annotations

import io
from pathlib import PurePosixPath

from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from brewlog.logo import logo_bytes


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
