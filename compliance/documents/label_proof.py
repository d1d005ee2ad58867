"""One label to be looked at before many are printed: at its own size, marked as a proof."""

from __future__ import annotations

import io

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from brewlog.fonts import BOLD, use_fonts
from compliance.documents.label_packet import LabelPacket
from compliance.documents.label_rules import Market, Panel, net_heights, warning_heights
from compliance.documents.labels import draw_label, lay_label
from compliance.documents.page import BODY, SIDE, paragraph
from compliance.label_stock import PAGE_MM, SHEETS

_RULES = {Market.US: "US (21 CFR 101)", Market.EU: "EU (Regulation 1169/2011)"}
_AIR = 1.2 * mm


def label_proof(packet: LabelPacket, stock: str, symbol: str = "data_matrix") -> bytes:
    """The PDF: the label in the middle of a page, and what to check of it beneath.

    The word across it keeps a proof from being used as a label that nobody counted.
    """
    sheet = SHEETS[stock]
    width, height = (each * mm for each in PAGE_MM[stock])
    use_fonts()
    buffer = io.BytesIO()
    canvas = Canvas(buffer, (width, height), invariant=1, lang="en")
    canvas.setTitle(f"Proof of the label of lot {packet.lot_code}")
    canvas.setAuthor(packet.business)
    canvas.setCreator("brewlog")
    left = (width - sheet.label_width * mm) / 2
    bottom = height - 30 * mm - sheet.label_height * mm
    canvas.saveState()
    canvas.translate(left, bottom)
    _mark(canvas, sheet.label_width * mm, sheet.label_height * mm)
    panel = Panel(sheet.label_width, sheet.label_height)
    draw_label(canvas, lay_label(packet, panel, symbol), panel)
    canvas.restoreState()
    _beneath(canvas, packet, panel, SIDE, bottom - 8 * mm)
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _mark(canvas: Canvas, width: float, height: float) -> None:
    canvas.setStrokeGray(0.6)
    canvas.setLineWidth(0.4)
    canvas.rect(0, 0, width, height)
    canvas.saveState()
    canvas.translate(width / 2, height / 2)
    canvas.rotate(25)
    canvas.setFillGray(0.88)
    canvas.setFont(BOLD, 58)
    canvas.drawCentredString(0, -18, "PROOF")
    canvas.restoreState()


def _readings(packet: LabelPacket, panel: Panel) -> list[str]:
    """Each source the sizes go by, and how surely it was read."""
    markets = frozenset(Market(each) for each in packet.markets)
    heights = net_heights(markets, panel, packet.millilitres)
    heights += warning_heights(packet.millilitres) if packet.has_warning else []
    told = dict.fromkeys(f"{each.source} ({each.reading})" for each in heights)
    return [f"Heights of letters: {source}." for source in told]


def _beneath(canvas: Canvas, packet: LabelPacket, panel: Panel, left: float, top: float) -> None:
    rules = " and ".join(_RULES[Market(each)] for each in packet.markets)
    lines = [
        f"Type sizes by the rules of: {rules}. A limit here is no legal advice.",
        *_readings(packet, panel),
        *(f"Check: {note}" for note in packet.notes),
    ]
    room = canvas._pagesize[0] - left - SIDE
    for words in lines:
        part = paragraph(words, BODY)
        top -= part.wrap(room, top)[1]
        part.drawOn(canvas, left, top)
        top -= _AIR
