"""Many records at once, each with its history row: a generated plant, an import's memory.

People's entries are saved one by one by the verbs. This is the one other way in; it
still asks for an open `recording()`, whose actor and reason stand in every history row.
Nothing is validated but what the database's constraints refuse.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.management.color import no_style
from django.db import connection
from django.db.models import Max, Model
from django.utils import timezone

from brewlog.ledger import ids_parameter, ids_sql
from brewlog.models.base import Guarded
from brewlog.recording import Recording, current_recording

# Rows in one INSERT where the database sets no lower limit (SQLite: 999 values).
_ROWS = 500


def next_id(model: type[Model]) -> int:
    """The first free primary key. Sure only inside `recording()`, under the write lock."""
    current_recording()
    return (model._base_manager.aggregate(last=Max("pk"))["last"] or 0) + 1


def insert(records: Sequence[Guarded]) -> None:
    """Insert records of one model, which have their primary keys, with their history.

    A lot's parent row and its child row are both written; the history is copied by the
    database from the rows just written, so that it cannot say anything else.
    """
    if not records:
        return
    door = current_recording()
    model = type(records[0])
    now = timezone.now()
    for record in records:
        record.recorded_at = now
        record.recorded_by_id = door.actor.pk
        for parent in model._meta.get_parent_list():
            setattr(record, parent._meta.pk.attname, record.pk)
    for table in [*reversed(model._meta.get_parent_list()), model]:
        insert_rows(table, records)
    _insert_history(model, [record.pk for record in records], door)
    reset_sequences(model)
    for record in records:
        record._state.adding = False


def insert_rows(model: type[Model], records: Sequence[Model]) -> None:
    """Insert the rows of one table alone, as they are: no parent's, and no history."""
    fields = model._meta.local_concrete_fields
    limit = connection.ops.bulk_batch_size(fields, records)
    size = max(1, min(limit, _ROWS))
    for start in range(0, len(records), size):
        batch = records[start : start + size]
        model._base_manager._insert(batch, fields=fields, using=connection.alias)  # type: ignore[attr-defined]


def _insert_history(model: Any, keys: list[int], door: Recording) -> None:
    """One history row for each of the rows."""
    quote = connection.ops.quote_name
    history = model.history.model
    columns = ["history_date", "history_type", "history_user_id", "history_change_reason"]
    values = ["%s"] * len(columns)
    for tracked in history.tracked_fields:
        columns.append(history._meta.get_field(tracked.name).column)
        values.append(f"{quote(tracked.model._meta.db_table)}.{quote(tracked.column)}")
    table = quote(model._meta.db_table)
    key = f"{table}.{quote(model._meta.pk.column)}"
    joins = "".join(
        f" JOIN {quote(parent._meta.db_table)} "
        f"ON {quote(parent._meta.db_table)}.{quote(parent._meta.pk.column)} = {key}"
        for parent in model._meta.get_parent_list()
    )
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {quote(history._meta.db_table)} "
            f"({', '.join(quote(column) for column in columns)}) "
            f"SELECT {', '.join(values)} FROM {table}{joins} "
            f"WHERE {key} IN ({ids_sql()}) ORDER BY {key}",
            [timezone.now(), "+", door.actor.pk, door.reason, ids_parameter(keys)],
        )


def reset_sequences(model: type[Model]) -> None:
    """Let the next ordinary save go on after the keys given here (PostgreSQL)."""
    statements = connection.ops.sequence_reset_sql(
        no_style(), [model, *model._meta.get_parent_list()]
    )
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
