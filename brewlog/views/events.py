"""Tables of what happens to lots: the same columns on every page that shows them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db import models
from django.utils import timezone

from brewlog.calculations.amounts import recipe_amounts
from brewlog.models import Calibration, LotKind, RecipeVersion
from brewlog.models.base import RecordQuerySet
from brewlog.models.lots import described
from brewlog.views.details import Section
from brewlog.views.links import entry_url
from brewlog.views.lists import Column, Linked, Word, choice, get, link, sentence
from brewlog.views.reader import Amount, Celsius


class RecordLink(Linked):
    """A value that leads to the entry itself, where it is corrected, voided and has its history."""

    @property
    def url(self) -> str:
        return entry_url(self.record)


def when_of(event: Any) -> RecordLink:
    return RecordLink(event.when, event)


WHEN = Column("when", "When", when_of, "happened_at")
BY = Column("by", "By", get("done_by"))
NOTE = Column("note", "Note", get("note"))
LOT = Column("lot", "Lot", lambda event: Linked(event.lot.code, event.lot), "lot__code")


def typed(name: str) -> Any:
    """The text as typed, or the temperature itself where none was kept."""

    def value(event: Any) -> Any:
        return getattr(event, f"{name}_text") or Celsius(getattr(event, name))

    return value


def _other_growths(check: Any) -> str:
    seen = {
        "kahm yeast": check.kahm_yeast,
        "vinegar eels": check.vinegar_eels,
        "flies": check.flies,
    }
    return ", ".join(name for name, is_there in seen.items() if is_there)


def _mould(check: Any) -> Word:
    tones = {check.Mould.NONE: "plain", check.Mould.UNSURE: "look", check.Mould.MOULD: "stop"}
    return Word(check.get_mould_display(), tones[check.mould])


def _verdict(check: Any) -> Word:
    tones = {"ready": "good", "wait": "plain", "suspect": "look"}
    return Word(check.get_verdict_display(), tones[check.verdict])


def _good_until(point: Any) -> Any:
    return point.bottle and point.bottle.expires_on


def buffer_word(point: Any) -> Word | None:
    """Whether the bottle of a calibration's point was in date on that day."""
    if point.bottle is None:
        return None
    day = timezone.localtime(point.calibration.happened_at).date()
    past = point.bottle.expires_on < day
    return Word("past its date", "look") if past else Word("in date", "good")


def hold_word(hold: Any) -> Word:
    if hold.is_void:
        return Word("voided")
    return Word("held", "stop") if hold.is_open else Word("lifted", "plain")


def flag_word(flag: Any) -> Word:
    if flag.is_void:
        return Word("voided")
    return Word("needs a look", "look") if flag.is_open else Word("settled", "plain")


