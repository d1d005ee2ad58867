"""The binder of a period as one PDF: contents, plans, records, and the lot sheets."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain

from reportlab.platypus import Flowable, PageBreak, Spacer

from compliance.documents.as_read import as_read
from compliance.documents.binder_packet import BinderPacket, DeviationLine
from compliance.documents.binding import Chapter, bind
from compliance.documents.lot_sheet import lot_story
from compliance.documents.page import (
    BODY,
    SMALL,
    TITLE,
    Column,
    Pair,
    Row,
    pairs,
    paragraph,
    table,
    title_block,
)
from compliance.documents.plan_paper import plan_story
from compliance.documents.to_write_on import to_sign

RELEASED_ONLY = (
    "Lot sheets are those of the bottling lots released in the period, with the batches they were "
    "drawn from."
)
EVERY_LOT = (
    "Lot sheets are those of every bottling lot filled in the period, released or not, with the "
    "batches they were drawn from."
)
_NO_LOTS = {False: "No lot was released in the period.", True: "Nothing was bottled in the period."}


def binder(packet: BinderPacket, paper: str = "a4") -> bytes:
    """The PDF of the binder. `paper` is `a4` or `letter`."""
    packet = as_read(packet)
    inside = chain(
        _plans(packet),
        _chapter(packet, "Monitoring", _monitoring(packet)),
        _chapter(packet, "Cold and warm places, day by day", _rooms(packet)),
        _chapter(packet, "Calibrations", _calibrations(packet)),
        _chapter(packet, "Deviations and corrections", _deviations(packet)),
        _chapter(packet, "Verification: reviews, releases, reanalyses", _verification(packet)),
        _chapter(packet, "Logs and complaints", _logs(packet)),
        _lots(packet),
    )
    return bind(packet.head, _cover(packet), list(inside), paper)


def _cover(packet: BinderPacket) -> list[Flowable]:
    title = title_block("Binder", [packet.period, packet.head.brewery], packet.head.state)
    counts = (
        Pair("Hazard plans in force", str(len(packet.plans))),
        Pair("Lot sheets", str(len(packet.lots))),
        Pair("Control points monitored", str(len(packet.monitoring))),
        Pair("Calibrations", str(len(packet.calibrations))),
        Pair("Deviations", str(len(packet.deviations))),
        Pair("Still open", str(sum(each.standing == "OPEN" for each in packet.deviations))),
        Pair("Reviews, releases, reanalyses", str(len(packet.verification))),
        Pair("Lines of the logs", str(len(packet.logs))),
    )
    return [
        *title,
        Spacer(1, 6),
        *pairs(counts),
        Spacer(1, 6),
        paragraph(EVERY_LOT if packet.every else RELEASED_ONLY, SMALL),
        *to_sign("Looked through", ("Binder looked through by",)),
    ]


def _chapter(packet: BinderPacket, title: str, parts: Sequence[Flowable]) -> list[Flowable]:
    return [
        PageBreak(),
        Chapter(title, 0, packet.head),
        paragraph(title, TITLE),
        Spacer(1, 6),
        *parts,
    ]


def _plans(packet: BinderPacket) -> list[Flowable]:
    if not packet.plans:
        return _chapter(packet, "Hazard plan", [paragraph("No plan is in force.", BODY)])
    parts: list[Flowable] = []
    for number, plan in enumerate(packet.plans):
        title = f"{plan.name}, version {plan.number}"
        parts.append(PageBreak())
        parts += [] if number else [Chapter("Hazard plan", 0, packet.head)]
        parts += [Chapter(title, 1, plan.head), *plan_story(plan)]
    return parts


def _lots(packet: BinderPacket) -> list[Flowable]:
    if not packet.lots:
        return _chapter(packet, "Lot sheets", [paragraph(_NO_LOTS[packet.every], BODY)])
    parts: list[Flowable] = []
    for number, lot in enumerate(packet.lots):
        parts.append(PageBreak())
        parts += [] if number else [Chapter("Lot sheets", 0, packet.head)]
        parts += [Chapter(f"{lot.code}: {lot.description}", 1, lot.head), *lot_story(lot)]
    return parts


def _monitoring(packet: BinderPacket) -> list[Flowable]:
    columns = [
        Column("Plan", 20),
        Column("Step", 24),
        Column("Limit", 30),
        Column("Records", 11, right=True),
        Column("Past it", 10, right=True),
        Column("Last", 16),
    ]
    rows = [
        Row((each.plan, each.step, each.limit, each.records, each.outside, each.last))
        for each in packet.monitoring
    ]
    words = (
        "A value past the limit here is the bare value: what it means for a lot stands on its "
        "sheet. The single readings of a lot stand there too."
    )
    none = "No plan in force refers to a limit."
    return [paragraph(words, SMALL), Spacer(1, 3), table(columns, rows, none)]


def _rooms(packet: BinderPacket) -> list[Flowable]:
    columns = [
        Column("Place", 36),
        Column("Day", 20),
        Column("Readings", 12, right=True),
        Column("Lowest", 14, right=True),
        Column("Highest", 14, right=True),
    ]
    rows = [
        Row((each.place, each.day, each.readings, each.lowest, each.highest))
        for each in packet.rooms
    ]
    return [table(columns, rows, "No temperature of a place was recorded in the period.")]


def _calibrations(packet: BinderPacket) -> list[Flowable]:
    columns = [
        Column("When", 17),
        Column("Instrument", 24),
        Column("Outcome", 26),
        Column("References", 24),
        Column("Next due", 13),
        Column("By", 16),
    ]
    rows = [
        Row((each.when, each.instrument, each.outcome, each.references, each.due, each.by))
        for each in packet.calibrations
    ]
    return [table(columns, rows, "No instrument was calibrated in the period.")]


def _deviations(packet: BinderPacket) -> list[Flowable]:
    columns = [
        Column("When", 17),
        Column("What went wrong", 40),
        Column("Kind", 20),
        Column("Lots", 20),
        Column("Standing", 20),
    ]
    rows = [_deviation(each) for each in packet.deviations]
    return [table(columns, rows, "Nothing went wrong in the period that was written down.")]


def _deviation(each: DeviationLine) -> Row:
    below = [each.what_happened, *chain.from_iterable(each.corrections)]
    return Row((each.when, each.title, each.kind, each.lots, each.standing), below)


def _verification(packet: BinderPacket) -> list[Flowable]:
    columns = [
        Column("When", 17),
        Column("What", 36),
        Column("Signed by", 24),
        Column("Remark", 40),
    ]
    rows = [Row((each.when, each.what, each.by, each.remark)) for each in packet.verification]
    return [table(columns, rows, "Nothing was reviewed, released or looked at again.")]


def _logs(packet: BinderPacket) -> list[Flowable]:
    columns = [
        Column("Log", 18),
        Column("When", 17),
        Column("What or who", 24),
        Column("Done or found", 46),
        Column("By", 16),
    ]
    rows = [
        Row((each.log, each.when, each.subject, each.what, each.by), is_bold=not each.is_good)
        for each in packet.logs
    ]
    return [table(columns, rows, "Nothing was written in the logs in the period.")]
