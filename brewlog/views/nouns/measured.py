"""Lists of what was measured and done."""

from __future__ import annotations

from typing import Any

from brewlog.models import (
    BatchFigure,
    Calibration,
    Checkpoint,
    ConditionCheck,
    Instrument,
    LabResult,
    Location,
    Measurand,
    Move,
    Recipe,
    Stage,
    StockAdjustment,
    UsualRun,
)
from brewlog.views import events
from brewlog.views.lists import Column, Linked, Listing, Word, get, link
from brewlog.views.nouns.parts import (
    CHECKS,
    SINCE,
    VOIDED,
    choice_filter,
    link_filter,
)


def _about(reading: Any) -> Linked:
    """The lot or the place a reading is of."""
    owner = reading.lot or reading.location
    return Linked(str(owner), owner)


def outcome_word(calibration: Any) -> Word:
    return Word(calibration.get_outcome_display(), "stop" if calibration.was_out else "good")


READINGS = Listing(
    noun="reading",
    path="readings",
    title="Readings",
    group=CHECKS,
    queryset=lambda: Checkpoint.objects.select_related("lot", "location", "instrument", "done_by"),
    columns=(
        events.READING_COLUMNS[0],
        Column("lot", "Lot or place", _about, "lot__code"),
        *events.READING_COLUMNS[1:],
    ),
    search=("lot__code", "location__name", "value_text", "instrument__name", "note"),
    filters=(
        choice_filter("measurand", "Measured", Measurand.choices),
        choice_filter("stage", "Stage", Stage.choices),
        link_filter("instrument", "Instrument", Instrument),
        SINCE,
        VOIDED,
    ),
    start="reading",
    empty="pH, temperature, density, acidity: each reading with its instrument and time.",
    also=(("Batch to batch: one value of every batch side by side", "batch-to-batch"),),
)
CONDITION_CHECKS = Listing(
    noun="condition-check",
    path="checks",
    title="How it looked and smelled",
    group=CHECKS,
    queryset=lambda: ConditionCheck.objects.select_related("lot", "done_by"),
    columns=(events.CHECK_COLUMNS[0], events.LOT, *events.CHECK_COLUMNS[1:]),
    search=("lot__code", "smell", "look", "taste", "note"),
    filters=(
        choice_filter("mould", "Mould", ConditionCheck.Mould.choices),
        choice_filter("verdict", "Verdict", ConditionCheck.Verdict.choices),
        SINCE,
        VOIDED,
    ),
    start="condition",
    empty="Mould, kahm yeast, eels and flies are told apart and written down.",
)
LAB_RESULTS = Listing(
    noun="lab-result",
    path="lab-results",
    title="Laboratory results",
    group=CHECKS,
    queryset=lambda: LabResult.objects.select_related("lot", "done_by"),
    columns=(events.LAB_COLUMNS[0], events.LOT, *events.LAB_COLUMNS[1:]),
    search=("lot__code", "laboratory", "method", "report_number", "note"),
    sought=("report_number",),
    filters=(choice_filter("measurand", "Measured", Measurand.choices), SINCE, VOIDED),
    start="lab-result",
    empty="What a laboratory found, with its method and uncertainty.",
)
ADJUSTMENTS = Listing(
    noun="adjustment",
    path="adjustments",
    title="Stock adjustments",
    group=CHECKS,
    queryset=lambda: StockAdjustment.objects.select_related("lot", "customer", "done_by"),
    columns=(events.ADJUSTMENT_COLUMNS[0], events.LOT, *events.ADJUSTMENT_COLUMNS[1:]),
    search=("lot__code", "customer__name", "witness", "reference", "note"),
    sought=("reference",),
    filters=(choice_filter("reason", "Reason", StockAdjustment.Reason.choices), SINCE, VOIDED),
    start="adjust",
    empty="Samples, breakage, losses, returns and count corrections, each with its reason.",
)
MOVES = Listing(
    noun="move",
    path="moves",
    title="Moves",
    group=CHECKS,
    queryset=lambda: Move.objects.select_related("lot", "from_location", "to_location", "done_by"),
    columns=(events.MOVE_COLUMNS[0], events.LOT, *events.MOVE_COLUMNS[1:]),
    search=("lot__code", "from_location__name", "to_location__name", "note"),
    filters=(link_filter("to", "To", Location, "to_location"), SINCE, VOIDED),
    start="move",
    empty="Where bottles and ingredients stood, and since when.",
)
CALIBRATIONS = Listing(
    noun="calibration",
    path="calibrations",
    title="Calibrations",
    group=CHECKS,
    queryset=lambda: Calibration.objects.with_expired_buffer().select_related(
        "instrument", "done_by"
    ),
    columns=(
        events.WHEN,
        Column(
            "instrument",
            "Instrument",
            link("instrument"),
            "instrument__name",
        ),
        Column("outcome", "Outcome", outcome_word, "outcome"),
        Column("slope", "Slope, %", get("slope_percent"), "slope_percent", number=True),
        Column("expired", "Buffer past its date", get("expired_buffer")),
        Column("due", "Next due", get("due_on"), "due_on"),
        events.BY,
    ),
    search=("instrument__name", "buffers", "note"),
    filters=(
        choice_filter("outcome", "Outcome", Calibration.Outcome.choices),
        link_filter("instrument", "Instrument", Instrument),
        VOIDED,
    ),
    start="calibrate",
    empty="An instrument found out puts every reading since the last good calibration in doubt.",
)

USUAL_RUNS = Listing(
    noun="usual-run",
    path="usual-runs",
    title="What is usual on charts",
    group=CHECKS,
    queryset=lambda: UsualRun.objects.select_related(
        "recipe", "vessel", "first", "last", "done_by"
    ),
    columns=(
        Column("figure", "Value", lambda run: Linked(run.get_figure_display(), run), "figure"),
        Column("recipe", "Recipe", link("recipe"), "recipe__name"),
        Column("vessel", "Vessel", link("vessel"), "vessel__name"),
        Column("first", "From batch", link("first"), "first__code"),
        Column("last", "To batch", link("last"), "last__code"),
        Column("left_out", "Left out", get("left_out")),
        Column("when", "Fixed", get("when"), "happened_at"),
        Column("by", "By", get("done_by")),
    ),
    search=("recipe__name", "vessel__name", "first__code", "last__code", "left_out", "note"),
    filters=(
        choice_filter("figure", "Value", BatchFigure.choices),
        link_filter("recipe", "Recipe", Recipe),
        VOIDED,
    ),
    start="fix-usual",
    empty="A run of batches in which nothing changed: later ones are held against it on the charts "
    "batch to batch. Without one, limits are drawn from all the batches shown.",
)
