"""Small cards to hang on a jar, a tank or a sack: what it is, and a code that leads to its page."""

from __future__ import annotations

import datetime as dt
import io
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Frame, KeepInFrame, Spacer, Table

from brewlog.fonts import use_fonts
from brewlog.models import CultureLot, IngredientLot, Lot, LotKind, User, Vessel
from brewlog.recording import Refused
from brewlog.trace import generation
from brewlog.units import show_temperature
from compliance.documents.as_read import Told, as_read
from compliance.documents.barcodes import BarcodeError, Symbol, data_matrix, draw_symbol, qr
from compliance.documents.page import (
    ACCENT,
    CELL,
    COLUMN,
    HAIR,
    LABEL,
    Head,
    Pair,
    paragraph,
    styled,
)
from compliance.documents.printing import DRAFT, Desk, blocks_in_words, desk, what, written

# A quarter of A4 or Letter, cut twice.
WIDTH, HEIGHT, EDGE = 148 * mm, 105 * mm, 7 * mm
ASIDE = 36 * mm
SMALL_MODULE = 0.5
_CODE = styled("card-code", size=26, bold=True)
_WHAT = styled("card-what", size=12)
_CAUTION = styled("card-caution", size=8.5, bold=True)


@dataclass(frozen=True)
class CardPacket:
    """What a card says. `columns` are the heads of the empty rows to write on, `code` what
    the small barcode carries ('' for none), `url` where the QR leads."""

    head: Head
    name: str
    description: str
    code: str
    url: str
    facts: tuple[Pair, ...]
    caution: str
    columns: tuple[str, ...]

    def to_json(self) -> str:
        """The same facts as JSON, two spaces deep."""
        return json.dumps(asdict(self), ensure_ascii=False, indent=2) + "\n"


# Collecting ----------------------------------------------------------------------------------


def collect_card(
    lot: Lot, *, url: str, printed_by: User | str, printed_at: dt.datetime
) -> CardPacket:
    """The card of a culture, or the tag of a delivery. Raises `Refused` for other lots."""
    with desk(printed_by, printed_at) as at_desk:
        if lot.kind == LotKind.CULTURE:
            return _culture(lot, at_desk, url)
        if lot.kind == LotKind.INGREDIENT:
            return _delivery(lot, at_desk, url)
        raise Refused(
            f"{lot} is a {lot.get_kind_display()}. Cards are for cultures and deliveries."
        )


def _culture(lot: Lot, at_desk: Desk, url: str) -> CardPacket:
    culture = CultureLot.objects.select_related("line", "vessel", "done_by").get(pk=lot.pk)
    state = blocks_in_words(culture)[0].replace(DRAFT, "in use")
    facts = (
        Pair("Line", str(culture.line)),
        Pair("Came by", culture.get_origin_display()),
        Pair("Transfers since bought", str(generation(culture))),
        Pair("Begun", Told(f"{culture.when}, {culture.done_by}")),
        Pair("Vessel", str(culture.vessel or "")),
        Pair("Liquid, pellicles", f"{culture.made_text or 'not measured'}, {culture.pellicles}"),
    )
    return CardPacket(
        head=at_desk.head("Culture card", f"Lot {culture.code}", state),
        name=culture.code,
        description=what(culture),
        code=culture.code,
        url=url,
        facts=facts,
        caution="Mould: do not taste it, do not scrape it off. Keep it apart, call the reviewer.",
        columns=("Day", "pH", "Look and smell", "Fed or drawn", "By"),
    )


def _delivery(lot: Lot, at_desk: Desk, url: str) -> CardPacket:
    delivery = IngredientLot.objects.select_related("ingredient", "supplier", "done_by").get(
        pk=lot.pk
    )
    state, _ = blocks_in_words(delivery)
    cold = delivery.arrival_temperature
    facts = (
        Pair("Amount received", delivery.made_text),
        Pair("Received", Told(f"{delivery.when}, {delivery.done_by}")),
        Pair("Supplier", str(delivery.supplier or "")),
        Pair("Supplier's lot", delivery.supplier_code),
        Pair("Best before", written(delivery.best_before)),
        Pair("Arrived at", Told(show_temperature(cold) if cold is not None else "")),
        Pair("Allergens", delivery.ingredient.allergens or "none named"),
        Pair("Document", f"{delivery.document_type} {delivery.document_number}".strip()),
    )
    return CardPacket(
        head=at_desk.head("Receiving tag", f"Lot {delivery.code}", state),
        name=delivery.code,
        description=str(delivery.ingredient),
        code=delivery.code,
        url=url,
        facts=facts,
        caution="Do not use it before it is accepted, nor after its day. First in, first out.",
        columns=("Day", "Taken", "For", "Left", "By"),
    )


