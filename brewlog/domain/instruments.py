"""Calibrating instruments, and looking back when one was found out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import QuerySet
from django.utils import timezone

from brewlog.domain.buffers import NewBottle, bottle_for
from brewlog.domain.lots import flag, refuse_future, save_new
from brewlog.models import (
    BufferBottle,
    Calibration,
    CalibrationPoint,
    Checkpoint,
    Instrument,
    Lot,
    ProcessStep,
    ReviewFlag,
    User,
)
from brewlog.recording import Refused, recording
from brewlog.when import Precision, When

_GOOD = (Calibration.Outcome.IN_TOLERANCE, Calibration.Outcome.ADJUSTED)


@dataclass(frozen=True)
class Point:
    """One reference value, what the instrument showed of it, and what after adjusting."""

    reference: Decimal
    found: Decimal
    left: Decimal | None = None
    bottle: BufferBottle | NewBottle | None = None


@dataclass(frozen=True)
class InDoubt:
    """Readings and steps since the last good calibration, when one was found out."""

    calibration: Calibration
    last_good: Calibration | None
    readings: list[Checkpoint] = field(default_factory=list)
    steps: list[ProcessStep] = field(default_factory=list)

    @property
    def lots(self) -> list[Lot]:
        """The lots that lean on them, by id."""
        found = {each.lot.pk: each.lot for each in self.all if each.lot}
        return [found[pk] for pk in sorted(found)]

    @property
    def all(self) -> list[Checkpoint | ProcessStep]:
        """Readings first, then steps."""
        return [*self.readings, *self.steps]


def calibrate(
    *,
    actor: User,
    instrument: Instrument,
    outcome: str,
    when: When,
    points: Sequence[Point] = (),
    slope_percent: Decimal | None = None,
    offset_mv: Decimal | None = None,
    buffers: str = "",
    due_on: dt.date | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> Calibration:
    """Write down that an instrument was compared with references.

    Without `due_on` the next one is due after the instrument's own interval. Found out
    of tolerance, every lot that leans on a reading or step since the last good
    calibration is put before a reviewer. Raises `Refused` by field.
    """
    refuse_future(when)
    if due_on is not None and due_on <= timezone.localtime(when.at).date():
        raise Refused({"due_on": f"The next calibration is due after this one ({when})."})
    with recording(actor, reason):
        found = Calibration(
            instrument=instrument,
            outcome=outcome,
            slope_percent=slope_percent,
            offset_mv=offset_mv,
            buffers=buffers,
            due_on=due_on or _usually_due(instrument, when),
            done_by=done_by or actor,
            note=note,
        )
        found.when = when
        save_new(found)
        for point in points:
            _save_point(actor, found, point)
        if found.was_out:
            _flag_what_leans(found)
        return found


def _usually_due(instrument: Instrument, when: When) -> dt.date | None:
    if instrument.calibrate_every_days is None:
        return None
    days = dt.timedelta(days=instrument.calibrate_every_days)
    return timezone.localtime(when.at).date() + days


def _save_point(actor: User, calibration: Calibration, point: Point) -> CalibrationPoint:
    bottle = bottle_for(actor, point.bottle, point.reference) if point.bottle else None
    found = CalibrationPoint(
        calibration=calibration,
        reference=point.reference,
        found=point.found,
        left=point.left,
        bottle=bottle,
    )
    save_new(found)
    return found


def _flag_what_leans(calibration: Calibration) -> None:
    doubt = readings_in_doubt(calibration)
    since = f"since {doubt.last_good.when}" if doubt.last_good else "since its first reading"
    for lot in doubt.lots:
        number = sum(each.lot_id == lot.pk for each in doubt.all)
        flag(
            lot,
            ReviewFlag.Kind.INSTRUMENT,
            f"{number} reading{'s' if number > 1 else ''} by {calibration.instrument} {since} in "
            f"doubt: {calibration.get_outcome_display()} on {calibration.when}",
        )


def add_calibration_point(
    *,
    actor: User,
    instrument: Instrument,
    when: When,
    reference: Decimal,
    found: Decimal,
    left: Decimal | None = None,
    bottle: BufferBottle | NewBottle | None = None,
    reason: str = "",
) -> CalibrationPoint:
    """Add a point to the calibration of that instrument at that time, or of that day.

    Raises `Refused` where there is none, several, or the point stands there already.
    """
    calibration = _calibration_at(instrument, when)
    if calibration.points.filter(voided_at__isnull=True, reference=reference).exists():
        raise Refused({"reference": f"{calibration} has a point at {reference} already."})
    with recording(actor, reason):
        return _save_point(actor, calibration, Point(reference, found, left, bottle))


def _calibration_at(instrument: Instrument, when: When) -> Calibration:
    known = Calibration.objects.live().filter(instrument=instrument)
    if when.precision == Precision.MINUTE:
        matching = list(known.filter(happened_at=when.at))
    else:
        matching = list(known.filter(happened_at__gte=when.at, happened_at__lt=when.ends))
    if not matching:
        raise Refused(
            {"when": f"{instrument} has no calibration of {when}. Record the calibration first."}
        )
    if len(matching) > 1:
        raise Refused({"when": f"{instrument} was calibrated twice on {when}. Write the time."})
    return matching[0]


def calibration_in_force(instrument: Instrument, at: When) -> Calibration | None:
    """The last calibration that was not provably later; None where there is none.

    It may be one that failed: its outcome tells.
    """
    earlier = _calibrations(instrument).filter(happened_at__lt=_after(at))
    return earlier.order_by("-happened_at", "-id").first()


def readings_in_doubt(calibration: Calibration) -> InDoubt:
    """Every reading and step by the instrument since its last good calibration.

    Empty for a calibration that was good. What cannot be shown to lie outside the time
    between the two counts as inside.
    """
    if not calibration.was_out:
        return InDoubt(calibration, None)
    earlier = _calibrations(calibration.instrument).filter(
        outcome__in=_GOOD, happened_at__lt=calibration.happened_at
    )
    last_good = earlier.order_by("-happened_at", "-id").first()
    readings = Checkpoint.objects.live().filter(instrument=calibration.instrument)
    steps = ProcessStep.objects.live().filter(instrument=calibration.instrument)
    return InDoubt(
        calibration,
        last_good,
        [each for each in readings.select_related("lot") if _between(each, last_good, calibration)],
        [each for each in steps.select_related("lot") if _between(each, last_good, calibration)],
    )


def _between(
    event: Checkpoint | ProcessStep, last_good: Calibration | None, found_out: Calibration
) -> bool:
    if found_out.when.provably_before(event.when):
        return False
    return last_good is None or not event.when.provably_before(last_good.when)


def doubt_about(instrument: Instrument, at: When) -> Calibration | None:
    """The calibration that puts a reading at that time in doubt; None where none does.

    The next one was out and none good came between, or the last one failed.
    """
    following = _calibrations(instrument).filter(happened_at__gte=at.at)
    after = following.order_by("happened_at", "id").first()
    if after is not None and after.was_out:
        return after
    before = calibration_in_force(instrument, at)
    if before is not None and before.outcome == Calibration.Outcome.FAILED:
        return before
    return None


def flag_doubt(lot: Lot, instrument: Instrument, when: When, told: str) -> None:
    """Flag what an instrument told of a lot while it is known to have been out."""
    doubt = doubt_about(instrument, when)
    if doubt is not None:
        flag(
            lot,
            ReviewFlag.Kind.INSTRUMENT,
            f"{told} of {when} was read by {instrument}, {doubt.get_outcome_display()} "
            f"on {doubt.when}",
        )


def _calibrations(instrument: Instrument) -> QuerySet[Calibration]:
    return Calibration.objects.with_expired_buffer().live().filter(instrument=instrument)


def _after(at: When) -> dt.datetime:
    """The first moment that is provably after it."""
    return at.ends if at.precision == Precision.DAY else at.at + dt.timedelta(microseconds=1)
