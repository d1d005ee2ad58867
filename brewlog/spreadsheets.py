"""Texts on their way into a spreadsheet: never a formula, never what a cell cannot hold."""

from __future__ import annotations

import re

from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

# A spreadsheet reads these as the start of a formula; a telephone number may begin with one.
_FORMULA = re.compile(r"^[\t\r]|^\s*[=@]|^\s*[+-](?![\d\s().-]+$)")
# The most characters of one cell in an XLSX file (ECMA-376's limit in practice, from memory).
_LONGEST = 32_767


def harmless(text: str) -> str:
    """A text that a spreadsheet program would take for a formula, marked as text."""
    # Nearly every text begins with a letter or a figure: no formula does.
    return text if text[:1].isalnum() or not _FORMULA.match(text) else f"'{text}"


def fitting(text: str) -> str:
    """A text as a workbook can hold it: without control characters, and not too long."""
    return ILLEGAL_CHARACTERS_RE.sub(" ", text)[:_LONGEST]
