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
        elements = [
            gs1.Element("01", _gtin(chance)),
            gs1.date_element("15", dt.date(2027, 1, 1) + dt.timedelta(chance.randint(0, 400))),
            gs1.lot_element(code),
        ]
        if chance.random() < 0.5:
            elements = [elements[0], elements[2], elements[1]]
        items.append(elements)
    return items


def _gtin(chance):
    digits = "".join(chance.choices("0123456789", k=13))
    return digits + gs1.check_digit(digits)


# Every character of GS1's set 82 that a lot code or a serial number may have.
SET_82 = "!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz"


def _value(chance):
    """Up to 20 characters: digits alone, odd and even; anything; digits with a letter between."""
    length = chance.choice([1, 2, 3, 5, 7, 11, 19, 20, 20])
    letters = chance.choice(["0123456789", SET_82, "0123456789" * 6 + "Aa-/"])
    return "".join(chance.choices(letters, k=length))


def awkward_items(count, seed):
    """Element strings with FNC1 in every place: values of odd length before and after one,
    several of variable length side by side, up to the 48 characters a GS1-128 holds."""
    chance = random.Random(seed)
    made = {
        "01": _gtin, "02": _gtin,
        "11": lambda c: f"27{c.randint(1, 12):02}{c.randint(1, 28):02}",
        "15": lambda c: f"27{c.randint(1, 12):02}{c.randint(1, 28):02}",
        "10": _value, "21": _value, "240": _value,
        "37": lambda c: str(c.randint(1, 10 ** c.randint(1, 8) - 1)),
    }  # fmt: skip
    items = []
    while len(items) < count:
        chosen = chance.sample(sorted(made), chance.randint(1, 4))
        elements = [gs1.Element(key, made[key](chance)) for key in chosen]
        if len(gs1.element_string(elements)) <= 48:
            items.append(elements)
    return items


def sheets_of(symbols, module_mm, each=24):
    """Pages of many symbols, well apart, so that a thousand are read in seconds."""
    buffer = io.BytesIO()
    canvas = Canvas(buffer, invariant=1)
    module = module_mm * mm
    for start in range(0, len(symbols), each):
        y, x, row = 2 * mm, 2 * mm, 0.0
        page = symbols[start : start + each]
        across = 4 if page[0].columns < 60 else 1
        width = max(symbol.width(module) for symbol in page) + 6 * mm
        height = max(symbol.height(module, 5 * mm) for symbol in page) + 6 * mm
        rows = -(-len(page) // across)
        canvas.setPageSize((width * across, height * rows))
        for number, symbol in enumerate(page):
            row, column = divmod(number, across)
            x, y = column * width + 3 * mm, row * height + 3 * mm
            draw_symbol(canvas, symbol, x, y, module_mm, bar_height_mm=5)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def read_sheets(pdf, dpi):
    """What is read of each page as a printer prints it, in black or white: along the grey rim
    of a smoothed picture one in some thousand rows of a Code 128 passes its check wrongly."""
    found = []
    document = pypdfium2.PdfDocument(pdf)
    for page in document:
        smooth = page.render(scale=dpi / 72).to_pil().convert("L")
        found += zxingcpp.read_barcodes(smooth.point(lambda grey: 255 if grey > 127 else 0))
    document.close()
    return found


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize(
    ("draw", "module", "count"),
    [(code128, 0.375, 200), (data_matrix, MATRIX_MODULE, 200), (qr, MATRIX_MODULE, 100)],
)
def test_of_a_thousand_awkward_strings_none_is_read_wrong(draw, module, count, dpi):
    items = awkward_items(count, seed=dpi + count)
    strings = {gs1.element_string(elements): elements for elements in items}
    read = read_sheets(sheets_of([draw(text, gs1=True) for text in strings], module), dpi)
    sent = [code.bytes.decode("ascii").removeprefix("\x1d") for code in read]
    assert set(sent) == set(strings)
    assert len(sent) == len(strings)
    for text in sent:
        message = GS1Message.parse(text)
        assert [(e.ai.ai, e.value) for e in message.element_strings] == [
            (e.identifier, e.value) for e in strings[text]
        ]


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize(
    ("draw", "module", "kind"),
    [(code128, LINEAR_MODULE, "]C0"), (data_matrix, MATRIX_MODULE, "]d1"), (qr, 0.5, "]Q1")],
)
def test_every_plain_code_is_read_back_as_written(draw, module, kind, dpi):
    texts = random_lot_codes(60, seed=dpi)
    read = read_pages(page_of([draw(text) for text in texts], module), dpi)
    assert [code.text for code in read] == texts
    assert {code.symbology_identifier for code in read} == {kind}


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize(
    ("draw", "module", "kind"),
    [(code128, LINEAR_MODULE, "]C1"), (data_matrix, MATRIX_MODULE, "]d2"), (qr, 0.5, "]Q3")],
)
def test_every_gs1_code_is_read_back_and_parsed(draw, module, kind, dpi):
    items = random_items(40, seed=dpi)
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
