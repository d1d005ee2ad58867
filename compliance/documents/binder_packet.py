"""Everything an inspector asks of a period, collected once: the binder's facts."""

from __future__ import annotations

import datetime as dt
import json
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from decimal import Decimal

from django.utils import timezone

from brewlog.ledger import ids_in
from brewlog.models import BottlingLot, Calibration, Checkpoint, Lot, LotUse, Measurand, User
from brewlog.when import When
from compliance.documents.as_read import Told
from compliance.documents.collect_lot import collect_lot
from compliance.documents.lot_packet import LotPacket
from compliance.documents.page import Head
from compliance.documents.plan_packet import PlanPacket, collect_plan
from compliance.documents.printing import desk, moment, written
from compliance.domain.monitoring import monitored
from compliance.domain.plans import all_in_force, steps_of
from compliance.exchange.scopes import Period
from compliance.models import (
    Complaint,
    CorrectiveAction,
    Deviation,
    LogEntry,
    Reanalysis,
    Release,
    Review,
)

STATE = "as recorded"


@dataclass(frozen=True)
class MonitoringLine:
    """What was recorded for one control point in the period."""

    plan: str
    step: str
    limit: str
    records: str
    outside: str
    last: str


@dataclass(frozen=True)
class RoomDay:
    """The readings of one place on one day, °C."""

    place: str
    day: str
    readings: int
    lowest: str
    highest: str


@dataclass(frozen=True)
class CalibrationLine:
    """One comparison of an instrument with references."""

    when: str
    instrument: str
    outcome: str
    references: str
    due: str
    by: str


@dataclass(frozen=True)
class DeviationLine:
    """What went wrong, and each correction with its four points."""

    when: str
    title: str
    kind: str
    lots: str
    what_happened: str
    corrections: tuple[tuple[str, ...], ...]
    standing: str


@dataclass(frozen=True)
class SignedLine:
    """A review, a release, or another look at a plan, with who signed it."""

    when: str
    what: str
    by: str
    remark: str


@dataclass(frozen=True)
class LogLine:
    """A line of the logs, or a complaint."""

    when: str
    log: str
    subject: str
    what: str
    by: str
    is_good: bool


@dataclass(frozen=True)
class BinderPacket:
    """A period's plans, lot sheets and records. `every` says that lots never released are in."""

    head: Head
    period: str
    every: bool
    plans: tuple[PlanPacket, ...]
    lots: tuple[LotPacket, ...]
    monitoring: tuple[MonitoringLine, ...]
    rooms: tuple[RoomDay, ...]
    calibrations: tuple[CalibrationLine, ...]
    deviations: tuple[DeviationLine, ...]
    verification: tuple[SignedLine, ...]
    logs: tuple[LogLine, ...]

    def to_json(self) -> str:
        """The same facts as JSON, two spaces deep, in the order they are printed."""
        return json.dumps(asdict(self), ensure_ascii=False, indent=2) + "\n"


def collect_binder(
    period: Period, *, every: bool, printed_by: User | str, printed_at: dt.datetime
) -> BinderPacket:
    """The binder of a period: lots released in it, or with `every` all that were bottled in it,
    each with the batches it was drawn from."""
    with desk(printed_by, printed_at) as at_desk:
        printed = {"printed_by": printed_by, "printed_at": printed_at}
        plans = all_in_force(When(period.ends or printed_at))
        return BinderPacket(
            head=at_desk.head("Binder", Told(period), STATE),
            period=Told(period),
            every=every,
            plans=tuple(collect_plan(plan, **printed) for plan in plans),  # type: ignore[arg-type]
            lots=tuple(collect_lot(lot, **printed) for lot in _lots(period, every)),  # type: ignore[arg-type]
            monitoring=_monitoring(period, printed_at),
            rooms=_rooms(period),
            calibrations=_calibrations(period),
            deviations=_deviations(period),
            verification=_verification(period),
            logs=_logs(period),
        )


def _lots(period: Period, every: bool) -> list[Lot]:
    """Batches first, then the bottling lots drawn from them, each in the order of its time."""
    if every:
        bottled = BottlingLot.objects.live().filter(period.during())
        ids = set(bottled.values_list("pk", flat=True))
    else:
        signed = period.during("signature__signed_at")
        releases = Release.objects.live().filter(signed, undone_by__isnull=True)
        ids = set(releases.values_list("lot", flat=True))
    uses = LotUse.objects.live().filter(into__in=ids_in(ids), source__kind="batch")
    ids |= set(uses.values_list("source", flat=True))
    rows = Lot.objects.live().filter(pk__in=ids_in(ids))
    return sorted(rows, key=lambda lot: (lot.kind != "batch", lot.happened_at, lot.pk))


