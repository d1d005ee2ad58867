"""Remembering what was read from spreadsheets, so that reading it twice changes nothing."""

from __future__ import annotations

from collections.abc import Iterable

from brewlog import bulk
from brewlog.models import ImportedRow


def remember_rows(rows: Iterable[tuple[str, str, str]]) -> None:
    """Keep what sheets' rows said: (sheet, natural key, what it said). Inside `recording()`.

    All at once: they stand beside the records the rows became, which were written one by
    one, each with its checks.
    """
    first = bulk.next_id(ImportedRow)
    bulk.insert(
        [
            ImportedRow(id=first + place, sheet=sheet, key=key, said=said)
            for place, (sheet, key, said) in enumerate(rows)
        ]
    )
