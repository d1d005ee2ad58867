from __future__ import annotations

import datetime as dt
import io
import random

import pypdfium2
import pytest
import zxingcpp
from biip.gs1_messages import GS1Message
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from brewlog import gs1
from compliance.documents.barcodes import BarcodeError, code128, data_matrix, draw_symbol, qr

# The resolution of a common label printer and of an office printer.
RESOLUTIONS = (203, 300)
# Two and three dots of the coarser: 0.25 mm and 0.375 mm; a QR or Data Matrix takes 0.5 mm.
LINEAR_MODULE = 0.375
MATRIX_MODULE = 0.5


def page_of(symbols, module_mm):
    """One PDF page per symbol, just large enough."""
    buffer = io.BytesIO()
    canvas = Canvas(buffer, invariant=1)
    for symbol in symbols:
        width, height = symbol.width(module_mm * mm), symbol.height(module_mm * mm, 10 * mm)
        canvas.setPageSize((width + 4 * mm, height + 4 * mm))
        draw_symbol(canvas, symbol, 2 * mm, 2 * mm, module_mm)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def read_pages(pdf, dpi):
    """What a scanner reads from each page: one barcode each."""
    found = []
    document = pypdfium2.PdfDocument(pdf)
    for page in document:
        image = page.render(scale=dpi / 72).to_pil()
        codes = zxingcpp.read_barcodes(image)
        assert len(codes) == 1, f"{len(codes)} symbols read at {dpi} dpi"
        found.append(codes[0])
    document.close()
    return found


def random_lot_codes(count, seed):
    """Codes with digit runs of every length, odd and even, in every place."""
    chance = random.Random(seed)
    letters = "ABCXYZabcxyz-/._+"
    codes = []
    while len(codes) < count:
        parts = []
        for _ in range(chance.randint(1, 4)):
            parts.append("".join(chance.choices("0123456789", k=chance.randint(0, 7))))
            parts.append("".join(chance.choices(letters, k=chance.randint(0, 3))))
        code = "".join(parts)[:20]
        if code:
            codes.append(code)
    return codes


def random_items(count, seed):
    """GS1 element strings of bottles, some with a separator inside."""
    chance = random.Random(seed)
    items = []
    for code in random_lot_codes(count, seed):
        digits = "".join(chance.choices("0123456789", k=12))
        elements = gs1.trade_item(
            digits + gs1.check_digit(digits),
            dt.date(2027, 1, 1) + dt.timedelta(days=chance.randint(0, 400)),
            code,
        )
        if chance.random() < 0.5:
            elements = [elements[0], elements[2], elements[1]]
        items.append(elements)
    return items


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize(
    ("draw", "module", "kind"),
    [(code128, LINEAR_MODULE, "]C0"), (data_matrix, MATRIX_MODULE, "]d1"), (qr, 0.5, "]Q1")],
)
def test_every_plain_code_is_read_back_as_written(draw, module, kind, dpi):
    texts = random_lot_codes(150, seed=dpi)
    read = read_pages(page_of([draw(text) for text in texts], module), dpi)
    assert [code.text for code in read] == texts
    assert {code.symbology_identifier for code in read} == {kind}


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize(
    ("draw", "module", "kind"),
    [(code128, LINEAR_MODULE, "]C1"), (data_matrix, MATRIX_MODULE, "]d2"), (qr, 0.5, "]Q3")],
)
def test_every_gs1_code_is_read_back_and_parsed(draw, module, kind, dpi):
    items = random_items(150, seed=dpi)
    symbols = [draw(gs1.element_string(elements), gs1=True) for elements in items]
    read = read_pages(page_of(symbols, module), dpi)
    assert {code.symbology_identifier for code in read} == {kind}
    for code, elements in zip(read, items, strict=True):
        sent = code.bytes.decode("ascii")
        message = GS1Message.parse(sent.lstrip("\x1d"))
        assert [(e.ai.ai, e.value) for e in message.element_strings] == [
            (e.identifier, e.value) for e in elements
        ]


@pytest.mark.parametrize("length", range(1, 60))
def test_data_matrix_of_every_length_is_read_back(length):
    text = ("A7" * length)[:length]
    assert read_pages(page_of([data_matrix(text)], MATRIX_MODULE), 300)[0].text == text


def test_data_matrix_grows_with_the_text_and_ends_at_its_largest_size():
    sides = [
        data_matrix("A" * n).columns for n in (3, 5, 8, 12, 18, 22, 30, 36, 44, 62, 86, 114, 144)
    ]
    assert sides == [10, 12, 14, 16, 18, 20, 22, 24, 26, 32, 36, 40, 44]
    with pytest.raises(BarcodeError, match="too long"):
        data_matrix("A" * 145)


@pytest.mark.parametrize("draw", [code128, data_matrix])
@pytest.mark.parametrize("text", ["Lé12", "L\u200b1", "L→1"])
def test_characters_no_scanner_reads_back_are_refused(draw, text):
    with pytest.raises(BarcodeError, match="no scanner reads back"):
        draw(text)


@pytest.mark.parametrize("draw", [code128, data_matrix, qr])
def test_an_empty_code_is_refused(draw):
    with pytest.raises(BarcodeError, match="nothing to put"):
        draw("")


def test_gs1_128_holds_48_characters():
    code128("1" * 48, gs1=True)
    with pytest.raises(BarcodeError, match="48"):
        code128("1" * 49, gs1=True)