def _monitoring(period: Period, printed_at: dt.datetime) -> tuple[MonitoringLine, ...]:
    since = When(period.starts or dt.datetime(1970, 1, 1, tzinfo=dt.UTC))
    until = When(period.ends or printed_at)
    found = []
    for version in all_in_force(until):
        steps = [step for step in steps_of(version) if step.limit is not None]
        for each in monitored(steps, since, until):
            limit = each.step.limit
            assert limit is not None
            found.append(
                MonitoringLine(
                    plan=str(version),
                    step=f"{each.step.order}. {each.step.step}",
                    limit=Told(f"{limit.title} {limit.comparison}".strip()),
                    records=str(each.count) if each.is_recorded else "worked out",
                    outside="–" if each.outside is None else str(each.outside),
                    last=written(each.last.when if each.last else None),
                )
            )
    return tuple(found)


def _rooms(period: Period) -> tuple[RoomDay, ...]:
    """A logger writes hundreds of readings a day: each day by its lowest and highest."""
    rows = Checkpoint.objects.live().filter(
        period.during(), measurand=Measurand.TEMPERATURE, location__isnull=False
    )
    by_day: dict[tuple[str, str], list[Decimal]] = defaultdict(list)
    read = rows.order_by("location__name", "happened_at")
    for place, at, value in read.values_list("location__name", "happened_at", "value"):
        by_day[str(place), f"{timezone.localtime(at):%Y-%m-%d}"].append(value)
    return tuple(
        RoomDay(place, Told(day), len(values), _degrees(min(values)), _degrees(max(values)))
        for (place, day), values in by_day.items()
    )


def _degrees(value: Decimal) -> str:
    return Told(f"{value:.1f} °C".replace("-", "\N{MINUS SIGN}"))


def _calibrations(period: Period) -> tuple[CalibrationLine, ...]:
    rows = Calibration.objects.live().filter(period.during())
    return tuple(
        CalibrationLine(
            when=written(each.when),
            instrument=str(each.instrument),
            outcome=each.get_outcome_display(),
            references=each.buffers,
            due=written(each.due_on),
            by=str(each.done_by),
        )
        for each in rows.select_related("instrument", "done_by").order_by("happened_at", "pk")
    )


def _deviations(period: Period) -> tuple[DeviationLine, ...]:
    rows = Deviation.objects.live().filter(period.during())
    found = rows.prefetch_related("lots__lot", "corrections__signature")
    return tuple(_deviation(each) for each in found.order_by("happened_at", "pk"))


def _deviation(each: Deviation) -> DeviationLine:
    corrections = [c for c in each.corrections.all() if not c.is_void]
    closed = [c.signature for c in corrections if c.signature]
    return DeviationLine(
        when=written(each.when),
        title=Told(each.title),
        kind=each.get_kind_display(),
        lots=", ".join(link.lot.code for link in each.lots.all() if not link.is_void),
        what_happened=Told(each.what_happened),
        corrections=tuple(_correction(c) for c in corrections),
        standing=Told(f"closed {moment(closed[-1].signed_at)}") if closed else "OPEN",
    )


def _correction(correction: CorrectiveAction) -> tuple[str, ...]:
    """The four points of 21 CFR 117.150(a)(2), and who signed them."""
    signed = correction.signature
    who = "not signed"
    if signed:
        who = Told(f"signed {moment(signed.signed_at)} by {signed.printed_name}")
    return (
        f"found and corrected: {correction.problem_corrected}",
        f"made less likely: {correction.made_less_likely}",
        f"product evaluated: {correction.product_evaluated}",
        f"kept out of sale: {correction.kept_out}",
        who,
    )


def _verification(period: Period) -> tuple[SignedLine, ...]:
    signed = period.during("signature__signed_at")
    reviews = Review.objects.live().filter(signed).select_related("lot", "signature")
    releases = Release.objects.live().filter(signed).select_related("lot", "signature", "undone_by")
    looks = Reanalysis.objects.live().filter(signed).select_related("version__plan", "signature")
    found = [
        *(_signed(each, f"{each.lot.code} reviewed", each.remark) for each in reviews),
        *(_signed(each, _released(each), each.remark) for each in releases),
        *(_signed(each, str(each), f"{each.because}. {each.found}") for each in looks),
    ]
    return tuple(sorted(found, key=lambda line: (line.when, line.what)))


def _released(release: Release) -> str:
    return f"{release.lot.code} released{', taken back since' if release.undone_by else ''}"


def _signed(record: Review | Release | Reanalysis, what: str, remark: str) -> SignedLine:
    signature = record.signature
    return SignedLine(moment(signature.signed_at), what, signature.printed_name, remark)


def _logs(period: Period) -> tuple[LogLine, ...]:
    entries = LogEntry.objects.live().filter(period.during()).select_related("done_by")
    complaints = Complaint.objects.live().filter(period.during()).select_related("done_by", "lot")
    found = [
        *(
            LogLine(
                written(each.when), each.get_log_display(), each.subject,
                _joined((each.what, each.agent, each.value_text, each.note)), str(each.done_by),
                each.is_good,
            )
            for each in entries
        ),
        *(
            LogLine(
                written(each.when), "complaint", str(each.lot or "lot not known"),
                _joined((each.get_kind_display(), each.what, each.outcome)), str(each.done_by),
                False,
            )
            for each in complaints
        ),
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda line: (line.log, line.when, line.subject)))


def _joined(parts: Iterable[str]) -> str:
    return "; ".join(part for part in parts if part)
