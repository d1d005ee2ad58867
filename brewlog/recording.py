"""The one door for writes, and the quiet room for reads.

`with recording(actor, reason):` is the transaction, the person and the reason of
everything saved inside it. A record saved outside it is refused. `with reading():`
is a read-only snapshot for packets, exports and long pages.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from django.core.exceptions import ValidationError
from django.db import connection, transaction

if TYPE_CHECKING:
    from brewlog.models import User

# Any fixed number does: it is the name of the one write lock on PostgreSQL.
_WRITE_LOCK = 20_260_301


class RecordingError(RuntimeError):
    """A record was written past the door: a fault in the program, not of the user."""


class Refused(ValidationError):
    """A verb said no. The message tells what was wrong and what to do instead."""


class Forbidden(Refused):
    """What is about to happen must not: the same thing already done is recorded and flagged."""


@dataclass
class Recording:
    """Who is writing, and why."""

    actor: User
    reasons: list[str] = field(default_factory=list)
    # One and the same for all blocks inside one another: what was read behind it is current.
    door: object = field(default_factory=object)

    @property
    def reason(self) -> str:
        return "; ".join(self.reasons)


_current: ContextVar[Recording | None] = ContextVar("recording", default=None)
_reading: ContextVar[bool] = ContextVar("reading", default=False)


def current_recording() -> Recording:
    """The open recording. Raises `RecordingError` where there is none."""
    found = _current.get()
    if found is None:
        raise RecordingError("Records are written inside `with recording(actor, reason):` only.")
    return found


def open_door() -> object | None:
    """What tells this recording from every other; None where nothing is being recorded."""
    found = _current.get()
    return found.door if found else None


@contextmanager
def recording(actor: User, reason: str = "") -> Iterator[Recording]:
    """Open the door: one transaction, all or nothing, under the write lock.

    A block inside another needs the same actor and is a savepoint of it; its reason
    is added to the outer one's for what is written inside it.
    """
    if _reading.get():
        raise RecordingError("Nothing is recorded inside `with reading():`.")
    outer = _current.get()
    if outer is not None and outer.actor.pk != actor.pk:
        raise RecordingError(f"{outer.actor} is recording; {actor} cannot join.")
    reasons = list(outer.reasons) if outer else []
    if reason and reason not in reasons:
        reasons.append(reason)
    with transaction.atomic():
        if outer is None:
            _take_write_lock()
        inside = Recording(actor, reasons, outer.door) if outer else Recording(actor, reasons)
        token = _current.set(inside)
        try:
            yield current_recording()
        finally:
            _current.reset(token)


@contextmanager
def restoring() -> Iterator[None]:
    """One transaction under the write lock, to take over records as others wrote them.

    For an empty install only: who wrote what, when and why comes with the rows.
    """
    with transaction.atomic():
        _take_write_lock()
        yield


def _take_write_lock() -> None:
    """Queue behind other writers before anything is read.

    SQLite does so by BEGIN IMMEDIATE. On PostgreSQL the lock is a statement of its
    own: in one statement with a read, the snapshot would be older than the lock.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_WRITE_LOCK])


@contextmanager
def reading() -> Iterator[None]:
    """One consistent, read-only picture of the records, without waiting for a writer.

    Inside an open recording it reads along with it.
    """
    if _current.get() is not None:
        yield
        return
    token = _reading.set(True)
    try:
        with _snapshot():
            yield
    finally:
        _reading.reset(token)


@contextmanager
def _snapshot() -> Iterator[None]:
    """The database's own read-only transaction. Inside another one, that one's picture holds."""
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "postgresql":
        with transaction.atomic():
            # Only the first statement of a transaction may say so.
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield
    else:
        with _deferred_sqlite_transaction():
            yield


@contextmanager
def _deferred_sqlite_transaction() -> Iterator[None]:
    """A plain BEGIN: Django's own would take the write lock (transaction_mode)."""
    sqlite: Any = connection
    sqlite.ensure_connection()
    mode = sqlite.transaction_mode
    sqlite.transaction_mode = "DEFERRED"
    try:
        with _query_only(), transaction.atomic():
            yield
    finally:
        sqlite.transaction_mode = mode


@contextmanager
def _query_only() -> Iterator[None]:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA query_only = ON")
        try:
            yield
        finally:
            cursor.execute("PRAGMA query_only = OFF")
