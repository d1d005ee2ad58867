"""Code 128, Data Matrix and QR symbols as plain modules, and the drawing of them.

A symbol knows nothing of paper: it is rows of dark and light modules and the quiet zone
its standard asks for. Printers of 203 dpi print in steps of 0.125 mm: choose module
widths that are a multiple of the step (0.25, 0.375, 0.5 mm).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from reportlab.graphics.barcode import qrencoder
from reportlab.graphics.barcode.code128 import Code128Auto
from reportlab.graphics.barcode.ecc200datamatrix import ECC200DataMatrix
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from brewlog.gs1 import SEPARATOR

# reportlab writes FNC1 of Code 128 as this character.
_CODE128_FNC1 = "\xf1"


class BarcodeError(ValueError):
    """Text that the symbol cannot carry. The message says why."""


@dataclass(frozen=True)
class Symbol:
    """Rows of modules from the top, True where dark, and the quiet zone in modules.

    A linear symbol has one row, drawn as high as one likes.
    """

    rows: tuple[tuple[bool, ...], ...]
    quiet: int
    quiet_above: int

    @property
    def columns(self) -> int:
        return len(self.rows[0])

    @property
    def is_linear(self) -> bool:
        return len(self.rows) == 1

    def width(self, module: float) -> float:
        """Width with the quiet zones, in the unit of `module`."""
        return (self.columns + 2 * self.quiet) * module

    def height(self, module: float, bar_height: float = 0) -> float:
        """Height with the quiet zones, in the unit of `module`."""
        own = bar_height if self.is_linear else len(self.rows) * module
        return own + 2 * self.quiet_above * module


def code128(text: str, *, gs1: bool = False) -> Symbol:
    """A Code 128 symbol of ASCII text; with `gs1`, of a GS1 element string (GS1-128).

    Always by `Code128Auto`: reportlab's `Code128` loses digits around FNC1 without a word.
    Raises `BarcodeError`; GS1-128 carries at most 48 characters.
    """
    _check_ascii(text)
    if gs1 and len(text) > 48:
        raise BarcodeError(f"{len(text)} characters are more than the 48 a GS1-128 symbol holds.")
    data = _CODE128_FNC1 + text.replace(SEPARATOR, _CODE128_FNC1) if gs1 else text
    drawn = Code128Auto(data, quiet=0)
    drawn._calculate()
    modules: list[bool] = []
    # Lower-case letters are spaces and capitals bars, a to d of one to four modules.
    for letter in drawn.decomposed:
        modules += [letter.isupper()] * (ord(letter.upper()) - ord("A") + 1)
    return Symbol((tuple(modules),), quiet=10, quiet_above=0)


class _DataMatrix(ECC200DataMatrix):
    """Square ECC 200 symbols of up to 144 codewords, in ASCII encodation, with FNC1.

    The placement and the Reed-Solomon arithmetic are reportlab's, which knows one size
    (44 x 44) and one encodation (C40) only. Sizes and codewords: ISO/IEC 16022, table 7
    and clause 5.2.
    """

    # side, data codewords, error correction codewords, regions along a side
    SIZES = (
        (10, 3, 5, 1), (12, 5, 7, 1), (14, 8, 10, 1), (16, 12, 12, 1), (18, 18, 14, 1),
        (20, 22, 18, 1), (22, 30, 20, 1), (24, 36, 24, 1), (26, 44, 28, 1), (32, 62, 36, 2),
        (36, 86, 42, 2), (40, 114, 48, 2), (44, 144, 56, 2),
    )  # fmt: skip
    PAD = 129
    FNC1 = 232

    def __init__(self, text: str, gs1: bool) -> None:
        super().__init__(text)
        self.codewords = [self.FNC1] if gs1 else []
        self.codewords += self._ascii_codewords(text, gs1)
        fitting = [size for size in self.SIZES if size[1] >= len(self.codewords)]
        if not fitting:
            raise BarcodeError(f"'{text}' is too long for a Data Matrix on a label.")
        side, self.cw_data, self.cw_ecc, regions = fitting[0]
        self.row_modules = self.col_modules = side
        self.row_regions = self.col_regions = regions
        self.row_usable_modules = self.col_usable_modules = side - 2 * regions

    def _ascii_codewords(self, text: str, gs1: bool) -> list[int]:
        words: list[int] = []
        position = 0
        while position < len(text):
            pair = text[position : position + 2]
            if len(pair) == 2 and pair.isdigit():
                words.append(130 + int(pair))
                position += 2
                continue
            words.append(self.FNC1 if gs1 and pair[0] == SEPARATOR else ord(pair[0]) + 1)
            position += 1
        return words

    def _padded(self) -> list[int]:
        """Codewords filled up: a plain pad first, the others scattered by their place."""
        words = list(self.codewords)
        if len(words) < self.cw_data:
            words.append(self.PAD)
        while len(words) < self.cw_data:
            scattered = self.PAD + (149 * (len(words) + 1)) % 253 + 1
            words.append(scattered - 254 if scattered > 254 else scattered)
        return words

    def matrix(self) -> list[list[int]]:
        words = self._padded()
        words += self._get_reed_solomon_code(words, self.cw_ecc)
        regions = self._create_data_regions(self._create_matrix(words))
        return self._merge_data_regions(self._wrap_data_regions_with_finders(regions))


def data_matrix(text: str, *, gs1: bool = False) -> Symbol:
    """A Data Matrix of ASCII text; with `gs1`, FNC1 first (GS1 DataMatrix).

    Raises `BarcodeError` for other characters and beyond 144 codewords.
    """
    _check_ascii(text)
    matrix = _DataMatrix(text, gs1).matrix()
    return Symbol(tuple(tuple(bool(m) for m in row) for row in matrix), quiet=2, quiet_above=2)


def qr(text: str, *, gs1: bool = False) -> Symbol:
    """A QR code of any text at level M; with `gs1`, in GS1 mode."""
    if not text:
        raise BarcodeError("There is nothing to put in the QR code.")
    if gs1:
        _check_ascii(text)
    code = qrencoder.QRCode(None, qrencoder.QRErrorCorrectLevel.M)
    if gs1:
        code.addData(qrencoder.QRFNC1First())
    code.addData(qrencoder.QR8bitByte(text))
    code.make()
    rows = tuple(tuple(bool(m) for m in row) for row in code.modules)
    return Symbol(rows, quiet=4, quiet_above=4)


def _check_ascii(text: str) -> None:
    if not text:
        raise BarcodeError("There is nothing to put in the barcode.")
    odd = sorted({c for c in text if not (" " <= c <= "~" or c == SEPARATOR)})
    if odd:
        raise BarcodeError(f"'{text}' has characters no scanner reads back: {' '.join(odd)}")


def draw_symbol(
    canvas: Canvas, symbol: Symbol, x: float, y: float, module_mm: float, bar_height_mm: float = 10
) -> None:
    """Draw in black with the lower left of the quiet zone at `x`, `y` (points)."""
    module = module_mm * mm
    row_height = bar_height_mm / module_mm if symbol.is_linear else 1
    canvas.saveState()
    canvas.setFillGray(0)
    canvas.translate(x, y)
    canvas.scale(module, module)
    # In whole modules, as one literal: a rectangle at a time is slow for hundreds of labels.
    canvas.addLiteral(_rectangles(symbol, row_height))
    canvas.restoreState()


def _rectangles(symbol: Symbol, row_height: float) -> str:
    """The dark runs of each row as PDF rectangles, the module being the unit."""
    top = len(symbol.rows) * row_height + symbol.quiet_above
    found = []
    for number, row in enumerate(symbol.rows, start=1):
        column = symbol.quiet
        for dark, run in groupby(row):
            length = len(list(run))
            if dark:
                found.append(f"{column} {top - number * row_height:g} {length} {row_height:g} re")
            column += length
    return " ".join([*found, "f"])
