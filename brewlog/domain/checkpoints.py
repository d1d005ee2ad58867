"""Readings, laboratory results, alcohol estimates and looking at a culture."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone

from brewlog.domain.holds import held_for, place_hold
from brewlog.domain.instruments import flag_doubt
from brewlog.domain.lots import flag, refuse_future, save_new
from brewlog.domain.readings import read_at_most, read_value
from brewlog.domain.refusals import refuse_before, refuse_void
from brewlog.domain.stages import usual_stage
from brewlog.kept_files import digest_of
from brewlog.models import (
    AlcoholEstimate,
    Checkpoint,
    ConditionCheck,
    Hold,
    Instrument,
    LabResult,
    Location,
    Lot,
    Measurand,
    ReviewFlag,
    User,
)
from brewlog.models.base import Guarded
from brewlog.recording import Refused, recording
from brewlog.when import Precision, When

_K = Instrument.Kind
# What each kind of instrument can read. An instrument of another kind may read anything.
_READ_BY: dict[str, set[str]] = {
    Measurand.PH: {_K.PH_METER, _K.PH_STRIP},
    Measurand.TEMPERATURE: {
        _K.THERMOMETER,
        _K.PH_METER,
        _K.HYDROMETER,
        _K.REFRACTOMETER,
        _K.DENSITY_METER,
    },
    Measurand.SPECIFIC_GRAVITY: {_K.HYDROMETER, _K.REFRACTOMETER, _K.DENSITY_METER},
    Measurand.BRIX: {_K.HYDROMETER, _K.REFRACTOMETER, _K.DENSITY_METER},
    Measurand.TOTAL_ACIDITY: {_K.BURETTE, _K.PH_METER},
    Measurand.PRESSURE: {_K.GAUGE},
    Measurand.FILL: {_K.SCALE, _K.BURETTE},
    Measurand.ALCOHOL: {_K.DENSITY_METER, _K.HYDROMETER, _K.REFRACTOMETER},
}


def instruments_for(measurand: str) -> QuerySet[Instrument]:
    """The instruments in use that can read it."""
    kinds = {*_READ_BY[measurand], _K.OTHER}
    return Instrument.objects.live().filter(in_use=True, kind__in=kinds)


def record_reading(
    *,
    actor: User,
    measurand: str,
    value: str,
    when: When,
    lot: Lot | None = None,
    location: Location | None = None,
    sample_temperature: Decimal | None = None,
    instrument: Instrument | None = None,
    replicate: int | None = None,
    stage: str = "",
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> Checkpoint:
    """Write down a reading of a lot or of a place. `value` is the text as typed.

    Without a `stage` the usual one for the lot at that time; without a `replicate` the
    next one of the same minute. Unlikely values are recorded. A reading by an instrument
    known to be out is recorded and flagged. Raises `Refused` for what cannot have been
    read, a voided lot, or a time before the lot was there.
    """
    refuse_future(when)
    _refuse_wrong_subject(lot, location)
    if lot is not None:
        refuse_void(lot)
        refuse_before(lot, when)
    _refuse_wrong_instrument(instrument, measurand)
    unit = "F" if actor.units == User.UnitSystem.US else "C"
    read = read_value(measurand, value, temperature_unit=unit)
    with recording(actor, reason):
        found = Checkpoint(
            lot=lot,
            location=location,
            measurand=measurand,
            value=read.value,
            value_text=read.text,
            sample_temperature=sample_temperature,
            instrument=instrument,
            replicate=replicate or _next_replicate(lot, location, measurand, when),
            stage=stage or usual_stage(lot, measurand, when),
            done_by=done_by or actor,
            note=note,
        )
        found.when = when
        save_new(found)
        if lot is not None and instrument is not None:
            told = f"{found.measured} {found.value_text}"
            flag_doubt(lot, instrument, when, told)
        return found


def _refuse_wrong_subject(lot: Lot | None, location: Location | None) -> None:
    if lot is None and location is None:
        raise Refused({"lot": "Name the lot, or the place, that was read."})
    if lot is not None and location is not None:
        raise Refused({"location": "A reading is of a lot or of a place. Leave one empty."})


def _refuse_wrong_instrument(instrument: Instrument | None, measurand: str) -> None:
    if instrument is None or instrument.kind == _K.OTHER:
        return
    if instrument.kind not in _READ_BY[measurand]:
        named = Measurand(measurand).label.split(",")[0]
        raise Refused(
            {
                "instrument": f"{instrument} is a {instrument.get_kind_display()}; it does not "
                f"read {named}. Choose the instrument that did, or leave it empty."
            }
        )


def _next_replicate(lot: Lot | None, location: Location | None, measurand: str, when: When) -> int:
    """1, or one more than what stands there for the very same minute."""
    if when.precision == Precision.DAY:
        return 1
    same = Checkpoint.objects.live().filter(
        lot=lot, location=location, measurand=measurand, happened_at=when.at
    )
    return same.count() + 1


def record_lab_result(
    *,
    actor: User,
    lot: Lot,
    value: str,
    laboratory: str,
    when: When,
    measurand: str = Measurand.ALCOHOL,
    standard_uncertainty: Decimal | None = None,
    method: str = "",
    reported_on: dt.date | None = None,
    report_number: str = "",
    report: Any = "",
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> LabResult:
    """Write down what a laboratory found in a sample taken at `when`.

    `< 0.05` is kept as the value it is below, with the sign in its text. The uncertainty
    is a standard one (k = 1), in the measurand's unit. Raises `Refused` by field.
    """
    refuse_future(when)
    refuse_void(lot)
    refuse_before(lot, when)
    read = read_at_most(measurand, value)
    if standard_uncertainty is not None and standard_uncertainty <= 0:
        raise Refused(
            {"standard_uncertainty": "Write more than nothing, or leave it empty if not stated."}
        )
    _refuse_report_day(reported_on, when)
    with recording(actor, reason):
        found = LabResult(
            lot=lot,
            measurand=measurand,
            value=read.value,
            value_text=read.text,
            standard_uncertainty=standard_uncertainty,
            laboratory=laboratory,
            method=method,
            reported_on=reported_on,
            report_number=report_number,
            report=report,
            done_by=done_by or actor,
            note=note,
        )
        found.when = when
        save_new(found)
        return found


def _refuse_report_day(reported_on: dt.date | None, when: When) -> None:
    if reported_on is None:
        return
    if reported_on < timezone.localtime(when.at).date():
        raise Refused(
            {"reported_on": f"The report is older than its sample ({when}). Mend one of the two."}
        )
    if reported_on > timezone.localdate():
        raise Refused({"reported_on": "That day is still to come."})


def record_alcohol_estimate(
    *,
    actor: User,
    lot: Lot,
    value: Decimal,
    standard_uncertainty: Decimal,
    method: str,
    inputs: str,
    when: When,
    calculation_version: str = "by hand",
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> AlcoholEstimate:
    """Write down an estimate of alcohol (% vol) with its method, inputs and uncertainty.

    Never evidence of conformity: only a laboratory result or a distillation is.
    """
    refuse_future(when)
    refuse_void(lot)
    refuse_before(lot, when)
    if not 0 <= value <= 100:
        raise Refused({"value": "An alcohol content lies between 0 and 100 % vol."})
    with recording(actor, reason):
        found = AlcoholEstimate(
            lot=lot,
            value=value,
            standard_uncertainty=standard_uncertainty,
            method=method,
            inputs=inputs,
            calculation_version=calculation_version,
            done_by=done_by or actor,
            note=note,
        )
        found.when = when
        save_new(found)
        return found


def check_condition(
    *,
    actor: User,
    lot: Lot,
    when: When,
    mould: str = ConditionCheck.Mould.NONE,
    kahm_yeast: bool = False,
    vinegar_eels: bool = False,
    flies: bool = False,
    smell: str = "",
    look: str = "",
    taste: str = "",
    verdict: str = "",
    photo: Any = "",
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> list[Guarded]:
    """Write down how a culture or batch looked and smelled. The check comes first in the
    list, then what it set off.

    Mould holds the lot at once, and with it everything made from it. Not being sure,
    vinegar eels, flies and a suspect verdict put it before a reviewer. Without a `verdict`:
    suspect where something was seen, else wait. Raises `Refused` where 'ready' and what
    was seen contradict each other.
    """
    refuse_future(when)
    refuse_void(lot)
    refuse_before(lot, when)
    verdict = _verdict(verdict, mould)
    with recording(actor, reason):
        check = ConditionCheck(
            lot=lot,
            mould=mould,
            kahm_yeast=kahm_yeast,
            vinegar_eels=vinegar_eels,
            flies=flies,
            smell=smell,
            look=look,
            taste=taste,
            verdict=verdict,
            photo=photo,
            photo_digest=digest_of(photo) if photo else "",
            done_by=done_by or actor,
            note=note,
        )
        check.when = when
        save_new(check)
        return [check, *_set_off_by(check)]


def _verdict(verdict: str, mould: str) -> str:
    if mould == ConditionCheck.Mould.NONE:
        return verdict or ConditionCheck.Verdict.WAIT
    if verdict == ConditionCheck.Verdict.READY:
        raise Refused(
            {"verdict": "With mould, or while it is not sure, it is not ready. Choose suspect."}
        )
    return verdict or ConditionCheck.Verdict.SUSPECT


def _set_off_by(check: ConditionCheck) -> list[Guarded]:
    if check.mould == ConditionCheck.Mould.MOULD:
        if held_for(check.lot, Hold.Cause.MOULD):
            return []
        why = f"mould was seen on {check.when}"
        return [place_hold(check.lot, Hold.Cause.MOULD, why, check.when, done_by=check.done_by)]
    seen = [
        words
        for words, was_seen in (
            ("not sure whether it is mould", check.mould == ConditionCheck.Mould.UNSURE),
            ("vinegar eels", check.vinegar_eels),
            ("flies or larvae", check.flies),
            ("found suspect", check.verdict == ConditionCheck.Verdict.SUSPECT),
        )
        if was_seen
    ]
    if not seen:
        return []
    return [flag(check.lot, ReviewFlag.Kind.CONDITION, f"{', '.join(seen)} on {check.when}")]
