"""A report on paper: its sheets as tables on wide pages, for who asks for paper."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable, Spacer

from compliance.documents.page import (
    BODY,
    SMALL,
    Column,
    Row,
    heading,
    lacking_note,
    paragraph,
    render,
    table,
    title_block,
)
from compliance.documents.to_write_on import to_sign
from compliance.documents.workbook import Cell
from compliance.exchange.reports import Report, ReportSheet, in_figures

# Some four hundred pages. Of more rows than these the paper says where they all are.
MOST_ROWS_PRINTED = 10_000
# How many letters a column gives room for, at least and at most.
_NARROWEST, _WIDEST = 5, 18
# Words longer than this are broken; and what is between columns, in letters.
_LONGEST_WORD, _BETWEEN = 15, 2
# So many rows tell how wide a column has to be.
_LOOKED_AT = 200
# What a row lacks stands beneath it: most rows lack nothing.
LACKING = "lacking"


def report_paper(report: Report, paper: str = "a4") -> bytes:
    """The PDF of a report. `paper` is `a4` or `letter`; the pages lie on their side."""
    story: list[Flowable] = title_block(report.head.title, [report.asked], report.head.state)
    story += [Spacer(1, 4), *(paragraph(words, SMALL) for words in report.notes)]
    story += lacking_note(report.to_json())
    left = MOST_ROWS_PRINTED
    for sheet in report.sheets:
        story += _sheet(sheet, left)
        left = max(0, left - len(sheet.rows))
    story += to_sign("Looked through", ("Records looked through by",))
    return render(report.head, story, paper, is_wide=True)


def _sheet(sheet: ReportSheet, most: int) -> list[Flowable]:
    """A sheet's heading, what it is about, and its rows."""
    found = heading(sheet.name)
    if not sheet.rows:
        return [*found, table([], [], sheet.none)]
    rows = sheet.rows[:most]
    if len(rows) < len(sheet.rows):
        words = (
            f"Printed are {len(rows)} of {len(sheet.rows)} rows: more are too many for paper. "
            "All of them are in the workbook and in the JSON file."
        )
        found.append(paragraph(words, BODY))
    found += [paragraph(sheet.about, SMALL), Spacer(1, 2)]
    if not rows:
        return found
    below = sheet.heads.index(LACKING) if LACKING in sheet.heads else None
    kept = [number for number in range(len(sheet.heads)) if number != below]
    columns = [_column(sheet.heads[number], [row[number] for row in rows]) for number in kept]
    return [*found, table(columns, [_row(row, kept, below) for row in rows], "")]


def _row(row: Sequence[Cell], kept: Sequence[int], below: int | None) -> Row:
    beneath = [f"{LACKING}: {row[below]}"] if below is not None and row[below] else []
    return Row([_shown(row[number]) for number in kept], below=beneath)


def _shown(value: Cell) -> str:
    if value is None:
        return ""
    return in_figures(value) if isinstance(value, int | float) else value


def _column(head: str, values: Sequence[Cell]) -> Column:
    """As wide as most of its values need, and at least as their longest words."""
    known = [value for value in values if value not in (None, "")]
    looked_at = [_shown(value) for value in known[:_LOOKED_AT]]
    lengths = sorted(map(len, looked_at)) or [0]
    usual = min(lengths[len(lengths) * 9 // 10], _WIDEST)
    longest_word = max(len(word) for text in (head, *looked_at) for word in text.split())
    share = max(usual, min(longest_word, _LONGEST_WORD), _NARROWEST) + _BETWEEN
    figures = bool(known) and all(isinstance(value, int | float) for value in known)
    # What stands right beside figures is kept further from them.
    return Column(head.capitalize(), share + _BETWEEN * figures, right=figures)
