"""The checks around a bottling line and the labels, as entries of the lot sheet."""

from __future__ import annotations

from brewlog.models import (
    BottleWash,
    Breakage,
    LineClearance,
    Lot,
    LotKind,
    RetainedBottles,
)
from brewlog.models.base import Event
from compliance.documents.as_read import Told
from compliance.documents.lot_packet import LineCheckEntry
from compliance.documents.printing import entry_fields, moment
from compliance.models import LabelCount, LabelRun

_PEOPLE = ("done_by", "recorded_by", "voided_by")


def line_checks_of(lot: Lot) -> tuple[LineCheckEntry, ...]:
    """Clearances, washes, breakages, bottles kept and labels, in the order of time."""
    if lot.kind != LotKind.BOTTLING:
        return ()
    clearances = LineClearance.objects.filter(lot=lot.pk).select_related(*_PEOPLE, "previous")
    found: list[tuple[Event, str, str]] = [
        (each, "line cleared", _clearance(each)) for each in clearances
    ]
    found += [(each, "bottles washed", _wash(each)) for each in _of(BottleWash, lot)]
    found += [(each, "glass broke", _breakage(each)) for each in _of(Breakage, lot)]
    found += [(each, "bottles kept", _retained(each)) for each in _of(RetainedBottles, lot)]
    found += [(each, "labels printed", _printed(each)) for each in _of(LabelRun, lot)]
    found += [(each, "labels counted", _counted(each)) for each in _of(LabelCount, lot)]
    found.sort(key=lambda entry: (entry[0].happened_at, entry[1], entry[0].pk))
    return tuple(
        LineCheckEntry(**entry_fields(entry), what=what, text=text) for entry, what, text in found
    )


def _of(model: type, lot: Lot) -> list:
    return list(model.objects.filter(lot=lot.pk).select_related(*_PEOPLE))  # type: ignore[attr-defined]


def _clearance(entry: LineClearance) -> str:
    before = f"after {entry.previous}" if entry.previous else "nothing ran before"
    kept = {
        (True, True): "first and last label kept",
        (True, False): "first label kept, last label not kept",
        (False, True): "last label kept, first label not kept",
        (False, False): "no label kept",
    }[entry.first_label_kept, entry.last_label_kept]
    return f"{before}; {kept}"


def _wash(entry: BottleWash) -> str:
    gaskets = "gaskets checked" if entry.gaskets_checked else "gaskets not checked"
    return f"{entry.washed} washed ({entry.method}), {entry.chipped} put aside, {gaskets}"


def _breakage(entry: Breakage) -> str:
    since = f" back to {moment(entry.last_good_check_at)}" if entry.last_good_check_at else ""
    return Told(f"{entry.broken} broken, {entry.set_apart} set apart{since}; {entry.cleaned}")


def _retained(entry: RetainedBottles) -> str:
    pulled = f"; opened {moment(entry.pulled_at)}: {entry.finding}" if entry.pulled_at else ""
    kept = f"{entry.count} kept {entry.get_kept_display()}, open on {entry.pull_on}{pulled}"
    return Told(kept)


def _printed(entry: LabelRun) -> str:
    where = ", printed elsewhere" if entry.is_elsewhere else ""
    return f"{entry.count} for {entry.get_what_display()}{where}"


def _counted(entry: LabelCount) -> str:
    told = f"{entry.put_on} put on, {entry.spoiled} spoiled, {entry.destroyed} destroyed"
    return f"{told} ({entry.get_what_display()})"
