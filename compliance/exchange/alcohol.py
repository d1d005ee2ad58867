"""The alcohol register of a period, and the daily record of a qualified brewer.

The register keeps the highest value found at any time, in the vessel and in the bottle: what
counts is the peak, not only the finished drink (TTB's questions and answers on kombucha). The
daily record has the headings of 27 CFR 25.292; it is for those over the line, who need to be
qualified, and for whoever asks for it.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Q
from django.utils import timezone

from brewlog.ledger import ids_in
from brewlog.models import (
    AlcoholEstimate,
    Checkpoint,
    LabResult,
    Lot,
    LotKind,
    LotUse,
    Measurand,
    ShipmentLine,
    StockAdjustment,
    User,
)
from brewlog.units import Dimension
from compliance.decision import Operator
from compliance.documents.printing import DETAIL_PATHS, desk, detail_paths, moment, what
from compliance.documents.workbook import Cell
from compliance.domain.holidays import holidays, working_days_after
from compliance.domain.rulesets import in_force
from compliance.exchange.reports import Report, ReportSheet, day_of, in_units, unit_of
from compliance.exchange.scopes import Period
from compliance.models import Limit

REGISTER = (
    "lot", "what", "began", "highest, % vol", "uncertainty (k = 1)", "found by", "found on",
    "values", "laboratory results", "limit, % vol", "against the limit",
)  # fmt: skip
DAILY = (
    "day", "heading", "what", "quantity", "unit", "lots", "last written", "due by", "in time",
)  # fmt: skip
OVER, UNDER, NOT_SHOWN, NO_LIMIT = "OVER", "under", "under, no laboratory result", "no limit"

_Reason = StockAdjustment.Reason
_SAMPLES = (_Reason.SAMPLE, _Reason.TASTING)
_DESTROYED = (_Reason.DESTROYED, _Reason.EXPIRED)


@dataclass(frozen=True)
class _Found:
    """An alcohol value of a lot, however it was come by."""

    value: Decimal
    uncertainty: Decimal | None
    by: str
    when: str
    is_laboratory: bool


def collect_alcohol(
    period: Period, *, daily: bool, printed_by: User | str, printed_at: dt.datetime
) -> Report:
    """The register; the daily record too where a lot was over the line, or with `daily`."""
    with desk(printed_by, printed_at) as at_desk:
        last = period.last or timezone.localtime(printed_at).date()
        line = alcohol_line(last)
        register = [_register_row(lot, found, line) for lot, found in _values(period)]
        over = any(row[-1] == OVER for row in register)
        sheets = [
            ReportSheet(
                "Register",
                REGISTER,
                register,
                about="Each lot of the period whose alcohol was measured or estimated, with the "
                "highest value at any time.",
                none="No alcohol was measured or estimated in the period.",
            )
        ]
        if over or daily:
            sheets.append(_daily(period))
        return Report(
            head=at_desk.head("Alcohol records", str(period), "as recorded"),
            asked=str(period),
            notes=_notes(line, last, over, daily),
            sheets=tuple(sheets),
        )


def alcohol_line(day: dt.date) -> Limit | None:
    """The lowest limit of alcohol that bound the brewery on a day; None for none."""
    limits = [
        limit
        for limit in in_force(day)
        if limit.measurand == Measurand.ALCOHOL and limit.value is not None and limit.operator
        and limit.sign.is_upper
    ]  # fmt: skip
    return min(limits, key=lambda limit: (limit.value, limit.sign.allows_equal), default=None)


def _notes(line: Limit | None, day: dt.date, over: bool, daily: bool) -> tuple[str, ...]:
    if line is None:
        held = f"No limit of alcohol was in force on {day}: switch on the rules that bind you."
    else:
        held = f"Held against {line.title}: {line.comparison} ({line.citation})."
    estimates = (
        "An estimate is not evidence, and a limit is never legal advice: only a laboratory result "
        "shows that a lot is under the line."
    )
    if over:
        why = "The daily record is here because a lot was over the line."
    elif daily:
        why = "The daily record was asked for; no lot was over the line."
    else:
        why = "No lot was over the line; the daily record is left out unless it is asked for."
    return (held, estimates, why)


# The register ----------------------------------------------------------------------------


def _values(period: Period) -> Iterator[tuple[Lot, list[_Found]]]:
    """Lots that have alcohol values of the period, with all of those."""
    by_lot: dict[int, list[_Found]] = defaultdict(list)
    readings = Checkpoint.objects.live().filter(
        period.during(), measurand=Measurand.ALCOHOL, lot__isnull=False
    )
    for reading in readings.order_by("pk"):
        assert reading.lot_id is not None
        found = _Found(reading.value, None, "own reading", str(reading.when), False)
        by_lot[reading.lot_id].append(found)
    results = LabResult.objects.live().filter(period.during(), measurand=Measurand.ALCOHOL)
    for result in results.order_by("pk"):
        by = ", ".join(part for part in (result.laboratory, result.method) if part)
        by_lot[result.lot_id].append(
            _Found(result.value, result.standard_uncertainty, by, str(result.when), True)
        )
    for guess in AlcoholEstimate.objects.live().filter(period.during()).order_by("pk"):
        by = f"estimate, {guess.method}"
        by_lot[guess.lot_id].append(
            _Found(guess.value, guess.standard_uncertainty, by, str(guess.when), False)
        )
    rows = Lot.objects.live().filter(pk__in=ids_in(by_lot)).select_related(*DETAIL_PATHS)
    for lot in rows.order_by("happened_at", "pk"):
        yield lot, by_lot[lot.pk]


def _register_row(lot: Lot, found: list[_Found], line: Limit | None) -> tuple[Cell, ...]:
    peak = max(found, key=lambda each: (each.value, each.is_laboratory))
    laboratory = sum(each.is_laboratory for each in found)
    return (
        lot.code, what(lot), day_of(lot.when), float(peak.value),
        float(peak.uncertainty) if peak.uncertainty is not None else None, peak.by, peak.when,
        len(found), laboratory, float(line.value) if line and line.value is not None else None,
        _standing(peak.value, laboratory, line),
    )  # fmt: skip


def _standing(peak: Decimal, laboratory: int, line: Limit | None) -> str:
    if line is None or line.value is None:
        return NO_LIMIT
    below = peak <= line.value if line.sign == Operator.AT_MOST else peak < line.value
    if not below:
        return OVER
    return UNDER if laboratory else NOT_SHOWN


# The daily record ------------------------------------------------------------------------


@dataclass(frozen=True)
class _Movement:
    """One thing of a day: under which heading, what, how much, of which lot, written when."""

    day: str
    heading: str
    what: str
    amount: int
    dimension: str
    lot: str
    written: dt.datetime


def _daily(period: Period) -> ReportSheet:
    """Every movement of the period summed by day, heading and what it is of.

    An entry is due by the close of the next business day (27 CFR 25.291(b)).
    """
    sums: dict[tuple[str, str, str, str], list[_Movement]] = defaultdict(list)
    for moved in _movements(period):
        sums[moved.day, moved.heading, moved.what, moved.dimension].append(moved)
    free = holidays()
    return ReportSheet(
        "Daily record",
        DAILY,
        [_daily_row(key, sums[key], free) for key in sorted(sums)],
        about="Materials and drink by day, under the headings of 27 CFR 25.292.",
        none="Nothing moved in the period.",
    )


def _daily_row(
    key: tuple[str, str, str, str], moved: list[_Movement], free: set[dt.date]
) -> tuple[Cell, ...]:
    day, heading, name, dimension = key
    written = max(each.written for each in moved)
    due = working_days_after(dt.date.fromisoformat(day), 1, free)
    in_time = timezone.localtime(written).date() <= due
    return (
        day, heading, name, in_units(sum(each.amount for each in moved), dimension),
        unit_of(dimension), ", ".join(dict.fromkeys(each.lot for each in moved)),
        moment(written), due.isoformat(), "yes" if in_time else "LATE",
    )  # fmt: skip


def _movements(period: Period) -> Iterator[_Movement]:
    yield from _lots(period)
    yield from _uses(period)
    yield from _sent(period)
    yield from _adjusted(period)


def _lots(period: Period) -> Iterator[_Movement]:
    """Received, made, bottled."""
    headings = {
        LotKind.INGREDIENT: "materials received",
        LotKind.BATCH: "produced",
        LotKind.BOTTLING: "bottled",
    }
    came = Q(kind__in=list(headings)) | Q(kind=LotKind.CULTURE, as_culture__supplier__isnull=False)
    rows = Lot.objects.live().filter(period.during(), came, made__isnull=False)
    for lot in rows.select_related(*DETAIL_PATHS).order_by("pk"):
        heading = headings.get(LotKind(lot.kind), "materials received")
        yield _movement(lot, heading, what(lot), lot, lot.made or 0)


def _uses(period: Period) -> Iterator[_Movement]:
    """Materials used, drink moved between vessels and drawn for bottling."""
    rows = LotUse.objects.live().filter(period.during())
    for use in rows.select_related("source", *detail_paths("source")).order_by("pk"):
        source = use.source
        if source.kind != LotKind.BATCH:
            heading = "materials used"
        elif use.purpose == LotUse.Purpose.DRINK:
            heading = "transferred for bottling"
        else:
            heading = "transferred between vessels"
        yield _movement(use, heading, what(source), source, use.quantity)


def _sent(period: Period) -> Iterator[_Movement]:
    rows = ShipmentLine.objects.live().filter(period.during("shipment__happened_at"))
    for line in rows.select_related("shipment", "lot", *detail_paths("lot")).order_by("pk"):
        yield _movement(
            line, "removed for sale", what(line.lot), line.lot, line.quantity, line.shipment
        )


def _adjusted(period: Period) -> Iterator[_Movement]:
    rows = StockAdjustment.objects.live().filter(period.during())
    for each in rows.select_related("lot", *detail_paths("lot")).order_by("pk"):
        heading = _heading_of(each)
        yield _movement(each, heading, what(each.lot), each.lot, abs(each.change))


def _heading_of(adjustment: StockAdjustment) -> str:
    reason = _Reason(adjustment.reason)
    if reason == _Reason.RETURN:
        return "returned"
    if reason in _SAMPLES:
        return "samples and tasting"
    if reason in _DESTROYED:
        return "destroyed"
    if reason == _Reason.COUNT:
        return "found over by count" if adjustment.change > 0 else "found short by count"
    return f"losses: {adjustment.get_reason_display()}"


def _movement(
    record: Any, heading: str, name: str, lot: Lot, amount: int, happened: Any = None
) -> _Movement:
    at = (happened or record).when
    return _Movement(
        day_of(at), heading, name, amount, Dimension(lot.dimension), lot.code, record.recorded_at
    )
