"""Several people at once, each on a database connection of their own."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor

import pytest
from django.db import connection

from brewlog.models import User
from brewlog.recording import recording

# Long enough for the slowest machine; nothing waits for it that goes well.
SECONDS = 20


def in_a_thread(work: Callable[[], object], pool: ThreadPoolExecutor) -> Future:
    """Run it on a connection of its own."""

    def run() -> object:
        try:
            return work()
        finally:
            connection.close()

    return pool.submit(run)


def one_after_the_other(
    actor: User, first: Callable[[], object], second: Callable[[], object]
) -> Future:
    """`second` begins while `first` is done but not committed, and waits for it."""
    is_done, may_finish = threading.Event(), threading.Event()

    def do_and_wait() -> None:
        with recording(actor):
            first()
            is_done.set()
            may_finish.wait(SECONDS)

    with ThreadPoolExecutor(2) as pool:
        quicker = in_a_thread(do_and_wait, pool)
        assert is_done.wait(SECONDS)
        slower = in_a_thread(second, pool)
        with pytest.raises(TimeoutError):
            slower.result(0.3)
        may_finish.set()
        quicker.result(SECONDS)
    return slower
