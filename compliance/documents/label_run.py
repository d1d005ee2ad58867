"""The labels of one printing, drawn again from its record."""

from __future__ import annotations

import datetime as dt

from brewlog.models import BottlingLot, User
from compliance.documents.label_packet import LabelPacket, case_of, collect_label
from compliance.documents.labels import labels
from compliance.models import Labelled, LabelRun


def packet_of_run(run: LabelRun, *, printed_by: User | str, printed_at: dt.datetime) -> LabelPacket:
    """What each of its labels says. Raises `Refused` where the lot is kept back by now."""
    packet = collect_label(run.lot, printed_by=printed_by, printed_at=printed_at)
    if run.what == Labelled.BOTTLE:
        return packet
    bottles = BottlingLot.objects.get(pk=run.lot_id)
    return case_of(packet, bottles, run.per_case, run.case_gtin)


def labels_of_run(run: LabelRun, packet: LabelPacket) -> bytes:
    """The PDF. Raises `LabelError` where the text does not fit."""
    return labels(packet, count=run.count, start=run.start, sheet=run.geometry, symbol=run.symbol)
