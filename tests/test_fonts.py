"""Letters as they are drawn, against another library's drawing of the same font: Pillow with Raqm,
which joins by HarfBuzz and orders by FriBidi."""

from __future__ import annotations

import io

import pymupdf_fonts
import pypdfium2
import pytest
from PIL import Image, ImageChops, ImageDraw, ImageFont, features
from reportlab.graphics import renderPDF
from reportlab.graphics.shapes import Drawing
from reportlab.pdfbase.pdfmetrics import getFont
from reportlab.pdfgen.canvas import Canvas

from brewlog.charts.ink import words
from brewlog.charts.svg import svg
from brewlog.fonts import REGULAR, lacking, letter_height, pieces_of, printable, use_fonts, width_of
from brewlog.shaped import ShapedFont
from compliance.documents.page import paragraph, styled
from compliance.documents.prose import draw_line

SIZE = 30


def drawn(text: str) -> Image.Image:
    """The text as papers draw it, black on white, at two points of picture for one of print."""
    use_fonts()
    made = io.BytesIO()
    canvas = Canvas(made, (400, 60), invariant=1)
    draw_line(canvas, 10, 20, printable(text), REGULAR, SIZE)
    canvas.save()
    return first_page(made.getvalue())


def first_page(pdf: bytes) -> Image.Image:
    document = pypdfium2.PdfDocument(pdf)
    picture = document[0].render(scale=2).to_pil().convert("L")
    document.close()
    return picture


def drawn_as_prose(text: str) -> Image.Image:
    made = io.BytesIO()
    canvas = Canvas(made, (400, 60), invariant=1)
    part = paragraph(text, styled("large", size=SIZE))
    part.wrapOn(canvas, 380, 60)
    part.drawOn(canvas, 10, 15)
    canvas.save()
    return first_page(made.getvalue())


def drawn_by_raqm(text: str, direction: str = "rtl") -> Image.Image:
    font = ImageFont.truetype(
        io.BytesIO(pymupdf_fonts.myfont("figo")), 2 * SIZE, layout_engine=ImageFont.Layout.RAQM
    )
    picture = Image.new("L", (800, 120), 255)
    plain = ["-kern", "-liga", "-dlig", "-calt"] if direction == "rtl" else []
    ImageDraw.Draw(picture).text(
        (20, 80), text, font=font, anchor="ls", direction=direction, features=plain
    )
    return picture


def ink_in_common(one: Image.Image, other: Image.Image) -> float:
    """How much of the ink of both is where both have it."""
    dark = [each.point(lambda shade: 255 * (shade < 128)) for each in (one, other)]
    dark = [each.crop(each.getbbox()) for each in dark]
    dark[1] = dark[1].resize(dark[0].size)
    both, either = ImageChops.multiply(*dark), ImageChops.lighter(*dark)
    return sum(both.histogram()[128:]) / sum(either.histogram()[128:])


@pytest.mark.skipif(not features.check("raqm"), reason="Pillow finds no libfribidi")
@pytest.mark.parametrize("word", ["شاي", "أسود", "بالزنجبيل", "كومبوتشا", "שלום", "לימון"])
def test_words_look_as_another_library_draws_them(word):
    assert ink_in_common(drawn(word), drawn_by_raqm(word)) > 0.85
    if len(word) > 3:
        unlike = drawn_by_raqm(word[::-1])
        assert ink_in_common(drawn(word), unlike) < 0.85


# Joined, put before the letter they follow, set over and under it; kept apart, and kept joined.
PUT_TOGETHER = ["कोम्बुचा", "अदरक", "हिन्दी", "शक्ति", "विद्या", "र्कि", "क्ष्म", "क्\u200cष", "दर्\u200dया"]

LEFT_APART = ["अदरक", "क्\u200cष"]


@pytest.mark.skipif(not features.check("raqm"), reason="Pillow finds no libfribidi")
@pytest.mark.parametrize("word", PUT_TOGETHER)
@pytest.mark.parametrize("draw", [drawn, drawn_as_prose])
def test_words_put_together_look_as_another_library_draws_them(draw, word):
    # Thin lines along the top lie a pixel off: each draws them to its own grid.
    assert ink_in_common(draw(word), drawn_by_raqm(word, "ltr")) > 0.75
    if word not in LEFT_APART:
        assert ink_in_common(draw(word), drawn_by_raqm("\u200c".join(word), "ltr")) < 0.75


@pytest.mark.parametrize("word", PUT_TOGETHER)
def test_a_word_put_together_is_as_wide_as_another_library_draws_it(word):
    theirs = ImageFont.truetype(
        io.BytesIO(pymupdf_fonts.myfont("figo")), 1000, layout_engine=ImageFont.Layout.RAQM
    )
    assert width_of(printable(word), REGULAR, 1000) == pytest.approx(theirs.getlength(word), abs=2)


def test_every_shape_has_its_code_before_anything_is_written():
    font = ShapedFont("x", io.BytesIO(pymupdf_fonts.myfont("figo")))
    assert len(font.face.glyphToChar) == font.face.numGlyphs


def test_the_plain_and_the_shaped_font_of_one_file_are_two():
    drawn("שחור अदरक")
    assert isinstance(getFont("Shaped"), ShapedFont)
    assert not isinstance(getFont("Further"), ShapedFont)


def test_joiners_are_kept_only_where_they_join():
    assert printable("tea\u200d क\u200dष") == "tea कष"


def test_each_letter_is_drawn_in_a_family_that_has_it():
    line = printable("tea שחור, 红茶, ჩაი")
    assert [font for font, _ in pieces_of(line, "Paper-Bold")] == [
        "Paper-Bold", "Further-Bold", "Paper-Bold", "Ideographs-Bold", "Paper-Bold", "Further-Bold",
    ]  # fmt: skip


def test_a_line_is_as_wide_as_its_pieces():
    line = printable("tea שחור 红茶")
    pieces = pieces_of(line, REGULAR)
    assert width_of(line, REGULAR, 10) == pytest.approx(
        sum(width_of(piece, font, 10) for font, piece in pieces)
    )


@pytest.mark.parametrize("words", ["কম্বুচা", "ชาหมัก", "թեյ"])
def test_what_no_family_has_or_places_rightly_is_lacking(words):
    assert lacking(f"{words} tea") == "".join(dict.fromkeys(words))
    assert printable(words) == "☐" * len(words)


def test_marks_of_order_are_not_drawn():
    assert printable("a\u2067ב\u2069\u200fc") == "aבc"


@pytest.mark.parametrize(
    ("letters", "least"),
    [("", 0.486), ("شاي", 0.390), ("שחור", 0.486), ("चाय", 0.486), ("茶", 0.486)],
)
def test_the_lowest_letters_tell_the_height(letters, least):
    assert letter_height(REGULAR, 10, letters) == pytest.approx(10 * least)


def test_a_picture_keeps_the_words_for_a_page_and_draws_them_for_paper():
    drawing = Drawing(200, 40)
    drawing.add(words((10, 10), "שחור 2026-01", 12))
    page = svg(drawing, "x", "title", "what it shows")
    assert "שחור \u20662026-01\u2069" in page
    paper = renderPDF.drawToString(drawing)
    assert first_page(paper).getextrema()[0] < 100


def test_a_picture_puts_letters_together_as_papers_do():
    drawing = Drawing(400, 60)
    drawing.add(words((10, 20), "शक्ति L-17", SIZE))
    paper = renderPDF.drawToString(drawing)
    assert ink_in_common(first_page(paper), drawn("शक्ति L-17")) > 0.95
