"""Sheets of what was measured and looked at, and of what was kept back for it."""

from __future__ import annotations

from typing import Any

from brewlog.domain import checkpoints, holds, instruments
from brewlog.forms import checkpoints as forms
from brewlog.forms import holds as hold_forms
from brewlog.forms import instruments as instrument_forms
from brewlog.forms.sheets import HoldEndRowForm
from brewlog.importing.references import Naming
from brewlog.importing.sheet import Sheet
from brewlog.models import HoldEnd, Lot, User
from brewlog.recording import Refused

_HELD = (Naming("hold", "{lot}"),)
_CALIBRATION = (Naming("calibration", "{instrument} {when:.10}"),)


def end_hold_at(*, actor: User, held: Lot, cause: str, **facts: Any) -> HoldEnd:
    """End the hold that a lot has for a cause, at another lot it reached."""
    hold = holds.held_for(held, cause)
    if hold is None:
        raise Refused({"held": f"{held} is not on hold for that."})
    return holds.end_hold_at(actor=actor, hold=hold, **facts)


CALIBRATIONS = (
    Sheet(
        name="Calibrations",
        help="An instrument was compared with references.",
        form=instrument_forms.CalibrateForm,
        verb=instruments.calibrate,
        key=("instrument", "when"),
        gives=_CALIBRATION,
        when="when",
    ),
    Sheet(
        name="Calibration points",
        help="One row for each reference value of a calibration, found by instrument and time.",
        form=instrument_forms.CalibrationPointForm,
        verb=instruments.add_calibration_point,
        key=("instrument", "when", "reference"),
        needs=_CALIBRATION,
        when="when",
    ),
)

SHEETS = (
    Sheet(
        name="Readings",
        help="pH, temperature, density, acidity, pressure or fill of a lot or of a place.",
        form=forms.ReadingForm,
        verb=checkpoints.record_reading,
        key=("lot", "location", "measurand", "when", "replicate"),
        when="when",
    ),
    Sheet(
        name="Condition checks",
        help="How a starter or a batch looked, smelled and tasted.",
        form=forms.ConditionForm,
        verb=checkpoints.check_condition,
        key=("lot", "when"),
        when="when",
    ),
    Sheet(
        name="Lab results",
        help="What a laboratory found.",
        form=forms.LabResultForm,
        verb=checkpoints.record_lab_result,
        key=("lot", "measurand", "laboratory", "when"),
        when="when",
        numbered=True,
    ),
    Sheet(
        name="Alcohol estimates",
        help="Alcohol worked out rather than measured. Never evidence.",
        form=forms.AlcoholEstimateForm,
        verb=checkpoints.record_alcohol_estimate,
        key=("lot", "method", "when"),
        when="when",
    ),
)

HOLDS = (
    Sheet(
        name="Holds",
        help="A lot was kept back. Known to the day, it counts from the day's beginning.",
        form=hold_forms.HoldForm,
        verb=holds.hold,
        key=("lot", "cause", "when"),
        gives=_HELD,
        when="when",
    ),
    Sheet(
        name="Holds ended at a lot",
        help="A hold goes on, but ended at one of the lots it had reached.",
        form=HoldEndRowForm,
        verb=end_hold_at,
        key=("held", "cause", "lot"),
        needs=(Naming("hold", "{held}"),),
        when="when",
        closes=True,
    ),
    Sheet(
        name="Holds lifted",
        help="A hold was ended, with what was found.",
        form=hold_forms.LiftRowForm,
        verb=holds.lift,
        key=("lot", "cause", "when"),
        needs=_HELD,
        when="when",
        closes=True,
    ),
)