USE_IN_COLUMNS = (
    WHEN,
    Column("source", "Lot", lambda use: Linked(use.source.code, use.source)),
    Column("what", "What", lambda use: use.source.detail.describe()),
    Column("quantity", "Amount", get("quantity_text"), number=True),
    Column("purpose", "As", choice("purpose")),
    BY,
)
USE_OUT_COLUMNS = (
    WHEN,
    Column("into", "Into", lambda use: Linked(use.into.code, use.into)),
    Column("what", "What", lambda use: use.into.detail.describe()),
    Column("quantity", "Amount", get("quantity_text"), number=True),
    Column("purpose", "As", choice("purpose")),
    BY,
)
READING_COLUMNS = (
    WHEN,
    Column("measurand", "Measured", choice("measurand"), "measurand"),
    Column("value", "Reading", get("value_text"), "value", number=True),
    Column("stage", "Stage", choice("stage"), "stage"),
    Column(
        "sample_temperature",
        "Sample at",
        lambda each: Celsius(each.sample_temperature),
        number=True,
    ),
    Column(
        "instrument",
        "Instrument",
        link("instrument"),
    ),
    BY,
    NOTE,
)
STEP_COLUMNS = (
    WHEN,
    Column("kind", "Step", choice("kind")),
    Column("temperature", "Temperature", typed("temperature"), number=True),
    Column("volume", "Volume", get("volume_text"), number=True),
    Column("minutes", "Minutes", get("minutes"), number=True),
    BY,
    NOTE,
)
CHECK_COLUMNS = (
    WHEN,
    Column("mould", "Mould", _mould, "mould"),
    Column("others", "Also seen", _other_growths),
    Column("smell", "Smell", get("smell")),
    Column("look", "Colour and film", get("look")),
    Column("verdict", "Verdict", _verdict, "verdict"),
    BY,
)
LAB_COLUMNS = (
    Column("when", "Sampled", when_of, "happened_at"),
    Column("measurand", "Measured", choice("measurand"), "measurand"),
    Column("value", "Result", get("value_text"), "value", number=True),
    Column("uncertainty", "Uncertainty, k = 1", get("standard_uncertainty"), number=True),
    Column("laboratory", "Laboratory", get("laboratory"), "laboratory"),
    Column("method", "Method", get("method")),
    Column("reported", "Reported", get("reported_on"), "reported_on"),
)
ESTIMATE_COLUMNS = (
    WHEN,
    Column("value", "Alcohol, % vol", get("value"), number=True),
    Column("uncertainty", "Uncertainty, k = 1", get("standard_uncertainty"), number=True),
    Column("method", "Method", get("method")),
    Column("evidence", "Standing", lambda each: Word("estimate, not evidence", "look")),
)
ADJUSTMENT_COLUMNS = (
    WHEN,
    Column("reason", "Reason", choice("reason"), "reason"),
    Column("change", "Change", lambda each: Amount(each.change, each.lot.dimension), number=True),
    Column("typed", "As written", get("quantity_text"), number=True),
    Column("customer", "Customer", link("customer")),
    Column("witness", "Witness", get("witness")),
    BY,
)
LINE_COLUMNS = (
    Column("when", "When", lambda line: RecordLink(line.shipment.when, line.shipment)),
    Column("shipment", "Shipment", lambda line: Linked(line.shipment.number, line.shipment)),
    Column(
        "customer", "Customer", lambda line: Linked(line.shipment.customer, line.shipment.customer)
    ),
    Column("quantity", "Amount", get("quantity_text"), number=True),
    NOTE,
)
MOVE_COLUMNS = (
    WHEN,
    Column("quantity", "Amount", get("quantity_text"), number=True),
    Column(
        "from",
        "From",
        link("from_location"),
    ),
    Column("to", "To", link("to_location")),
    BY,
)
HOLD_COLUMNS = (
    Column("when", "Since", when_of, "happened_at"),
    Column("cause", "Cause", choice("cause"), "cause"),
    Column("reason", "What is wrong", sentence("reason")),
    Column("state", "Standing", hold_word),
    Column("lifted", "Lifted", get("lifted_at"), "lifted_at"),
    Column("lift_reason", "Why it may go on", get("lift_reason")),
)
FLAG_COLUMNS = (
    Column("written", "Written", lambda flag: RecordLink(flag.recorded_at, flag), "recorded_at"),
    Column("kind", "Kind", choice("kind"), "kind"),
    Column("text", "What", sentence("text")),
    Column("state", "Standing", flag_word),
    Column("settled", "What was found", get("settled_note")),
)
KEG_COLUMNS = (
    WHEN,
    Column("keg", "Keg", link("keg")),
    Column("kind", "What", choice("kind")),
    Column(
        "customer",
        "Customer",
        link("customer"),
    ),
    BY,
)


def _happened(event: Any) -> Any:
    return (event.happened_at, event.pk)


def with_voided(rows: RecordQuerySet, order: Callable[[Any], Any]) -> list[Any]:
    """The rows, voided ones too, each part read from its own index."""
    voided = rows.filter(voided_at__isnull=False).order_by()
    return sorted([*rows.live().order_by(), *voided], key=order)


