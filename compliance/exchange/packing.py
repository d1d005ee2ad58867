"""The whole install as one archive: every table, its history, every file, with digests.

The same records make the same bytes, on SQLite and on PostgreSQL. The form is a zip of JSON
lines; `columns.json` says what each column is, `manifest.json` the SHA-256 of every part.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Iterable, Iterator
from typing import IO, Any

from django.core.files.storage import default_storage
from django.db import models

from brewlog.recording import reading
from compliance.exchange.tables import (
    ROLES_TABLE,
    ArchiveTable,
    archive_tables,
    described_columns,
    role_lines,
)

FORMAT, VERSION = "brewlog archive", 1
MANIFEST, COLUMNS, README = "manifest.json", "columns.json", "README.txt"
TABLES, FILES = "tables", "files"
_PIECE = 1 << 16
# Before 1980 a zip cannot say; the records have times of their own.
_NO_TIME = (1980, 1, 1, 0, 0, 0)

_README = f"""Everything one brewery recorded, in open forms.

{TABLES}/*.jsonl   one table each, a row a line, JSON in UTF-8, in the order of its key
{FILES}/           certificates, photographs and reports that the rows name
{COLUMNS}     what each column is, its type, and the table it refers to
{MANIFEST}    the SHA-256 and size of every part, and the rows of every table

Tables named "historical" hold every version of every record: when it was written
(history_date), by whom (history_user_id), why (history_change_reason), and whether the record
was new (+) or changed (~). A record with voided_at was struck out; it stays to be read.

Amounts are whole numbers: milligrams, microlitres or pieces. Passwords are not in here.
"""


def table_member(name: str) -> str:
    """The part that holds a table."""
    return f"{TABLES}/{name}.jsonl"


def write_archive(to: IO[bytes]) -> dict[str, Any]:
    """Write the archive of all records as they are at one moment; its manifest is returned."""
    with reading():
        packer = _Packer(to)
        with packer.zip:
            packer.add(README, [_README.encode()])
            packer.add(COLUMNS, [_json(described_columns())])
            tables = archive_tables()
            for table in tables:
                packer.add(table_member(table.name), table.lines(), count_rows=True)
            packer.add(table_member(ROLES_TABLE), role_lines(), count_rows=True)
            missing = _pack_files(packer, tables)
            manifest = {
                "format": FORMAT,
                "version": VERSION,
                "parts": sorted(packer.parts, key=lambda part: part["name"]),
                "files named and not there": missing,
            }
            packer.add(MANIFEST, [_json(manifest)])
    return manifest


class _Packer:
    """A zip that is written part by part, each with its digest, and bears no times."""

    def __init__(self, to: IO[bytes]) -> None:
        self.zip = zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED)
        self.parts: list[dict[str, Any]] = []

    def add(self, name: str, pieces: Iterable[bytes], *, count_rows: bool = False) -> None:
        """One part. With `count_rows` each piece is a row."""
        member = zipfile.ZipInfo(name, date_time=_NO_TIME)
        member.compress_type = zipfile.ZIP_DEFLATED
        member.create_system = 3  # else it says on which machine it was made
        member.external_attr = 0o644 << 16
        digest, size, rows = hashlib.sha256(), 0, 0
        with self.zip.open(member, "w", force_zip64=True) as part:
            for piece in pieces:
                part.write(piece)
                digest.update(piece)
                size += len(piece)
                rows += 1
        said: dict[str, Any] = {"name": name, "bytes": size, "sha256": digest.hexdigest()}
        self.parts.append({**said, "rows": rows} if count_rows else said)


def _pack_files(packer: _Packer, tables: list[ArchiveTable]) -> list[str]:
    """Pack each file that a row names; the names of those that are not there."""
    missing = []
    for name in sorted(_file_names(tables)):
        if default_storage.exists(name):
            packer.add(f"{FILES}/{name}", _pieces(name))
        else:
            missing.append(name)
    return missing


def _file_names(tables: list[ArchiveTable]) -> set[str]:
    """Files of today's rows and of earlier versions: a history keeps the name as a text."""
    fields = {
        (table.model, field.attname)
        for table in tables
        for field in table.fields
        if isinstance(field, models.FileField)
    }
    for model, name in list(fields):
        history = getattr(model, "history", None)
        if history is not None:
            fields.add((history.model, name))
    found: set[str] = set()
    for model, name in fields:
        found.update(model._base_manager.exclude(**{name: ""}).values_list(name, flat=True))
    return found


def _pieces(name: str) -> Iterator[bytes]:
    with default_storage.open(name, "rb") as file:
        while piece := file.read(_PIECE):
            yield piece


def _json(value: Any) -> bytes:
    return json.dumps(value, ensure_ascii=False, indent=1).encode() + b"\n"
