"""The pages of what the brewery has and whom it deals with, assembled from the kit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.urls import reverse

from brewlog.ledger import with_on_hand
from brewlog.models import (
    Batch,
    BottlingLot,
    Brew,
    BufferBottle,
    CultureLine,
    CultureLot,
    Customer,
    Flavour,
    Format,
    Ingredient,
    IngredientLot,
    Instrument,
    Keg,
    Location,
    Recipe,
    Shipment,
    Supplier,
    Vessel,
)
from brewlog.models.lots import described
from brewlog.views import events
from brewlog.views.batch_to_batch import batch_to_batch_url
from brewlog.views.details import Detail, Next, Section
from brewlog.views.facts import Fact
from brewlog.views.lists import Column, Linked, Word, choice, get, link
from brewlog.views.nouns.lots import mark_transfers
from brewlog.views.nouns.measured import outcome_word
from brewlog.views.nouns.parts import CODE, ON_HAND, STANDING, WHEN
from brewlog.views.nouns.registers import bottle_word, calibration_word, instruments, vessel_word
from brewlog.views.standing import mark_kept_back

# A page shows the newest of what there can be very many of; the list has them all.
NEWEST = 100

_TRANSFERS = Column("transfers", "Transfers since bought", get("transfers"), number=True)


def _newest(rows: Any) -> Any:
    """The newest of them with what there is of each, which is not worked out for the others."""
    keys = list(rows.order_by("-id").values_list("pk", flat=True)[:NEWEST])
    return with_on_hand(rows.filter(pk__in=keys)).order_by("-id")


def _lots(model: Any, **where: Any) -> Any:
    return _newest(model.objects.filter(**where))


def _deliveries(**where: Any) -> Any:
    return _newest(IngredientLot.objects.filter(**where).select_related("ingredient", "supplier"))


_DELIVERY_COLUMNS = (
    CODE,
    STANDING,
    Column("made", "Received", get("made_text"), number=True),
    ON_HAND,
    Column("supplier", "Supplier", link("supplier")),
    Column("supplier_code", "Supplier's lot", get("supplier_code")),
    Column("best_before", "Best before", get("best_before")),
    WHEN,
)
_BATCH_COLUMNS = (CODE, Column("recipe", "Recipe", get("recipe")), STANDING, ON_HAND, WHEN)
_BOTTLING_COLUMNS = (
    CODE,
    Column("flavour", "Flavour", link("flavour")),
    Column("format", "Format", link("format")),
    STANDING,
    Column("made", "Filled", get("made"), number=True),
    ON_HAND,
    WHEN,
)
_CULTURE_COLUMNS = (
    CODE,
    Column("origin", "Origin", choice("origin")),
    STANDING,
    ON_HAND,
    _TRANSFERS,
    WHEN,
)


def _bottlings(**where: Any) -> Any:
    return _newest(BottlingLot.objects.filter(**where).select_related("flavour", "format"))


def _cultures(**where: Any) -> Any:
    return _newest(CultureLot.objects.filter(**where).select_related("line", "vessel"))


def _over_time(name: str) -> Callable[[Any], list[Fact]]:
    """The way to what there was of it over time."""
    return lambda found: [Fact("Stock over time", "a picture", reverse(name, args=[found.pk]))]


INGREDIENT = Detail(
    noun="ingredient",
    model=Ingredient,
    title="Ingredient",
    list_title="Ingredients and packaging",
    sections=(
        Section(
            "Deliveries",
            _DELIVERY_COLUMNS,
            lambda found: _deliveries(ingredient=found),
            mark_kept_back,
            empty="None received yet.",
        ),
        Section(
            "In recipes",
            (
                Column(
                    "version", "Recipe version", lambda line: Linked(line.version, line.version)
                ),
                Column("role", "As", choice("role")),
                Column("per_litre", "Per litre", get("per_litre_text"), number=True),
            ),
            lambda found: found.recipe_lines.live().select_related("version__recipe"),
        ),
    ),
    next=(Next("receive", "ingredient"),),
    extra=_over_time("ingredient-stock"),
)
SUPPLIER = Detail(
    noun="supplier",
    model=Supplier,
    title="Supplier",
    list_title="Suppliers",
    sections=(
        Section(
            "Deliveries",
            (
                CODE,
                Column("ingredient", "Ingredient", link("ingredient")),
                *_DELIVERY_COLUMNS[1:4],
                *_DELIVERY_COLUMNS[5:],
            ),
            lambda found: _deliveries(supplier=found),
            mark_kept_back,
            empty="Nothing received from them yet.",
        ),
        Section(
            "Cultures bought",
            _CULTURE_COLUMNS,
            lambda found: _cultures(supplier=found),
            mark_transfers,
        ),
    ),
    next=(Next("receive", "supplier"), Next("buy-culture", "supplier")),
)


def version_word(version: Any) -> Word:
    return Word("approved", "good") if version.is_approved else Word("not approved yet", "look")


def _waiting_version(recipe: Any) -> Any:
    """The newest version that has still to be approved."""
    return recipe.versions.live().filter(approved_at=None).order_by("-number").first()


def _named_waiting_version(recipe: Any) -> str:
    return str(_waiting_version(recipe))


def _batch_to_batch(recipe: Any) -> list[Fact]:
    if not recipe.versions.filter(batches__isnull=False).exists():
        return []
    return [Fact("Batch to batch", "its values side by side", batch_to_batch_url(recipe.pk))]


RECIPE = Detail(
    noun="recipe",
    model=Recipe,
    title="Recipe",
    list_title="Recipes",
    sections=(
        Section(
            "Versions",
            (
                Column("number", "Version", lambda each: events.RecordLink(str(each), each)),
                Column("state", "Standing", version_word),
                Column("approved", "Approved", get("approved_at")),
                Column("by", "By", get("approved_by")),
                Column("lines", "Per litre", lambda each: "; ".join(map(str, each.lines.all()))),
                Column("ph", "Bottle at about pH", get("target_ph"), number=True),
                Column("days", "Days", get("ferment_days"), number=True),
            ),
            lambda found: (
                found.versions.select_related("recipe", "approved_by")
                .prefetch_related("lines__ingredient")
                .order_by("-number")
            ),
            empty="No version is written yet: it says what goes into each litre.",
        ),
        Section(
            "Batches",
            (
                CODE,
                Column("recipe", "Version", get("recipe")),
                Column("vessel", "Vessel", link("vessel")),
                STANDING,
                ON_HAND,
                WHEN,
            ),
            lambda found: _lots(Batch, recipe__recipe=found).select_related(
                "recipe__recipe", "vessel"
            ),
            mark_kept_back,
        ),
    ),
    extra=_batch_to_batch,
    next=(
        Next("approve", "version", sensible=_waiting_version, value=_named_waiting_version),
        Next("recipe-version", "recipe"),
        Next("batch", "recipe"),
        Next("brew", "recipe"),
    ),
)
VESSEL = Detail(
    noun="vessel",
    model=Vessel,
    title="Vessel",
    list_title="Vessels",
    extra=lambda found: [Fact("For acid drink", vessel_word(found).text)],
    sections=(
        Section(
            "Batches in it",
            _BATCH_COLUMNS,
            lambda found: _lots(Batch, vessel=found).select_related("recipe__recipe"),
            mark_kept_back,
            empty="Nothing has been fermented in it yet.",
        ),
        Section(
            "Starters in it",
            _CULTURE_COLUMNS,
            lambda found: _cultures(vessel=found),
            mark_transfers,
        ),
        Section(
            "Brews in it",
            _BATCH_COLUMNS,
            lambda found: _lots(Brew, kettle=found).select_related("recipe__recipe"),
            mark_kept_back,
        ),
    ),
    next=(Next("batch", "vessel"),),
)
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
CUSTOMER = Detail(
    noun="customer",
    model=Customer,
    title="Customer",
    list_title="Customers",
    sections=(
        Section(
            "Shipments",
            (
                Column("number", "Shipment", lambda each: Linked(each.number, each)),
                Column("when", "When", get("when")),
                Column("kind", "Kind", choice("kind")),
                Column("lines", "What", lambda each: "; ".join(map(str, each.lines.all()))),
            ),
            lambda found: found.shipments.prefetch_related("lines__lot").order_by(
                "-happened_at", "-id"
            )[:NEWEST],
            empty="Nothing has been shipped to them yet.",
        ),
        Section(
            "Brought back",
            (events.WHEN, events.LOT, *events.ADJUSTMENT_COLUMNS[2:4], events.BY),
            lambda found: found.returns.select_related("lot", "done_by").order_by("-id")[:NEWEST],
        ),
        Section(
            "Kegs",
            (
                events.WHEN,
                Column("keg", "Keg", link("keg")),
                Column("kind", "What", choice("kind")),
                events.BY,
            ),
            lambda found: found.keg_events.select_related("keg", "done_by").order_by("-id")[
                :NEWEST
            ],
        ),
    ),
    next=(Next("ship", "customer"), Next("take-back", "customer")),
)
SHIPMENT = Detail(
    noun="shipment",
    model=Shipment,
    title="Shipment",
    list_title="Shipments",
    links=("customer", "ship_from", "done_by"),
    extra=lambda found: [
        Fact(label, value, wide=label == "Address")
        for label, value in (
            ("Contact", found.customer.contact),
            ("Phone", found.customer.phone),
            ("Address", found.customer.address),
        )
        if value
    ],
    sections=(
        Section(
            "What was in it",
            (
                events.LOT,
                Column("what", "What", lambda line: line.lot.detail.describe()),
                Column("quantity", "Amount", get("quantity_text"), number=True),
                events.NOTE,
                Column("entry", "Entry", lambda line: events.RecordLink("open", line)),
            ),
            lambda found: found.lines.select_related("lot", *described("lot")),
            empty="No lot is written in it.",
        ),
    ),
    next=(Next("shipment-line", "shipment"),),
)
LOCATION = Detail(
    noun="location",
    model=Location,
    title="Place",
    list_title="Places",
    sections=(
        Section(
            "Moved here",
            (
                events.WHEN,
                events.LOT,
                *events.MOVE_COLUMNS[1:3],
                events.BY,
            ),
            lambda found: found.moves_in.select_related("lot", "from_location", "done_by").order_by(
                "-id"
            )[:NEWEST],
            empty="Nothing has been moved here yet.",
        ),
        Section(
            "Moved away",
            (events.WHEN, events.LOT, events.MOVE_COLUMNS[1], events.MOVE_COLUMNS[3], events.BY),
            lambda found: found.moves_out.select_related("lot", "to_location", "done_by").order_by(
                "-id"
            )[:NEWEST],
        ),
        Section(
            "Readings",
            events.READING_COLUMNS,
            lambda found: found.readings.select_related("instrument", "done_by").order_by("-id")[
                :NEWEST
            ],
        ),
    ),
    next=(Next("reading", "location"), Next("move", "to_location")),
)
KEG = Detail(
    noun="keg",
    model=Keg,
    title="Keg",
    list_title="Kegs",
    sections=(
        Section(
            "What happened with it",
            (
                events.WHEN,
                Column("kind", "What", choice("kind")),
                Column("lot", "Lot", link("lot")),
                Column("customer", "Customer", link("customer")),
                events.BY,
                events.NOTE,
            ),
            lambda found: found.events.select_related("lot", "customer", "done_by").order_by("-id")[
                :NEWEST
            ],
            empty="Never used yet.",
        ),
    ),
    next=(Next("keg-event", "keg"),),
)
CULTURE_LINE = Detail(
    noun="culture-line",
    model=CultureLine,
    title="Culture line",
    extra=lambda found: [
        Fact("Family", "a picture by generation", reverse("family", args=[found.pk])),
    ],
    list_title="Culture lines",
    sections=(
        Section(
            "Starters",
            _CULTURE_COLUMNS,
            lambda found: _cultures(line=found),
            mark_transfers,
            empty="No starter of this line yet.",
        ),
    ),
    next=(Next("buy-culture", "line"), Next("pool", "line")),
)
FLAVOUR = Detail(
    noun="flavour",
    model=Flavour,
    title="Flavour",
    list_title="Flavours",
    sections=(
        Section(
            "Bottled",
            (_BOTTLING_COLUMNS[0], *_BOTTLING_COLUMNS[2:]),
            lambda found: _bottlings(flavour=found),
            mark_kept_back,
            empty="None bottled yet.",
        ),
    ),
    extra=_over_time("flavour-stock"),
)
FORMAT = Detail(
    noun="format",
    model=Format,
    title="Bottle, can or keg",
    list_title="Bottles, cans and kegs",
    sections=(
        Section(
            "Filled",
            (*_BOTTLING_COLUMNS[:2], *_BOTTLING_COLUMNS[3:]),
            lambda found: _bottlings(format=found),
            mark_kept_back,
            empty="None filled yet.",
        ),
    ),
)
DETAILS: tuple[Detail, ...] = (
    INGREDIENT,
    SUPPLIER,
    RECIPE,
    VESSEL,
    INSTRUMENT,
    BUFFER_BOTTLE,
    CUSTOMER,
    SHIPMENT,
    LOCATION,
    KEG,
    CULTURE_LINE,
    FLAVOUR,
    FORMAT,
)
