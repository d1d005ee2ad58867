"""What a lot reaches and what it was made from: recursion over the one table of uses.

Each question is one recursive query, read from the covering indexes alone. UNION, not
UNION ALL: every lot is met once, and a circle ends. LEFT JOIN, with one null to pass over
at the end: with statistics at hand SQLite would build a filter over the whole table first
for a plain join (6 ms instead of 0.04 for an ordinary lot of a plant of 5000 batches).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from django.db import connection

from brewlog.ledger import ids_parameter, ids_sql

_DOWN = """
WITH RECURSIVE reached(id) AS (
    {start}
    UNION
    SELECT step.into_id FROM reached
    LEFT JOIN brewlog_lotuse step ON step.source_id = reached.id AND step.voided_at IS NULL
)
"""
_UP = """
WITH RECURSIVE reached(id) AS (
    {start}
    UNION
    SELECT step.source_id FROM reached
    LEFT JOIN brewlog_lotuse step ON step.into_id = reached.id AND step.voided_at IS NULL
)
"""


def down_sql() -> str:
    """`WITH RECURSIVE reached(id)`: the lots in one `ids_parameter` and all made from them."""
    return _DOWN.format(start=ids_sql())


def up_sql() -> str:
    """`WITH RECURSIVE reached(id)`: the lots in one `ids_parameter` and all they were made from."""
    return _UP.format(start=ids_sql())


def uses_sql(recursion: str, columns: str, link: str) -> str:
    """The not voided uses whose `link` (source_id or into_id) was reached."""
    return (
        f"{recursion} SELECT {columns} FROM brewlog_lotuse "
        f"WHERE voided_at IS NULL AND {link} IN (SELECT id FROM reached)"
    )


def descendant_ids(lot_ids: Iterable[int]) -> set[int]:
    """The lots and everything made from them, at any distance: themselves included."""
    return _reached(down_sql(), lot_ids)


def descendant_ids_short_of(lot_ids: Iterable[int], walls: Iterable[int]) -> set[int]:
    """The lots and everything made from them without passing through a lot of `walls`.

    The walls themselves are left out, and so is what is made from them alone.
    """
    recursion = f"{down_sql().rstrip().removesuffix(')')} AND step.into_id NOT IN ({ids_sql()}))"
    with connection.cursor() as cursor:
        cursor.execute(
            f"{recursion} SELECT id FROM reached WHERE id IS NOT NULL",
            [ids_parameter(lot_ids), ids_parameter(walls)],
        )
        reached = {row[0] for row in cursor.fetchall()}
    return reached - set(walls)


def ancestor_ids(lot_ids: Iterable[int]) -> set[int]:
    """The lots and everything they were made from, at any distance: themselves included."""
    return _reached(up_sql(), lot_ids)


def steps_below(lot_ids: Iterable[int]) -> dict[int, set[int]]:
    """What each of the lots, and of everything made from them, went into: one query."""
    found: dict[int, set[int]] = defaultdict(set)
    with connection.cursor() as cursor:
        cursor.execute(
            uses_sql(down_sql(), "source_id, into_id", "source_id"), [ids_parameter(lot_ids)]
        )
        for source, into in cursor.fetchall():
            found[source].add(into)
    return found


def _reached(recursion: str, lot_ids: Iterable[int]) -> set[int]:
    with connection.cursor() as cursor:
        cursor.execute(
            f"{recursion} SELECT id FROM reached WHERE id IS NOT NULL", [ids_parameter(lot_ids)]
        )
        return {row[0] for row in cursor.fetchall()}


def reaches(start: int, end: int) -> bool:
    """Whether the lot `end` was made from the lot `start`, at any distance, or is it.

    A use of `source` into `into` would close a circle where `reaches(into, source)`. The
    question is asked upwards from `end`: a lot has fewer ancestors than descendants.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            f"{up_sql()} SELECT 1 FROM reached WHERE id = %s LIMIT 1",
            [ids_parameter([end]), start],
        )
        return cursor.fetchone() is not None
