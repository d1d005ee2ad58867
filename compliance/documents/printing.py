"""What all collectors share: the head of a paper, and how lots, times and entries are worded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.utils import timezone

from brewlog.domain.blocks import Block, blocks
from brewlog.models import Brewery, Lot, LotKind, User
from brewlog.models.base import Event, Guarded
from brewlog.models.lots import DESCRIBED
from brewlog.recording import reading
from brewlog.units import METRIC, US, UnitSystem, show_quantity, typed_in
from brewlog.when import When
from compliance.documents.as_read import Told
from compliance.documents.page import Head

# Papers name the supplier too.
DETAIL_PATHS = (*DESCRIBED, "as_ingredient__supplier")

DRAFT = "draft - not released"
# Who printed, where a command did.
COMMAND = "the command line"


def detail_paths(prefix: str) -> list[str]:
    """`DETAIL_PATHS` behind a link: `detail_paths("source")` for `select_related`."""
    return [f"{prefix}__{path}" for path in DETAIL_PATHS]


@dataclass(frozen=True)
class Desk:
    """Who prints, when, for which brewery. Who is a person, or words for a command."""

    brewery: Brewery
    printed_by: User | str
    printed_at: dt.datetime

    @property
    def units(self) -> UnitSystem:
        """The reader's units; metric for a command."""
        by = self.printed_by
        return US if isinstance(by, User) and by.units == User.UnitSystem.US else METRIC

    def amount(self, canonical: int, dimension: str, beside: Iterable[str] = ()) -> str:
        """A worked-out amount in the reader's units; in those of typed amounts that stand beside
        it, where all are of one system, so that the two can be compared."""
        system = typed_in(beside, self.units)
        return show_quantity(canonical, dimension, system).replace("-", "\N{MINUS SIGN}")

    def head(self, title: str, subject: str, state: str) -> Head:
        return Head(
            brewery=self.brewery.name,
            address=self.brewery.address,
            time_zone=self.brewery.time_zone,
            title=title,
            subject=subject,
            state=state,
            printed_at=moment(self.printed_at),
            printed_by=str(self.printed_by),
            logo=self.brewery.logo.name or "",
            day_first=self.brewery.day_first,
            is_us=self.units is US,
        )


@contextmanager
def desk(printed_by: User | str, printed_at: dt.datetime) -> Iterator[Desk]:
    """One consistent picture of the records, in the brewery's zone, to collect a packet from."""
    with reading():
        brewery = Brewery.objects.first() or Brewery(name="(brewery not named yet)")
        with timezone.override(brewery.zone):
            yield Desk(brewery, printed_by, printed_at)


def moment(at: dt.datetime | None) -> str:
    """A stored time to the minute, in the zone in force; nothing where there is none."""
    return Told(f"{timezone.localtime(at):%Y-%m-%d %H:%M}" if at else "")


def written(when: When | dt.date | None) -> str:
    """A time as closely as it is known, or a day; nothing where there is none."""
    return Told(when or "")


def what(lot: Lot) -> str:
    """A lot in words: the ingredient, the recipe and vessel, the flavour and format."""
    return lot.detail.describe()  # type: ignore[attr-defined]


def suppliers_code(lot: Lot) -> str:
    """The code the lot had before it came here; '' where it has none."""
    if lot.kind in {LotKind.INGREDIENT, LotKind.CULTURE}:
        return lot.detail.supplier_code  # type: ignore[attr-defined]
    return ""


def state_of(lot: Lot, found: list[Block]) -> str:
    """The state a paper shows: void, kept back, a delivery's decision, or draft."""
    if lot.is_void:
        return "VOID"
    if lot.kind == LotKind.INGREDIENT:
        decision = lot.detail.get_acceptance_display()  # type: ignore[attr-defined]
        return f"KEPT BACK; {decision}" if found else decision
    if lot.kind == LotKind.CULTURE and lot.detail.retired_at:  # type: ignore[attr-defined]
        held = any("is retired" not in block.text for block in found)
        return "KEPT BACK; retired" if held else "retired"
    return f"KEPT BACK; {DRAFT}" if found else DRAFT


def blocks_in_words(lot: Lot) -> tuple[str, list[Block]]:
    """The lot's state, and what keeps it back."""
    found = blocks(lot)
    return state_of(lot, found), found


def late_mark(entry: Event) -> str:
    """Written more than a shift after it happened: when and by whom; else ''."""
    if not entry.is_late:
        return ""
    return Told(f"late: written {moment(entry.recorded_at)} by {entry.recorded_by}")


def late_group(entry: Event) -> str:
    """On which day and by whom a late entry was written; else ''."""
    if not entry.is_late:
        return ""
    return Told(f"on {timezone.localtime(entry.recorded_at):%Y-%m-%d} by {entry.recorded_by}")


def void_mark(record: Guarded) -> str:
    """Who struck an entry out, when and why; else ''."""
    if not record.is_void:
        return ""
    struck = f"struck out {moment(record.voided_at)} by {record.voided_by}"
    return Told(f"{struck}: {record.void_reason}")


def entry_fields(entry: Event) -> dict[str, str]:
    """What every entry of a packet says of itself."""
    return {
        "when": written(entry.when),
        "by": str(entry.done_by),
        "late": late_mark(entry),
        "late_group": late_group(entry),
        "note": entry.note,
        "void": void_mark(entry),
    }
