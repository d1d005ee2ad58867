"""What `manage.py benchmark` measures of labels: distinct ones, drawn from one collection."""

from __future__ import annotations

from dataclasses import replace

from django.core.exceptions import ValidationError
from django.utils import timezone

from brewlog.management.measuring import OURS, Question
from brewlog.models import Lot, LotKind
from compliance.documents.label_packet import LabelPacket, collect_label
from compliance.documents.labels import label_run
from compliance.documents.printing import COMMAND

_LABELS, _A_SECOND = 1000, 500
_TRIED = 20


def label_questions() -> list[Question]:
    """Nothing where no lot may be labelled."""
    packet = _some_packet()
    if packet is None:
        return []
    distinct = [_numbered(packet, number) for number in range(_LABELS)]
    drawn = {OURS: lambda: _drawn(distinct)}
    return [Question("distinct labels drawn", drawn, per_second=_A_SECOND, is_made=True)]


def _some_packet() -> LabelPacket | None:
    newest = Lot.objects.live().filter(kind=LotKind.BOTTLING).order_by("-id")[:_TRIED]
    for lot in newest:
        try:
            return collect_label(lot, printed_by=COMMAND, printed_at=timezone.now())
        except ValidationError:
            continue
    return None


def _numbered(packet: LabelPacket, number: int) -> LabelPacket:
    code = f"{packet.lot_code}{number:04}"
    return replace(packet, lot_code=code, symbol=code, symbol_words=(code,), is_gs1=False)


def _drawn(packets: list[LabelPacket]) -> list[LabelPacket]:
    label_run(packets)
    return packets