def collect_vessel_card(
    vessel: Vessel, *, url: str, printed_by: User | str, printed_at: dt.datetime
) -> CardPacket:
    """The card of a vessel: it stays when what is in it changes."""
    with desk(printed_by, printed_at) as at_desk:
        state = "NOT for acid drink" if vessel.is_unsuitable else "for acid drink"
        return CardPacket(
            head=at_desk.head("Vessel card", vessel.name, state),
            name=vessel.name,
            description=vessel.get_material_display(),
            code="",
            url=url,
            facts=(Pair("Holds", vessel.capacity_text),),
            caution="Tanks that held drink can hold carbon dioxide: air them, never go in alone.",
            columns=("Lot in it", "Since", "Cleaned", "Sanitised", "By"),
        )


# Drawing -------------------------------------------------------------------------------------


def card(packet: CardPacket) -> bytes:
    """The PDF: one page of the card's own size. What is too long is set smaller."""
    use_fonts()
    packet = as_read(packet)
    buffer = io.BytesIO()
    canvas = Canvas(buffer, (WIDTH, HEIGHT), invariant=1, lang="en")
    canvas.setTitle(f"{packet.head.title}: {packet.head.subject}")
    canvas.setAuthor(packet.head.brewery)
    canvas.setCreator("brewlog")
    room = WIDTH - 2 * EDGE - ASIDE - 4 * mm
    _framed(canvas, _left(packet), EDGE, HEIGHT * 0.36, room, HEIGHT * 0.64 - EDGE)
    _framed(canvas, [_rows(packet)], EDGE, EDGE + 5 * mm, WIDTH - 2 * EDGE, HEIGHT * 0.36 - 17 * mm)
    _codes(canvas, packet)
    head = packet.head
    printed = f"{head.brewery} · printed {head.printed}"
    _framed(canvas, [paragraph(printed, styled("card-foot", size=6.5))], EDGE, EDGE - 3 * mm,
            WIDTH - 2 * EDGE, 6 * mm)  # fmt: skip
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _framed(
    canvas: Canvas, parts: Sequence[Flowable], x: float, y: float, width: float, height: float
) -> None:
    """The parts in a box, shrunk where there are too many of them."""
    kept = KeepInFrame(width, height, list(parts), mode="shrink")
    Frame(x, y, width, height, 0, 0, 0, 0).addFromList([kept], canvas)


def _left(packet: CardPacket) -> list[Flowable]:
    facts = [
        [paragraph(pair.label, LABEL), paragraph(pair.value or "–", CELL)] for pair in packet.facts
    ]
    block = Table(facts, colWidths=["36%", "64%"], hAlign="LEFT")
    block.setStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("TOPPADDING", (0, 0), (-1, -1), 0.6),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 0.6),
        ]
    )
    return [
        paragraph(f"{packet.head.title} · {packet.head.state}", COLUMN),
        paragraph(packet.name, _CODE),
        paragraph(packet.description, _WHAT),
        Spacer(1, 3),
        block,
        Spacer(1, 2),
        paragraph(packet.caution, _CAUTION),
    ]


def _rows(packet: CardPacket) -> Flowable:
    """Empty rows to write on, with a pen, beside the jar."""
    heads = [paragraph(column, COLUMN) for column in packet.columns]
    block = Table([heads, *[[""] * len(heads)] * 2], rowHeights=[10, 6.2 * mm, 6.2 * mm])
    block.setStyle(
        [
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("TOPPADDING", (0, 0), (-1, 0), 0),
            ("LINEBELOW", (0, 0), (-1, 0), 0.8, ACCENT),
            ("LINEBELOW", (0, 1), (-1, -1), 0.4, HAIR),
        ]
    )
    return block


def _codes(canvas: Canvas, packet: CardPacket) -> None:
    """The QR that opens the record's page, and under it the lot code for a scanner."""
    left = WIDTH - EDGE - ASIDE
    top = HEIGHT - EDGE
    opened = qr(packet.url)
    module = ASIDE / mm / opened.width(1)
    top -= ASIDE
    draw_symbol(canvas, opened, left, top, module)
    small = _small(packet.code)
    if small is not None:
        dark_edge = left + (opened.quiet * module - small.quiet * SMALL_MODULE) * mm
        below = top - small.height(SMALL_MODULE * mm)
        draw_symbol(canvas, small, dark_edge, below, SMALL_MODULE)


def _small(code: str) -> Symbol | None:
    """The lot code; None where there is none, or no barcode carries it."""
    try:
        return data_matrix(code) if code else None
    except BarcodeError:
        return None
