"""What a printing of labels says, as a workbook and as JSON: for a printing house, which sets them
itself.

The first sheet has a column for each line of the label, as programs that set variable text read
it; the second the lines as they stand on ours. A card or a blank paper has no such file: the
first is one record, in its list's spreadsheet, and the second is for a pen.
"""

from __future__ import annotations

import datetime as dt
import json

from reportlab.lib.units import mm

from brewlog.fonts import BOLD
from compliance.documents.label_run import PrintedLabel
from compliance.documents.workbook import SheetOf, workbook_bytes
from compliance.models import LabelRun

# FNC1 within an element string, which a workbook cannot hold: GS1 General Specifications write it
# so.
_SEPARATOR = "<FNC1>"


def run_workbook(run: LabelRun, at: dt.datetime) -> bytes:
    """The XLSX file of a printing; `at` stands as when it was made."""
    printed = PrintedLabel.from_json(run.printed)
    title = f"Labels of lot {printed.laid.packet.lot_code}"
    return workbook_bytes([_label(run, printed), _lines(printed)], title, at)


def run_json(run: LabelRun) -> str:
    """The printing as JSON, two spaces deep: how many, and all that was kept of the label."""
    said = {
        "count": run.count,
        "start": run.start,
        "what": run.what,
        "lines": dict(PrintedLabel.from_json(run.printed).lines),
        "printed": json.loads(run.printed),
    }
    return json.dumps(said, ensure_ascii=False, indent=2) + "\n"


def _label(run: LabelRun, printed: PrintedLabel) -> SheetOf:
    drawn, sheet = printed.laid.drawn, printed.sheet
    said = {
        "labels": run.count,
        **dict(printed.lines),
        "barcode": drawn.kind.replace("_", " "),
        "barcode holds": drawn.text.replace("\x1d", _SEPARATOR),
        "barcode is GS1": "yes" if drawn.is_gs1 else "no",
        "module, mm": drawn.module_mm,
        "label width, mm": sheet.label_width,
        "label height, mm": sheet.label_height,
    }
    return SheetOf("Label", tuple(said), [tuple(said.values())])


def _lines(printed: PrintedLabel) -> SheetOf:
    heads = ("line", "words", "bold words", "size, pt", "from the top, mm", "from the right")
    rows = [
        (
            number,
            "".join(words for words, _ in line.pieces).strip(),
            "".join(words for words, font in line.pieces if font == BOLD).strip(),
            line.size,
            round(line.below_top / mm, 2),
            "yes" if line.from_right else "no",
        )
        for number, line in enumerate(printed.laid.lines, start=1)
    ]
    return SheetOf("Lines", heads, rows)
