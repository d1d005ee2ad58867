"""The pages of instruments and of the buffers they are calibrated in."""

from __future__ import annotations

from brewlog.models import BufferBottle, Instrument
from brewlog.views import events
from brewlog.views.details import Detail, Next, Section
from brewlog.views.facts import Fact
from brewlog.views.lists import Column, Linked, get
from brewlog.views.nouns.measured import outcome_word
from brewlog.views.nouns.registers import bottle_word, calibration_word, instruments
from brewlog.views.registers.parts import NEWEST

INSTRUMENT = Detail(
    noun="instrument",
    model=Instrument,
    title="Instrument",
    list_title="Instruments",
    extra=lambda found: [
        Fact("Calibration", calibration_word(instruments().get(pk=found.pk)).text),
    ],
    sections=(
        Section(
            "Calibrations",
            (
                events.WHEN,
                Column("outcome", "Outcome", outcome_word),
                Column("points", "Points", lambda each: "; ".join(map(str, each.points.all()))),
                Column("slope", "Slope, %", get("slope_percent"), number=True),
                Column("offset", "Offset, mV", get("offset_mv"), number=True),
                Column("buffers", "Buffers", get("buffers")),
                Column("expired", "Buffer past its date", get("expired_buffer")),
                Column("due", "Next due", get("due_on")),
                events.BY,
            ),
            lambda found: (
                found.calibrations.with_expired_buffer()
                .select_related("done_by")
                .prefetch_related("points")
                .order_by("-happened_at", "-id")[:NEWEST]
            ),
            empty="Never calibrated.",
        ),
        Section(
            "Its newest readings",
            (
                events.WHEN,
                Column(
                    "lot",
                    "Lot or place",
                    lambda each: Linked(each.lot or each.location, each.lot or each.location),
                ),
                *events.READING_COLUMNS[1:5],
                events.BY,
            ),
            lambda found: found.readings.select_related("lot", "location", "done_by").order_by(
                "-happened_at", "-id"
            )[:NEWEST],
        ),
    ),
    next=(Next("calibrate", "instrument"), Next("reading", "instrument")),
)
BUFFER_BOTTLE = Detail(
    noun="buffer-bottle",
    model=BufferBottle,
    title="Buffer bottle",
    list_title="Buffer bottles",
    links=("supplier",),
    extra=lambda found: [Fact("Standing", bottle_word(found).text)],
    sections=(
        Section(
            "Calibrations in it",
            (
                Column("when", "When", lambda each: events.RecordLink(each.calibration.when, each)),
                Column(
                    "instrument",
                    "Instrument",
                    lambda each: Linked(each.calibration.instrument, each.calibration.instrument),
                ),
                Column("found", "As found", get("found"), number=True),
                Column("left", "As left", get("left"), number=True),
                Column("standing", "Buffer", events.buffer_word),
            ),
            lambda found: found.points.select_related("bottle", "calibration__instrument").order_by(
                "-id"
            )[:NEWEST],
            empty="No meter has been calibrated in it yet.",
        ),
    ),
)
