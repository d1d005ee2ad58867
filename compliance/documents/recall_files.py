"""The recall packet as files: one PDF, one workbook, and a folder of everything."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections.abc import Iterator
from itertools import chain

from compliance.documents.files import file_stem
from compliance.documents.recall_facts import RecallPacket
from compliance.documents.recall_packet import (
    is_printed_whole,
    lists_every_lot,
    notice,
    notice_csv,
    recall_csv,
    recall_packet,
    recall_workbook,
)


def packet_files(packet: RecallPacket, at: dt.datetime, paper: str) -> dict[str, bytes]:
    """The packet in its four forms, by file name; with the notices where the PDF has them not."""
    apart = {} if is_printed_whole(packet) else dict(notice_files(packet, paper))
    return dict(_forms(packet, at, paper)) | apart


def _forms(packet: RecallPacket, at: dt.datetime, paper: str) -> Iterator[tuple[str, bytes]]:
    stem = f"recall-{file_stem(packet.code)}"
    yield f"{stem}.pdf", recall_packet(packet, paper)
    yield f"{stem}.xlsx", recall_workbook(packet, at)
    yield f"{stem}.csv", recall_csv(packet)
    yield f"{stem}.json", packet.json_bytes()


def notice_files(packet: RecallPacket, paper: str) -> Iterator[tuple[str, bytes]]:
    """Each customer's letter as a file of its own, to be sent, with the list that goes with it."""
    for number, each in enumerate(packet.recipients, start=1):
        stem = f"notices/{number:03}-{file_stem(each.name)}"
        yield f"{stem}.pdf", notice(packet, each, paper)
        if not lists_every_lot(each):
            yield f"{stem}.csv", notice_csv(each)


def recall_folder(packet: RecallPacket, at: dt.datetime, paper: str) -> bytes:
    """All of them in one zip, whose times are those of the packet; one at a time, for they may
    be large."""
    content = io.BytesIO()
    stamp = at.astimezone(dt.UTC).timetuple()[:6]
    with zipfile.ZipFile(content, "w") as folder:
        for name, part in chain(_forms(packet, at, paper), notice_files(packet, paper)):
            member = zipfile.ZipInfo(name, date_time=stamp)
            # The others are packed already.
            is_text = name.endswith((".csv", ".json"))
            member.compress_type = zipfile.ZIP_DEFLATED if is_text else zipfile.ZIP_STORED
            folder.writestr(member, part)
    return content.getvalue()
