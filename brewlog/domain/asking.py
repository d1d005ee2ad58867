"""What other apps find, at that moment, that keeps a lot back from what is about to happen.

A verb that draws on many lots asks for all of them at once, before it writes anything: what it
writes itself is no reason to look at each lot and all it was made from anew.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import TYPE_CHECKING

from brewlog.models import Lot
from brewlog.recording import current_recording

if TYPE_CHECKING:
    from brewlog.domain.blocks import Block


@dataclass(frozen=True)
class Intent:
    """What is about to be done to a lot: "used", "added to", "sent out"..."""

    lot: Lot
    doing: str

    @property
    def key(self) -> tuple[int, str]:
        return self.lot.pk, self.doing


Answers = dict[tuple[int, str], list["Block"]]

# Given what is about to happen, they say what keeps which of the lots back, such as a critical
# limit just missed. Apps add themselves here when they are loaded.
FURTHER_BLOCKS: list[Callable[[Sequence[Intent]], list[Block]]] = []

_answered: ContextVar[Answers | None] = ContextVar("answered", default=None)


def further_blocks(intent: Intent) -> list[Block]:
    """What other apps find that keeps the lot back."""
    known = _answered.get() or {}
    return known[intent.key] if intent.key in known else ask([intent])[intent.key]


@contextmanager
def asked_at_once(intents: Iterable[Intent]) -> Iterator[None]:
    """Ask for all of these lots together; inside, `further_blocks` knows the answers.

    Inside `recording()` only: nobody else can write then.
    """
    current_recording()
    known = _answered.get() or {}
    missing = list({each.key: each for each in intents if each.key not in known}.values())
    token = _answered.set({**known, **ask(missing)})
    try:
        yield
    finally:
        _answered.reset(token)


def ask(intents: Sequence[Intent]) -> Answers:
    """What other apps find that keeps any of the lots back, all asked together."""
    if not intents:
        return {}
    found = [block for ask in FURTHER_BLOCKS for block in ask(intents)]
    return {each.key: [block for block in found if block.lot.pk == each.lot.pk] for each in intents}
