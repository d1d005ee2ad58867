"""Reading an archive into an empty install. Nothing is believed before its digest fits."""

from __future__ import annotations

import hashlib
import json
import zipfile
import zlib
from collections.abc import Iterator
from itertools import islice
from typing import Any

from django.core.exceptions import SuspiciousOperation
from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db import DatabaseError, IntegrityError, connection, models

from brewlog.bulk import insert_rows, reset_sequences
from brewlog.models import User
from brewlog.recording import restoring
from compliance.exchange.packing import (
    COLUMNS,
    FILES,
    FORMAT,
    MANIFEST,
    VERSION,
    table_member,
)
from compliance.exchange.tables import (
    ROLES_TABLE,
    archive_tables,
    described_columns,
    give_roles,
)

_AT_A_TIME = 2_000
_PIECE = 1 << 16


class ArchiveRefused(ValueError):
    """An archive that is not read in. The message says why, and what to do."""


def read_archive(path: str) -> dict[str, int]:
    """Read the archive into this empty install; how many rows and files came.

    All of it or nothing. Raises `ArchiveRefused`.
    """
    try:
        archive = zipfile.ZipFile(path)
    except (OSError, zipfile.BadZipFile) as error:
        raise ArchiveRefused(f"{path} cannot be opened as an archive: {error}.") from None
    with archive:
        manifest = _manifest(archive)
        _check_parts(archive, manifest)
        _check_columns(archive)
        with restoring():
            _check_empty()
            written: list[str] = []
            try:
                rows = _read_tables(archive)
                _read_files(archive, written)
            except BaseException:
                for name in written:
                    default_storage.delete(name)
                raise
    return {"rows": rows, "files": len(written)}


# Before anything is written --------------------------------------------------------------


def _manifest(archive: zipfile.ZipFile) -> dict[str, Any]:
    try:
        manifest = json.loads(archive.read(MANIFEST))
        said = (manifest["format"], manifest["version"])
        parts = {part["name"]: part["sha256"] for part in manifest["parts"]}
    except (KeyError, TypeError, ValueError, zipfile.BadZipFile, zlib.error):
        raise ArchiveRefused(
            f"This is not a whole archive: its {MANIFEST} is missing or cannot be read. "
            "Take another copy."
        ) from None
    if said != (FORMAT, VERSION):
        raise ArchiveRefused(
            f"This archive is '{said[0]}', version {said[1]}; this program reads '{FORMAT}', "
            f"version {VERSION}."
        )
    return parts


def _check_parts(archive: zipfile.ZipFile, digests: dict[str, Any]) -> None:
    """Every part is there once and is what the manifest says, and there is no other."""
    names = archive.namelist()
    doubled = {name for name in names if names.count(name) > 1}
    strange = doubled | (set(names) - set(digests) - {MANIFEST})
    if strange:
        raise ArchiveRefused(
            f"{_some(strange)}: in the archive and not in its manifest. It was changed after it "
            "was made. Take another copy."
        )
    missing = set(digests) - set(names)
    if missing:
        raise ArchiveRefused(f"{_some(missing)}: missing from the archive. Take another copy.")
    for name, expected in digests.items():
        if _digest(archive, name) != expected:
            raise ArchiveRefused(
                f"{name} is not what it was when the archive was made: its SHA-256 is another. "
                "Take another copy."
            )


def _digest(archive: zipfile.ZipFile, name: str) -> str:
    digest = hashlib.sha256()
    try:
        with archive.open(name) as part:
            while piece := part.read(_PIECE):
                digest.update(piece)
    except (zipfile.BadZipFile, zlib.error, EOFError):
        return "cannot be read"
    return digest.hexdigest()


def _some(names: set[str]) -> str:
    return ", ".join(sorted(names)[:5])


def _check_columns(archive: zipfile.ZipFile) -> None:
    """Another version of the program has other tables."""
    theirs = _column_names(json.loads(archive.read(COLUMNS)))
    ours = _column_names(described_columns())
    different = {name for name in theirs | ours if theirs.get(name) != ours.get(name)}
    if different:
        raise ArchiveRefused(
            f"This archive was made by another version of brewlog: the columns of "
            f"{_some(different)} are others. Read it with that version, then bring it up to date."
        )


def _column_names(described: dict[str, list[dict[str, str]]]) -> dict[str, list[str]]:
    return {table: [each["column"] for each in columns] for table, columns in described.items()}


def _check_empty() -> None:
    for table in archive_tables():
        count = table.rows().count()
        if count:
            raise ArchiveRefused(
                f"There are records here already ({count} in {table.name}). An archive is read "
                "into an empty install only, so that nothing is written over: give BREWLOG_DATA "
                "a new folder, or DATABASE_URL a new database, run `manage.py migrate`, and "
                "read it there."
            )


# Writing ---------------------------------------------------------------------------------


def _read_tables(archive: zipfile.ZipFile) -> int:
    """Insert every row as it was."""
    total = 0
    for table in archive_tables():
        member = table_member(table.name)
        try:
            with archive.open(member) as lines:
                for records in _batches(table.records(lines)):
                    total += len(records)
                    insert_rows(table.model, records)
            reset_sequences(table.model)
        except (ValueError, TypeError, DatabaseError) as error:
            raise ArchiveRefused(f"{member} cannot be read in: {error}.") from error
    member = table_member(ROLES_TABLE)
    try:
        with archive.open(member) as lines:
            give_roles(lines)
    except (ValueError, KeyError, User.DoesNotExist) as error:
        raise ArchiveRefused(f"{member} cannot be read in: {error}.") from error
    _check_links()
    return total


def _check_links() -> None:
    """Every link leads somewhere: asked now, not first when the transaction ends."""
    try:
        connection.check_constraints()
    except IntegrityError as error:
        raise ArchiveRefused(
            f"A row of the archive points at one that is not in it: {error}"
        ) from None


def _batches(records: Iterator[models.Model]) -> Iterator[list[models.Model]]:
    while batch := list(islice(records, _AT_A_TIME)):
        for record in batch:
            if isinstance(record, User):
                record.set_unusable_password()
        yield batch


def _read_files(archive: zipfile.ZipFile, written: list[str]) -> None:
    """Put each file where the rows look for it; the names go into `written`."""
    for member in archive.namelist():
        if not member.startswith(f"{FILES}/"):
            continue
        name = member.removeprefix(f"{FILES}/")
        try:
            if default_storage.exists(name):
                raise ArchiveRefused(
                    f"There is a file {name} here already. Read the archive into an empty folder."
                )
            with archive.open(member) as part:
                written.append(default_storage.save(name, File(part)))
        except (OSError, SuspiciousOperation) as error:
            raise ArchiveRefused(f"{member} cannot be written: {error}.") from error