PLANNED_SECTION = Section(
    "What the planned volume takes",
    (
        Column("name", "What", lambda each: each.planned.name),
        Column(
            "amount",
            "Amount",
            lambda each: Amount(each.planned.amount, each.planned.line.dimension),
        ),
        Column("per_litre", "Per litre", lambda each: each.planned.line.per_litre_text),
        Column("went_in", "Went in", lambda each: Amount(each.amount, each.planned.line.dimension)),
        Column("lots", "Of lots", get("lots")),
    ),
    recipe_amounts,
)
LOT_SECTIONS = (
    Section(
        "Held",
        HOLD_COLUMNS,
        lambda lot: lot.holds.select_related("done_by"),
    ),
    Section(
        "Holds ended here",
        (
            WHEN,
            Column("hold", "Hold", lambda end: RecordLink(str(end.hold), end.hold)),
            Column("why", "Why it may go on", get("note")),
            BY,
        ),
        lambda lot: lot.hold_ends.select_related("hold__lot", "done_by"),
    ),
    Section("Needs a look", FLAG_COLUMNS, lambda lot: lot.flags.all()),
    Section(
        "What went in",
        USE_IN_COLUMNS,
        lambda lot: with_voided(
            lot.uses_in.select_related("source", "done_by", *described("source")), _happened
        ),
    ),
    Section(
        "Steps",
        STEP_COLUMNS,
        lambda lot: lot.steps.select_related("done_by"),
    ),
    Section(
        "Readings",
        READING_COLUMNS,
        lambda lot: lot.readings.select_related("instrument", "done_by"),
    ),
    Section(
        "How it looked and smelled",
        CHECK_COLUMNS,
        lambda lot: lot.condition_checks.select_related("done_by"),
    ),
    Section("Laboratory", LAB_COLUMNS, lambda lot: lot.lab_results.all()),
    Section("Alcohol estimates", ESTIMATE_COLUMNS, lambda lot: lot.alcohol_estimates.all()),
    Section(
        "Where it went",
        USE_OUT_COLUMNS,
        lambda lot: with_voided(
            lot.uses_out.select_related("into", "done_by", *described("into")), _happened
        ),
    ),
    Section(
        "Shipped",
        LINE_COLUMNS,
        lambda lot: with_voided(
            lot.shipment_lines.select_related("shipment__customer"),
            lambda line: _happened(line.shipment),
        ),
    ),
    Section(
        "Adjusted",
        ADJUSTMENT_COLUMNS,
        lambda lot: lot.adjustments.select_related("lot", "customer", "done_by"),
    ),
    Section(
        "Moved",
        MOVE_COLUMNS,
        lambda lot: lot.moves.select_related("from_location", "to_location", "done_by"),
    ),
)
BOTTLING_SECTIONS = (
    Section(
        "Line cleared",
        (
            WHEN,
            Column(
                "previous",
                "What ran before",
                link("previous"),
            ),
            Column("first", "First label kept", get("first_label_kept")),
            Column("last", "Last label kept", get("last_label_kept")),
            BY,
            NOTE,
        ),
        lambda lot: lot.clearances.select_related("previous", "done_by"),
    ),
    Section(
        "Breakage",
        (
            WHEN,
            Column("broken", "Broken", get("broken"), number=True),
            Column("apart", "Set apart", get("set_apart"), number=True),
            Column("since", "Last good check", get("last_good_check_at")),
            Column("cleaned", "Cleaned and checked", get("cleaned")),
            BY,
        ),
        lambda lot: lot.breakages.select_related("done_by"),
    ),
    Section(
        "Bottles washed",
        (
            WHEN,
            Column("washed", "Washed", get("washed"), number=True),
            Column("chipped", "Chipped", get("chipped"), number=True),
            Column("gaskets", "Gaskets checked", get("gaskets_checked")),
            Column("method", "How", get("method")),
            BY,
        ),
        lambda lot: lot.washes.select_related("done_by"),
    ),
    Section(
        "Kept back to be opened later",
        (
            WHEN,
            Column("count", "Bottles", get("count"), number=True),
            Column("kept", "Kept", choice("kept")),
            Column("pull", "Open on", get("pull_on")),
            Column("pulled", "Opened", get("pulled_at")),
            Column("finding", "Found", get("finding")),
        ),
        lambda lot: lot.retained.all(),
    ),
    Section(
        "Kegs",
        KEG_COLUMNS,
        lambda lot: lot.keg_events.select_related("keg", "customer", "done_by"),
    ),
)


def sections_of(kind: str) -> tuple[Section, ...]:
    """The tables a lot of that kind can have."""
    if kind in {LotKind.BREW, LotKind.BATCH}:
        return (PLANNED_SECTION, *LOT_SECTIONS)
    return LOT_SECTIONS + (BOTTLING_SECTIONS if kind == LotKind.BOTTLING else ())


# What hangs on an entry by itself.
RECORD_SECTIONS: dict[type[models.Model], tuple[Section, ...]] = {
    RecipeVersion: (
        Section(
            "Per litre of batch",
            (
                Column("ingredient", "Ingredient", lambda line: line.ingredient or "starter"),
                Column("role", "As", choice("role")),
                Column("per_litre", "Per litre", get("per_litre_text"), number=True),
                Column("entry", "Entry", lambda line: RecordLink("open", line)),
            ),
            lambda version: version.lines.select_related("ingredient"),
            empty="No ingredient is written.",
        ),
    ),
    Calibration: (
        Section(
            "Points",
            (
                Column("reference", "Reference", lambda each: RecordLink(each.reference, each)),
                Column("found", "As found", get("found"), number=True),
                Column("left", "As left", get("left"), number=True),
                Column("bottle", "Buffer bottle", link("bottle")),
                Column("until", "Good until", _good_until),
                Column("standing", "Buffer", buffer_word),
            ),
            lambda calibration: calibration.points.select_related("bottle", "calibration"),
        ),
    ),
}
