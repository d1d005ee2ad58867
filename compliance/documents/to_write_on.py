"""What is written on a paper by hand: lines to sign, and names with a line beside each."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Table

from brewlog.charts.ink import INK, SOFT
from compliance.documents.page import CELL, COLUMN, Heading, paragraph


def to_sign(title: str, meanings: Sequence[str], *above: Flowable) -> list[Flowable]:
    """A section to sign: its heading, what stands above the lines, and the lines, on one page:
    a signature on a page of its own would sign nothing."""
    return [KeepTogether([Heading(title), *above, _lines_to_sign(meanings)])]


def signatures(meanings: Sequence[str]) -> Flowable:
    """Lines to sign on paper: what the signature means, name, signature, date and time."""
    return KeepTogether([_lines_to_sign(meanings)])


def _lines_to_sign(meanings: Sequence[str]) -> Table:
    heads = ("", "Name in print", "", "Signature", "", "Date and time")
    rows: list[list[object]] = [[paragraph(head, COLUMN) for head in heads]]
    rows += [[paragraph(meaning, CELL), "", "", "", "", ""] for meaning in meanings]
    block = Table(
        rows,
        colWidths=["26%", "26%", "2%", "26%", "2%", "18%"],
        rowHeights=[12, *[10 * mm] * len(meanings)],
    )
    style: list[tuple] = [
        ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    ]
    for column in (1, 3, 5):
        style += [
            ("LINEBELOW", (column, row), (column, row), 0.5, INK) for row in range(1, len(rows))
        ]
    block.setStyle(style)
    return block


def ruled_lines(labels: Sequence[str]) -> Flowable:
    """Names with an empty line beside each, to write on."""
    rows = [[paragraph(label, CELL), ""] for label in labels]
    block = Table(rows, colWidths=["42%", "58%"], rowHeights=[7.5 * mm] * len(rows))
    block.setStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
            ("LINEBELOW", (1, 0), (1, -1), 0.4, SOFT),
        ]
    )
    return block
