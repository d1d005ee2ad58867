"""Remembering what was read from spreadsheets, so that reading it twice changes nothing."""

from __future__ import annotations

from brewlog.models import ImportedRow, User
from brewlog.recording import recording


def remember_row(*, actor: User, sheet: str, key: str, said: str) -> ImportedRow:
    """Keep what a sheet's row said, under its natural key, beside the record it became."""
    with recording(actor):
        row = ImportedRow(sheet=sheet, key=key, said=said)
        row.save()
        return row
