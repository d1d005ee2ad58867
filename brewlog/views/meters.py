"""The instrument at hand: the one used last here, and whether it can be leaned on today."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.http import HttpResponse
from django.utils import timezone

from brewlog.domain.checkpoints import instruments_for
from brewlog.domain.instruments import calibration_in_force
from brewlog.middleware import BreweryRequest
from brewlog.models import Calibration, Checkpoint, Instrument, Measurand
from brewlog.views.lists import Word
from brewlog.views.reader import Reader, plain_decimal
from brewlog.when import now

_A_YEAR = 365 * 24 * 3600
_WILL_NEED_A_LOOK = "the reading is recorded and will need a look"


def usual_instrument(request: BreweryRequest, measurand: str) -> Instrument | None:
    """What this device read it with last; on a new device, what this person did."""
    if measurand not in Measurand.values:
        return None
    fitting = instruments_for(measurand)
    kept = request.COOKIES.get(_cookie(measurand), "")
    if kept.isascii() and kept.isdigit():
        return fitting.filter(pk=int(kept)).first()
    last = Checkpoint.objects.live().filter(recorded_by=request.user, measurand=measurand)
    key = last.order_by("-id").values_list("instrument", flat=True).first()
    return fitting.filter(pk=key).first() if key else None


def remember_instrument(response: HttpResponse, reading: Checkpoint) -> None:
    """Keep on this device what it was read with, so that the next form opens with it."""
    response.set_cookie(
        _cookie(reading.measurand),
        str(reading.instrument_id or 0),
        max_age=_A_YEAR,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )


def _cookie(measurand: str) -> str:
    return f"instrument-{measurand}"


def meter_word(instrument: Instrument, reader: Reader) -> Word:
    """How its calibration stands, to be read before anything is typed."""
    found = calibration_in_force(instrument, now())
    if found is None:
        asked = instrument.calibrate_every_days is not None
        words = f"never calibrated: {_WILL_NEED_A_LOOK}" if asked else "not calibrated"
        return Word(words, "look" if asked else "plain")
    done = timezone.localtime(found.happened_at)
    if found.outcome == Calibration.Outcome.FAILED:
        told = _day_words(done.date(), reader)
        return Word(f"not brought into tolerance {told}: take another instrument", "stop")
    if found.due_on is not None and found.due_on < timezone.localdate():
        due = _day_words(found.due_on, reader).removeprefix("on ")
        return Word(f"calibration overdue since {due}: {_WILL_NEED_A_LOOK}", "look")
    if found.expired_buffer:
        words = f"calibrated in a buffer past its date ({found.expired_buffer})"
        return Word(f"{words}: {_WILL_NEED_A_LOOK}", "look")
    this_morning = done.date() == timezone.localdate() and done.hour < 12
    told = "this morning" if this_morning else _day_words(done.date(), reader)
    slope = found.slope_percent
    return Word(
        f"calibrated {told}" + (f", slope {plain_decimal(slope)} %" if slope else ""), "good"
    )


def _day_words(day: dt.date, reader: Reader) -> str:
    """today, yesterday, on Monday, on 4 Mar 2026."""
    days = (timezone.localdate() - day).days
    if days in (0, 1):
        return ("today", "yesterday")[days]
    return f"on {day:%A}" if 1 < days < 7 else f"on {reader.day(day)}"
