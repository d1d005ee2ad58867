"""The lot sheet: all that was recorded of one lot, on paper to be reviewed and signed."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain, zip_longest

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer, Table

from brewlog.charts.plot import draw
from compliance.documents.as_read import as_read
from compliance.documents.barcodes import BarcodeError, data_matrix
from compliance.documents.flowables import SymbolBlock
from compliance.documents.late import told_together
from compliance.documents.lot_packet import Entry, LotPacket, UseEntry
from compliance.documents.page import (
    BODY,
    SMALL,
    Column,
    Row,
    lacking_note,
    pairs,
    paragraph,
    render,
    section,
    table,
    title_block,
)
from compliance.documents.to_write_on import to_sign

# Wide enough for `Sep 28, 2026 10:05 *`.
_WHEN = 18.5
SIGNED_AS = ("Made and recorded by", "Record reviewed by", "Released or rejected by")


def lot_sheet(packet: LotPacket, paper: str = "a4") -> bytes:
    """The PDF of the sheet. `paper` is `a4` or `letter`."""
    return render(packet.head, lot_story(packet), paper)


def lot_story(packet: LotPacket) -> list[Flowable]:
    """The parts of the sheet, as it stands by itself or in a binder."""
    packet, late = told_together(as_read(packet))
    parts = (
        _top(packet, late),
        section("What it is", *pairs(packet.identity)),
        _planned(packet),
        _made_from(packet),
        _steps(packet),
        _readings(packet),
        _conditions(packet),
        _laboratory(packet),
        _line_checks(packet),
        _made_into(packet),
        _changes(packet),
        _shipments(packet),
        _moves(packet),
        _balance(packet),
        _limits(packet),
        _holds(packet),
        _deviations(packet),
        _flags(packet),
        section("Cautions", *(paragraph(words, BODY) for words in packet.cautions)),
        _signatures(packet),
    )
    return list(chain.from_iterable(parts))


def symbol_of(code: str, module_mm: float = 0.5) -> SymbolBlock | None:
    """A Data Matrix of a lot code, to scan from paper; None for codes it cannot carry."""
    try:
        return SymbolBlock(data_matrix(code), module_mm)
    except BarcodeError:
        return None


def _top(packet: LotPacket, late: Sequence[str]) -> list[Flowable]:
    lines = [f"{packet.kind.capitalize()}: {packet.description}"]
    found = title_block(packet.code, lines, packet.head.state, symbol_of(packet.code))
    found += [paragraph(f"Kept back: {words}", BODY) for words in packet.blocks]
    found += [paragraph(sentence, SMALL) for sentence in late]
    return [*found, *lacking_note(packet.to_json())]


def beneath(entry: Entry) -> list[str]:
    """The line under an entry: its note, its late mark, and why it was struck out."""
    marks = [f"note: {entry.note}"] if entry.note else []
    marks += [mark for mark in (entry.late, entry.void) if mark]
    return [" · ".join(marks)] if marks else []


def entry_row(entry: Entry, *cells: object) -> Row:
    return Row(cells, below=beneath(entry), is_struck=bool(entry.void))


def _planned(packet: LotPacket) -> list[Flowable]:
    if not packet.planned:
        return []
    columns = [
        Column("Ingredient", 30),
        Column("By recipe", 17, right=True),
        Column("Planned", 17, right=True),
        Column("Used", 19, right=True),
        Column("Difference", 14, right=True),
    ]
    rows = [
        Row((p.what, p.per_litre, p.planned, p.used, p.difference), below=_lots_below(p.lots))
        for p in packet.planned
    ]
    volume = packet.planned_volume
    aim = f"Planned volume {volume}." if volume else "No planned volume was written."
    return section(
        "Planned and used", paragraph(aim, SMALL), Spacer(1, 2), table(columns, rows, "")
    )


# More lots than these would fill a page with short lines.
_LOTS_APART = 6


def _lots_below(lots: Sequence[str]) -> Sequence[str]:
    """A line for each lot; very many of them one after the other."""
    return lots if len(lots) <= _LOTS_APART else ["; ".join(lots)]


_USE_COLUMNS = (
    Column("When", _WHEN),
    Column("Lot", 19),
    Column("What it is", 33),
    Column("Amount", 14, right=True),
    Column("For", 17),
    Column("By", 15),
)


def _use_rows(uses: Sequence[UseEntry]) -> list[Row]:
    rows = []
    for use in uses:
        their = f" (supplier's lot {use.their_code})" if use.their_code else ""
        known = f"{use.kind}: {use.what}{their}"
        rows.append(entry_row(use, use.when, use.other, known, use.quantity, use.purpose, use.by))
    return rows


def _made_from(packet: LotPacket) -> list[Flowable]:
    if not packet.uses_in and packet.kind == "ingredient":
        return []
    none = "Nothing of another lot went in."
    return section("Lots that went in", table(_USE_COLUMNS, _use_rows(packet.uses_in), none))


def _made_into(packet: LotPacket) -> list[Flowable]:
    none = "Nothing of this lot went into another."
    return section("Lots it went into", table(_USE_COLUMNS, _use_rows(packet.uses_out), none))


def _steps(packet: LotPacket) -> list[Flowable]:
    if not packet.steps and packet.kind not in {"brew", "batch", "preparation"}:
        return []
    columns = [
        Column("When", _WHEN),
        Column("Step", 26),
        Column("Temperature", 13, right=True),
        Column("Volume", 13, right=True),
        Column("For", 11, right=True),
        Column("Instrument", 20),
        Column("By", 15),
    ]
    rows = [
        entry_row(s, s.when, s.what, s.temperature, s.volume, s.minutes, s.instrument, s.by)
        for s in packet.steps
    ]
    return section("Process steps", table(columns, rows, "No steps recorded."))


def _readings(packet: LotPacket) -> list[Flowable]:
    if not packet.readings and packet.kind == "ingredient":
        return []
    columns = [
        Column("When", 19),
        Column("Stage", 15),
        Column("Reading", 15),
        Column("Value", 12, right=True),
        Column("Limit", 11),
        Column("Sample at", 11, right=True),
        Column("Instrument and its calibration then", 26),
        Column("By", 13),
    ]
    rows = []
    for r in packet.readings:
        meter = ": ".join(part for part in (r.instrument, r.calibration) if part)
        read = (r.when, r.stage, r.what, r.value, r.limit or "–", r.sample_temperature)
        rows.append(entry_row(r, *read, meter or "not named", r.by))
    found = section("Readings", table(columns, rows, "No readings recorded."))
    return found + _courses(packet)


_PICTURE_WIDTH = 86 * mm
_PICTURE_LETTERS = 7.5


def _courses(packet: LotPacket) -> list[Flowable]:
    """The readings drawn, two beside each other."""
    drawn = [draw(plot, _PICTURE_WIDTH, _PICTURE_LETTERS) for plot in packet.courses]
    rows: list[Flowable] = []
    for pair in zip_longest(drawn[::2], drawn[1::2], fillvalue=""):
        rows += [Spacer(1, 6), Table([pair], colWidths=[_PICTURE_WIDTH + 4 * mm] * 2)]
    return rows


def _conditions(packet: LotPacket) -> list[Flowable]:
    if not packet.conditions and packet.kind not in {"culture", "batch"}:
        return []
    columns = [
        Column("When", _WHEN),
        Column("Found", 28),
        Column("Smell, look, taste", 40),
        Column("Verdict", 12),
        Column("By", 15),
    ]
    rows = [entry_row(c, c.when, c.findings, c.senses, c.verdict, c.by) for c in packet.conditions]
    return section("How it looked and smelled", table(columns, rows, "No checks recorded."))


def _laboratory(packet: LotPacket) -> list[Flowable]:
    if not packet.lab_results and not packet.estimates and packet.kind not in {"batch", "bottling"}:
        return []
    columns = [
        Column("Sampled", _WHEN),
        Column("Of", 17),
        Column("Result", 13, right=True),
        Column("± (k = 1)", 12, right=True),
        Column("Limit", 12),
        Column("Laboratory, method, report", 34),
        Column("By", 14),
    ]
    rows = []
    for r in packet.lab_results:
        where = ", ".join(part for part in (r.laboratory, r.method, r.report) if part)
        result = (r.when, r.what, r.value, r.uncertainty or "not given", r.limit or "–")
        rows.append(entry_row(r, *result, where, r.by))
    found = section("Laboratory results", table(columns, rows, "No laboratory results recorded."))
    if packet.estimates:
        columns = [Column("When", _WHEN), Column("Alcohol, estimated", 32), Column("How", 53)]
        rows = [
            entry_row(e, e.when, e.value, f"{e.method}; from {e.inputs}") for e in packet.estimates
        ]
        words = "An estimate is not evidence: only a laboratory result shows conformity."
        found += section("Estimates", paragraph(words, SMALL), table(columns, rows, ""))
    return found


def _amount(packet: LotPacket) -> str:
    """What heads the amounts of the lot itself: bottles and cans are counted."""
    return "Pieces" if packet.kind == "bottling" else "Amount"


def _line_checks(packet: LotPacket) -> list[Flowable]:
    if packet.kind != "bottling":
        return []
    columns = [Column("When", _WHEN), Column("Check", 18), Column("Found", 52), Column("By", 15)]
    rows = [entry_row(c, c.when, c.what, c.text, c.by) for c in packet.line_checks]
    none = "No checks of the bottling line recorded."
    return section("Bottling line checks", table(columns, rows, none))


def _changes(packet: LotPacket) -> list[Flowable]:
    columns = [
        Column("When", _WHEN),
        Column("Change, pieces" if packet.kind == "bottling" else "Change", 14, right=True),
        Column("Why", 24),
        Column("Witness or customer", 22),
        Column("Reference", 20),
        Column("By", 15),
    ]
    rows = [
        entry_row(c, c.when, c.quantity, c.reason, c.who, c.reference, c.by) for c in packet.changes
    ]
    none = "No losses or corrections of stock recorded."
    return section("Losses and corrections of stock", table(columns, rows, none))


def _shipments(packet: LotPacket) -> list[Flowable]:
    if not packet.shipments and packet.kind != "bottling":
        return []
    columns = [
        Column("When", _WHEN),
        Column("Shipment", 17),
        Column("Customer", 32),
        Column(_amount(packet), 12, right=True),
        Column("Document", 18),
        Column("From", 14),
        Column("By", 14),
    ]
    rows = [
        entry_row(s, s.when, s.number, s.customer, s.quantity, s.document, s.ship_from, s.by)
        for s in packet.shipments
    ]
    return section("Shipments", table(columns, rows, "Nothing shipped."))


def _moves(packet: LotPacket) -> list[Flowable]:
    if not packet.moves and packet.kind != "bottling":
        return []
    columns = [
        Column("When", _WHEN),
        Column(_amount(packet), 13, right=True),
        Column("From", 28),
        Column("To", 28),
        Column("By", 15),
    ]
    rows = [
        entry_row(m, m.when, m.quantity, m.origin or "–", m.destination, m.by) for m in packet.moves
    ]
    return section("Where it stood", table(columns, rows, "No moves recorded."))


def _balance(packet: LotPacket) -> list[Flowable]:
    columns = [Column("", 70), Column(_amount(packet), 30, right=True)]
    rows = [Row((line.what, line.amount), is_bold=line.is_total) for line in packet.balance]
    return section("Mass balance", table(columns, rows, "", width=60))


def _limits(packet: LotPacket) -> list[Flowable]:
    columns = [
        Column("Limit", 25),
        Column("Held to", 14),
        Column("What it is", 14),
        Column("Found", 31),
        Column("Source", 36),
    ]
    rows = [
        Row((each.title, each.comparison or "–", each.consequence, each.found, each.source))
        for each in packet.limits
    ]
    return section("Limits it was held to", table(columns, rows, "No limits bind it."))


def _holds(packet: LotPacket) -> list[Flowable]:
    columns = [
        Column("When", _WHEN),
        Column("Cause", 22),
        Column("Reason", 33),
        Column("Lifted", 28),
        Column("By", 14),
    ]
    rows = [entry_row(h, h.when, h.cause, h.reason, h.lifted, h.by) for h in packet.holds]
    return section("Holds", table(columns, rows, "Never held."))


def _deviations(packet: LotPacket) -> list[Flowable]:
    columns = [
        Column("When", _WHEN),
        Column("What", 20),
        Column("What happened", 36),
        Column("Corrected", 30),
        Column("By", 14),
    ]
    rows = [
        entry_row(d, d.when, d.what, f"{d.title}: {d.text}", d.corrected, d.by)
        for d in packet.deviations
    ]
    return section("Deviations", table(columns, rows, "None."))


def _signatures(packet: LotPacket) -> list[Flowable]:
    """Those given in the system, then lines to sign on paper."""
    columns = [
        Column("When", _WHEN),
        Column("Name in print", 24),
        Column("Meaning", 24),
        Column("Remark", 30),
        Column("Digest of what was signed", 22),
    ]
    rows = [
        Row((each.when, each.name, each.meaning, each.statement or "–", each.digest))
        for each in packet.signatures
    ]
    given = table(columns, rows, "Not signed in the system.")
    return to_sign("Signatures", SIGNED_AS, given, Spacer(1, 4))


def _flags(packet: LotPacket) -> list[Flowable]:
    columns = [
        Column("Written", _WHEN),
        Column("What", 22),
        Column("Recorded as it happened", 36),
        Column("Settled", 25),
        Column("By", 14),
    ]
    rows = [entry_row(f, f.when, f.what, f.text, f.settled, f.by) for f in packet.flags]
    return section("Needs a look", table(columns, rows, "Nothing flagged."))
