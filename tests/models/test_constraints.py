"""Every constraint of the database, met by saving past the checks in Python.

Each row saves a sound record first, then the same one with the fields that break it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, models
from django.utils import timezone

from brewlog.models import (
    AlcoholEstimate,
    Batch,
    BottleWash,
    BottlingLot,
    Breakage,
    Brewery,
    BufferBottle,
    Checkpoint,
    CultureLine,
    Customer,
    Flavour,
    Format,
    HoldEnd,
    ImportedRow,
    Ingredient,
    IngredientLot,
    Instrument,
    Keg,
    KegEvent,
    Location,
    Lot,
    LotUse,
    Move,
    ProcessStep,
    Recipe,
    RecipeLine,
    RecipeVersion,
    RetainedBottles,
    SavedView,
    SharedDevice,
    Shipment,
    ShipmentLine,
    StockAdjustment,
    Supplier,
    User,
    Vessel,
)
from brewlog.recording import recording
from tests import factories


class World:
    """What the records under test point at."""

    def __init__(self, manager: User) -> None:
        self.manager = manager
        self.event = {"done_by": manager, "happened_at": factories.at(20).at}
        self.tea = factories.ingredient_lot(manager)
        self.brew = factories.brew(manager)
        self.base = Lot.objects.get(pk=self.tea.pk)
        self.other = Lot.objects.get(pk=self.brew.pk)
        self.bottles = factories.bottles(manager)
        self.cooler = factories.location(manager)
        self.customer = factories.customer(manager)
        self.shipment = factories.shipment(manager, self.bottles)
        self.keg = factories.keg(manager)
        self.version = factories.recipe_version(manager)
        self.hold = factories.hold(manager, self.brew, "other")
        self.numbers = iter(range(1000))

    def number(self) -> str:
        return f"n{next(self.numbers)}"


@pytest.fixture
def world(manager):
    return World(manager)


Build = Callable[[World], models.Model]


def _register(model: type[models.Model], **fields: Any) -> Build:
    return lambda w: model(name=w.number(), **fields)


def _batch(w: World) -> Batch:
    return Batch(kind="batch", code=w.number(), dimension="volume", **w.event)


def _bottling(w: World) -> BottlingLot:
    return BottlingLot(
        kind="bottling",
        code=w.number(),
        dimension="count",
        flavour=w.bottles.flavour,
        format=w.bottles.format,
        **w.event,
    )


def _delivery(w: World) -> IngredientLot:
    return IngredientLot(
        kind="ingredient",
        code=w.number(),
        dimension="mass",
        ingredient=w.tea.ingredient,
        certificate_from=dt.date(2026, 1, 1),
        certificate_until=dt.date(2026, 12, 31),
        **w.event,
    )


def _use(w: World) -> LotUse:
    return LotUse(
        source=w.base, into=w.other, quantity=1, quantity_text="1", purpose="ingredient", **w.event
    )


def _adjustment(w: World) -> StockAdjustment:
    return StockAdjustment(lot=w.base, change=-1, quantity_text="1", reason="sample", **w.event)


def _return(w: World) -> StockAdjustment:
    return StockAdjustment(
        lot=w.base, change=1, quantity_text="1", reason="return", customer=w.customer, **w.event
    )


def _reading(w: World) -> Checkpoint:
    return Checkpoint(
        lot=w.base, measurand="ph", value=3, value_text="3", stage="ferment", **w.event
    )


def _estimate(w: World) -> AlcoholEstimate:
    return AlcoholEstimate(
        lot=w.base,
        method="gravity",
        inputs="",
        value=1,
        standard_uncertainty=1,
        calculation_version="1",
        **w.event,
    )


def _recipe_line(w: World) -> RecipeLine:
    return RecipeLine(
        version=w.version,
        role="tea",
        ingredient=w.tea.ingredient,
        dimension="mass",
        per_litre=1,
        per_litre_text="1 mg",
    )


def _version(w: World) -> RecipeVersion:
    return RecipeVersion(recipe=w.version.recipe, number=100 + next(w.numbers))


def _move(w: World) -> Move:
    return Move(lot=w.base, quantity=1, quantity_text="1", to_location=w.cooler, **w.event)


def _shipment(w: World) -> Shipment:
    return Shipment(number=w.number(), customer=w.customer, **w.event)


def _line(w: World) -> ShipmentLine:
    return ShipmentLine(shipment=w.shipment, lot=w.base, quantity=1, quantity_text="1")


def _keg_event(w: World) -> KegEvent:
    return KegEvent(keg=w.keg, kind="filled", lot=w.base, **w.event)


def _keg_sent(w: World) -> KegEvent:
    return KegEvent(keg=w.keg, kind="out", customer=w.customer, **w.event)


_FORMAT = _register(Format, container="bottle", holds=330_000, holds_text="330 mL")
_KEG = _register(Keg, holds=20_000_000, holds_text="20 L")

# Constraint, a sound record, the fields that break it. A function is called with the world.
BROKEN: list[tuple[str, Build, dict[str, Any]]] = [
    ("lot_code_once", _batch, {"code": lambda w: w.base.code.lower()}),
    ("lot_made_not_negative", _batch, {"made": -1}),
    ("lot_has_a_code", _batch, {"code": ""}),
    (
        "certificate_ends_after_it_begins",
        _delivery,
        {"certificate_until": dt.date(2025, 12, 31)},
    ),
    ("use_of_something", _use, {"quantity": 0}),
    ("use_of_something", _use, {"quantity": -5}),
    ("use_not_of_itself", _use, {"into": lambda w: w.base}),
    ("use_adds_something", _use, {"added": 0}),
    ("adjustment_of_something", _adjustment, {"change": 0, "reason": "count"}),
    ("adjustment_way_fits_reason", _adjustment, {"change": 1}),
    ("adjustment_way_fits_reason", _return, {"change": -1}),
    ("return_names_a_customer", _return, {"customer": None}),
    ("recipe_version_once", _version, {"number": lambda w: w.version.number}),
    ("recipe_line_of_something", _recipe_line, {"per_litre": 0}),
    ("recipe_line_names_ingredient", _recipe_line, {"ingredient": None}),
    (
        "step_volume_positive",
        lambda w: ProcessStep(lot=w.other, kind="boil", volume=1, **w.event),
        {"volume": 0},
    ),
    ("format_holds_something", _FORMAT, {"holds": 0}),
    ("format_rated_says_how_much", _FORMAT, {"rating": "rated", "rated_bar": 0}),
    ("bottling_fill_positive", _bottling, {"fill": 0}),
    (
        "breakage_of_something",
        lambda w: Breakage(lot=w.bottles, broken=1, cleaned="line", **w.event),
        {"broken": 0},
    ),
    (
        "wash_of_something",
        lambda w: BottleWash(lot=w.bottles, washed=1, method="hot", **w.event),
        {"washed": 0},
    ),
    (
        "retained_something",
        lambda w: RetainedBottles(
            lot=w.bottles, count=1, kept="cold", pull_on="2026-06-01", **w.event
        ),
        {"count": 0},
    ),
    ("reading_of_lot_or_place", _reading, {"lot": None}),
    ("reading_of_lot_or_place", _reading, {"location": lambda w: w.cooler}),
    ("estimate_is_uncertain", _estimate, {"standard_uncertainty": 0}),
    ("move_of_something", _move, {"quantity": 0}),
    ("move_goes_somewhere", _move, {"from_location": lambda w: w.cooler}),
    ("shipment_number_once", _shipment, {"number": lambda w: w.shipment.number.lower()}),
    ("line_of_something", _line, {"quantity": 0}),
    ("keg_holds_something", _KEG, {"holds": 0}),
    ("keg_filled_from_a_lot", _keg_event, {"lot": None}),
    ("keg_out_to_a_customer", _keg_sent, {"customer": None}),
    (
        "hold_ends_once_at_a_lot",
        lambda w: HoldEnd(hold=w.hold, lot=w.base, **w.event),
        {"lot": lambda w: w.base},
    ),
    (
        "saved_view_name_once",
        lambda w: SavedView(owner=w.manager, noun="batch", name=w.number()),
        {"name": lambda w: SavedView.objects.latest("id").name.upper()},
    ),
    (
        "imported_row_once",
        lambda w: ImportedRow(sheet="brews", key=w.number()),
        {"key": lambda w: ImportedRow.objects.latest("id").key},
    ),
]

REGISTERS: list[tuple[type[models.Model], Build]] = [
    (CultureLine, _register(CultureLine)),
    (Customer, _register(Customer, kind="shop")),
    (Flavour, _register(Flavour, label_name="Kombucha")),
    (Format, _FORMAT),
    (Ingredient, _register(Ingredient, kind="tea", dimension="mass")),
    (Instrument, _register(Instrument, kind="scale")),
    (BufferBottle, _register(BufferBottle, nominal_ph="4.01", expires_on="2026-12-31")),
    (Keg, _KEG),
    (Location, _register(Location, kind="cooler")),
    (Recipe, _register(Recipe)),
    (SharedDevice, _register(SharedDevice)),
    (Supplier, _register(Supplier)),
    (Vessel, _register(Vessel, material="glass")),
]


def save(world: World, record: models.Model) -> None:
    with recording(world.manager):
        record.save()


def strike_out(world: World, record: Any) -> None:
    with recording(world.manager):
        record.reread()
        record.voided_at = timezone.now()
        record.save()


def breaks(name: str, error: IntegrityError) -> bool:
    """Whether the message is about that constraint. SQLite names no plain unique one."""
    return name in str(error) or str(error).startswith("UNIQUE constraint failed: brewlog_")


@pytest.mark.parametrize(
    ("name", "build", "wrong"), BROKEN, ids=[f"{row[0]}-{'-'.join(row[2])}" for row in BROKEN]
)
def test_the_database_refuses_what_slips_past_the_checks(world, name, build, wrong):
    save(world, build(world))
    record = build(world)
    for field, value in wrong.items():
        setattr(record, field, value(world) if callable(value) else value)
    with pytest.raises(IntegrityError) as refusal:
        save(world, record)
    assert breaks(name, refusal.value), refusal.value


@pytest.mark.parametrize(("model", "build"), REGISTERS, ids=[m.__name__ for m, _ in REGISTERS])
def test_a_name_is_there_once_however_it_is_capitalised(world, model, build):
    first, second = build(world), build(world)
    save(world, first)
    second.name = first.name.upper()
    with pytest.raises(IntegrityError) as refusal:
        save(world, second)
    assert breaks(f"{model.__name__.lower()}_name_once", refusal.value)

    strike_out(world, first)
    save(world, second)


@pytest.mark.parametrize(
    ("build", "field"), [(_batch, "code"), (_version, "number"), (_shipment, "number")]
)
def test_what_a_voided_record_was_called_is_free_again(world, build, field):
    first, second = build(world), build(world)
    save(world, first)
    strike_out(world, first)
    setattr(second, field, getattr(first, field))
    save(world, second)


def test_there_is_one_brewery(world):
    save(world, Brewery(pk=1, name="Saltmarsh Ferments"))
    with pytest.raises(IntegrityError, match="brewery_is_the_only_one"):
        save(world, Brewery(pk=2, name="Another"))


def test_every_constraint_is_tested_here():
    tested = {name for name, _, _ in BROKEN} | {"brewery_is_the_only_one"}
    tested |= {f"{model.__name__.lower()}_name_once" for model, _ in REGISTERS}
    there = {
        constraint.name
        for model in apps.get_app_config("brewlog").get_models()
        for constraint in model._meta.constraints
    }
    assert there == tested
