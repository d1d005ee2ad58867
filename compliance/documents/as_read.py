"""A packet's words as they are read on paper.

A packet holds its times as machines read them, 2026-03-04, and temperatures in degrees Celsius: so
it is handed over as JSON and in spreadsheets. What the program told in them is marked; on paper it
is put in the brewery's order and in the units of who prints. Codes, names and what people typed
stay as they are.
"""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar

from brewlog.units import METRIC, US, temperatures_in
from brewlog.when import dates_in

if TYPE_CHECKING:
    from compliance.documents.page import Head

Packet = TypeVar("Packet")


class Told(str):
    """Words of a packet that the program made: its dates and temperatures may be put otherwise."""

    __slots__ = ()


def as_read(packet: Packet) -> Packet:
    """The packet as its paper is read. It has a `head`."""
    found: Packet = _read(packet, packet.head)  # type: ignore[attr-defined]
    return found


def read(words: str, head: Head) -> str:
    """Words that the program made, as they are read."""
    return dates_in(temperatures_in(words, US if head.is_us else METRIC), head.day_first)


def _read(value: Any, head: Head) -> Any:
    if isinstance(value, Told):
        return read(value, head)
    if isinstance(value, tuple) and not hasattr(value, "_fields"):
        return tuple(_read(each, head) for each in value)
    if is_dataclass(value) and not isinstance(value, type):
        old = {each.name: getattr(value, each.name) for each in fields(value)}
        new = {name: _read(each, head) for name, each in old.items()}
        changed = {name: each for name, each in new.items() if each is not old[name]}
        return replace(value, **changed) if changed else value
    return value
