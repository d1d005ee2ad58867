"""Late entries told together: where many were written at once, a mark each and one sentence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import fields, replace
from typing import Any

from compliance.documents.lot_packet import Entry, LotPacket

# So many late entries of one day and person are told in one sentence.
_MANY = 3
_MARKS = ("*", "†", "‡", "§")


def told_together(packet: LotPacket) -> tuple[LotPacket, list[str]]:
    """The packet with marks in place of the many lines that say the same, and the sentences.

    What was read in from spreadsheets is all late: a line under each row would hide the few
    that matter.
    """
    groups = Counter(entry.late_group for entry in _entries(packet) if entry.late_group)
    many = [group for group, count in groups.most_common(len(_MARKS)) if count >= _MANY]
    marks = dict(zip(many, _MARKS, strict=False))
    sentences = [
        f"{mark} Written later than a shift after it happened, {group}: {groups[group]} entries."
        for group, mark in marks.items()
    ]
    changed: dict[str, Any] = {
        name: tuple(_marked(entry, marks) for entry in getattr(packet, name))
        for name in _names(packet)
    }
    return replace(packet, **changed), sentences


def _names(packet: LotPacket) -> Iterator[str]:
    """The packet's fields that hold entries."""
    for each in fields(packet):
        value = getattr(packet, each.name)
        if isinstance(value, tuple) and value and isinstance(value[0], Entry):
            yield each.name


def _entries(packet: LotPacket) -> Iterator[Entry]:
    for name in _names(packet):
        yield from getattr(packet, name)


def _marked(entry: Entry, marks: dict[str, str]) -> Entry:
    mark = marks.get(entry.late_group)
    return replace(entry, when=f"{entry.when} {mark}", late="") if mark else entry
