"""A label as the tests of labels ask for it: its packet, and one of it by itself."""

from __future__ import annotations

from compliance.documents.label_packet import collect_label
from compliance.documents.labels import labels
from compliance.label_stock import SHEETS
from tests.compliance.documents.story import PRINTED_AT


def packet_of(lot, actor):
    return collect_label(lot, printed_by=actor, printed_at=PRINTED_AT)


def single(packet, **fields):
    return labels(packet, count=1, sheet=SHEETS["single"], **fields)
