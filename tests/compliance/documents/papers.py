"""Reading papers back: their words, their pictures, their barcodes."""

from __future__ import annotations

import io

import pypdf
import pypdfium2
import zxingcpp
from PIL.Image import Image


def words_of(pdf: bytes) -> str:
    """All words of all pages, one space between, as a reader meets them."""
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def pages_of(pdf: bytes) -> list[str]:
    """The words of each page."""
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return [" ".join(page.extract_text().split()) for page in pages]


def fonts_of(pdf: bytes) -> dict[str, str]:
    """Each piece of text of the first page with the cut of its type."""
    page = pypdf.PdfReader(io.BytesIO(pdf)).pages[0]
    found: dict[str, str] = {}

    def note(text, cm, tm, font, size):
        if text.strip() and font:
            found[text.strip()] = font["/BaseFont"].rpartition("-")[2]

    page.extract_text(visitor_text=note)
    return found


def pictures_of(pdf: bytes, dpi: float) -> list[Image]:
    """Each page as a printer of that resolution sees it."""
    document = pypdfium2.PdfDocument(pdf)
    found = [page.render(scale=dpi / 72).to_pil().convert("L") for page in document]
    document.close()
    return found


def codes_of(pdf: bytes, dpi: float) -> list[zxingcpp.Barcode]:
    """Every barcode of every page."""
    return [code for picture in pictures_of(pdf, dpi) for code in zxingcpp.read_barcodes(picture)]


def ink_in_margins(pdf: bytes, margin_mm: float) -> int:
    """How many dark points stand nearer to an edge than the margin."""
    dark = 0
    for picture in pictures_of(pdf, 72):
        edge = int(margin_mm / 25.4 * 72)
        inner = (edge, edge, picture.width - edge, picture.height - edge)
        picture.paste(255, inner)
        dark += sum(picture.histogram()[:128])
    return dark
