"""An invented plant of any size, always the same for the same seed.

One founding culture, batches in generations of twenty-five every eighteen days, each
started from a culture kept back from a batch of the generation before; six bottling lots
from each batch, a fifth of them blended from two; everything bought in lots that are used
up one after the other; shipments of eight lines to sixty customers. Names are invented.
Amounts are canonical units and never more than there is.
"""

from __future__ import annotations

import datetime as dt
import itertools
import random
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils import timezone

from brewlog import bulk
from brewlog.models import (
    CODE_LETTER,
    Batch,
    BottlingLot,
    Brewery,
    Checkpoint,
    CultureLine,
    CultureLot,
    Customer,
    Flavour,
    Format,
    Ingredient,
    IngredientLot,
    Instrument,
    Lot,
    LotUse,
    Recipe,
    RecipeVersion,
    Shipment,
    ShipmentLine,
    StockAdjustment,
    Supplier,
    User,
    Vessel,
)
from brewlog.models.base import Guarded
from brewlog.recording import recording
from brewlog.units import show_quantity
from brewlog.when import Precision

L = 1_000_000  # µL
KG = 1_000_000  # mg

PER_GENERATION = 25
PACE = dt.timedelta(days=18)
END = dt.date(2026, 11, 1)
MADE = 120 * L
KEPT_BACK = 12 * L
STARTER = 10 * L
BOTTLINGS = 6
FILL = 330_000
CUSTOMERS = 60
LINES_OF_A_SHIPMENT = 8
FLUSH_AT = 20_000

# What is written before what points at it.
_ORDER: tuple[type[Guarded], ...] = (
    IngredientLot,
    CultureLot,
    Batch,
    BottlingLot,
    LotUse,
    Checkpoint,
    Shipment,
    ShipmentLine,
    StockAdjustment,
)
_DELIVERY = {
    "Black tea": ("tea", "mass", 8 * KG),
    "Cane sugar": ("sugar", "mass", 50 * KG),
    "Ginger juice": ("flavouring", "volume", 20 * L),
    "Bottles 330 mL": ("packaging", "count", 2_000),
}


@dataclass
class _Vessel:
    """A batch and what is left in it."""

    lot: Batch
    left: int
    bottled: dt.datetime


@dataclass
class _Stock:
    """The delivery in use of one ingredient."""

    lot: IngredientLot
    left: int


def generate(
    *, actor: User, batches: int, seed: int, progress: Callable[[int], None] = lambda done: None
) -> dict[str, int]:
    """Write a plant of so many batches; how many rows of each model were written.

    `progress` is told the batches done. All or nothing.
    """
    with recording(actor, f"Generated plant of {batches} batches, seed {seed}"):
        plant = GeneratedPlant(actor, batches, seed)
        plant.write(progress)
        return dict(plant.written)


class GeneratedPlant:
    """Builds records in memory and hands them on in rows of thousands."""

    def __init__(self, actor: User, batches: int, seed: int) -> None:
        self.actor = actor
        self.batches = batches
        self.random = random.Random(seed)
        self.generations = -(-batches // PER_GENERATION)
        first_day = END - PACE * (self.generations + 2)
        self.start = dt.datetime.combine(first_day, dt.time(6), dt.UTC)
        self.written: dict[str, int] = defaultdict(int)
        self._rows: dict[type[Guarded], list[Guarded]] = {model: [] for model in _ORDER}
        self._keys: dict[type[Any], itertools.count] = {}
        self._stock: dict[str, _Stock] = {}
        self._to_ship: list[tuple[dt.datetime, int, int]] = []
        self._register()

    # Registers ---------------------------------------------------------------------------

    def _register(self) -> None:
        """The few named things, saved one by one like everybody's."""
        if not Brewery.objects.exists():
            Brewery(pk=1, name="Generated Ferments", time_zone="Europe/Lisbon").save()
        self.line = self._named(CultureLine, "Founding culture")
        self.supplier = self._named(Supplier, "Northfield Wholesale", phone="555-0110")
        self.ingredients = {
            name: self._named(Ingredient, name, kind=kind, dimension=dimension)
            for name, (kind, dimension, _) in _DELIVERY.items()
        }
        self.recipe = RecipeVersion(recipe=self._named(Recipe, "Black tea kombucha"), number=1)
        self.recipe.approved_at, self.recipe.approved_by = timezone.now(), self.actor
        self.recipe.save()
        self.vessels = [
            self._named(Vessel, f"Tank {number + 1}", material="stainless")
            for number in range(PER_GENERATION)
        ]
        self.flavours = [
            self._named(Flavour, name, label_name="Kombucha") for name in ("Plain", "Ginger")
        ]
        self.format = self._named(
            Format, "Bottle 330 mL", container="bottle", holds=FILL, holds_text="330 mL"
        )
        self.meter = self._named(Instrument, "pH meter 1", kind="ph_meter")
        self.customers = [
            self._named(
                Customer,
                f"Shop {number + 1:02}",
                kind="shop",
                contact=f"Buyer {number + 1:02}",
                phone=f"555-01{number:02}",
                email=f"shop{number + 1:02}@example.com",
            )
            for number in range(CUSTOMERS)
        ]

    def _named(self, model: Any, name: str, **fields: Any) -> Any:
        record = model(name=name, **fields)
        record.save()
        return record

    # Rows --------------------------------------------------------------------------------

    def _add(self, model: Any, when: dt.datetime | None = None, **fields: Any) -> Any:
        """A new row with its key, kept until enough are there."""
        counted = Lot if issubclass(model, Lot) else model
        if counted not in self._keys:
            self._keys[counted] = itertools.count(bulk.next_id(counted))
        fields["lot_id" if counted is Lot else "id"] = next(self._keys[counted])
        if when is not None:
            fields["happened_at"] = when
            fields["happened_precision"] = Precision.MINUTE.value
            fields["done_by_id"] = self.actor.pk
        record = model(**fields)
        self._rows[model].append(record)
        return record

    def _flush(self) -> None:
        for model in _ORDER:
            rows = self._rows[model]
            bulk.insert(rows)
            self.written[model.__name__] += len(rows)
            self._rows[model] = []

    def _lot(
        self, model: Any, kind: str, when: dt.datetime, dimension: str, made: int, **fields: Any
    ) -> Any:
        record = self._add(model, when, kind=kind, dimension=dimension, **fields)
        record.code = f"{CODE_LETTER[kind]}{when:%y%j}-{record.pk}"  # type: ignore[index]
        record.made, record.made_text = made, show_quantity(made, dimension)
        return record

    def _use(self, source: Lot, into: Lot, quantity: int, when: dt.datetime, purpose: str) -> None:
        self._add(
            LotUse,
            when,
            source_id=source.pk,
            into_id=into.pk,
            quantity=quantity,
            quantity_text=show_quantity(quantity, source.dimension),
            purpose=purpose,
        )

    # The work of the plant ---------------------------------------------------------------

    def write(self, progress: Callable[[int], None]) -> None:
        starters = self._found()
        done = 0
        for generation in range(self.generations):
            count = min(PER_GENERATION, self.batches - done)
            starters = self._generation(generation, count, starters)
            done += count
            if sum(len(rows) for rows in self._rows.values()) > FLUSH_AT:
                self._flush()
            progress(done)
        self._ship(everything=True)
        self._flush()

    def _found(self) -> list[CultureLot]:
        founding = self._lot(
            CultureLot,
            "culture",
            self.start,
            "volume",
            KEPT_BACK * PER_GENERATION,
            line=self.line,
            origin="bought",
            supplier=self.supplier,
        )
        return [founding] * PER_GENERATION

    def _generation(
        self, generation: int, count: int, starters: list[CultureLot]
    ) -> list[CultureLot]:
        """So many batches, and the cultures kept back from them, for the next generation."""
        begun = self.start + PACE * (generation + 1)
        vessels: list[_Vessel] = []
        kept: list[CultureLot] = []
        for place in range(count):
            pitched = begun + dt.timedelta(hours=12 * place, minutes=self.random.randrange(90))
            batch = self._batch(place, pitched, starters)
            vessels.append(_Vessel(batch, MADE, pitched + dt.timedelta(days=12)))
            kept.append(self._keep_back(vessels[-1], pitched + dt.timedelta(days=10)))
            self._bottle(vessels)
        for vessel in vessels:
            self._pour_off(vessel)
        self._ship()
        # Neighbours change places now and then, so that the lines cross.
        for place in range(len(kept) - 1):
            if self.random.random() < 0.1:
                kept[place], kept[place + 1] = kept[place + 1], kept[place]
        return kept

    def _batch(self, place: int, pitched: dt.datetime, starters: list[CultureLot]) -> Batch:
        batch = self._lot(
            Batch,
            "batch",
            pitched,
            "volume",
            MADE,
            recipe=self.recipe,
            vessel=self.vessels[place],
            planned=MADE,
            planned_text="120 L",
            pitched_at=pitched,
            pitched_precision=Precision.MINUTE.value,
        )
        self._use(starters[place], batch, STARTER, pitched, "starter")
        if place and self.random.random() < 1 / 400:
            self._use(starters[place - 1], batch, KEPT_BACK - STARTER, pitched, "starter")
        self._take("Black tea", batch, round(0.6 * KG), pitched)
        self._take("Cane sugar", batch, round(7.5 * KG), pitched)
        for days, ph in ((0, 4.4), (2, 3.9), (6, 3.4), (11, 3.1)):
            self._read_ph(batch, ph, pitched + dt.timedelta(days=days, hours=1))
        return batch

    def _read_ph(self, batch: Batch, about: float, when: dt.datetime) -> None:
        value = Decimal(f"{about + self.random.uniform(-0.1, 0.1):.2f}")
        self._add(
            Checkpoint,
            when,
            lot_id=batch.pk,
            measurand="ph",
            value=value,
            value_text=str(value),
            instrument=self.meter,
            stage="ferment",
        )

    def _take(self, name: str, into: Lot, quantity: int, when: dt.datetime) -> None:
        """Use an ingredient from the delivery in use; a new one comes when it runs out."""
        kind, dimension, size = _DELIVERY[name]
        stock = self._stock.get(name)
        if stock is None or stock.left < quantity:
            received = when - dt.timedelta(days=1, hours=self.random.randrange(12))
            stock = self._stock[name] = _Stock(self._deliver(name, received), size)
        stock.left -= quantity
        purpose = kind if kind in ("flavouring", "packaging") else "ingredient"
        self._use(stock.lot, into, quantity, when, purpose)

    def _deliver(self, name: str, received: dt.datetime) -> IngredientLot:
        _, dimension, size = _DELIVERY[name]
        return self._lot(
            IngredientLot,
            "ingredient",
            received,
            dimension,
            size,
            ingredient=self.ingredients[name],
            supplier=self.supplier,
            supplier_code=f"N{self.random.randrange(10**6):06}",
            acceptance="accepted",
            decided_at=received,
            decided_by=self.actor,
        )

    def _keep_back(self, vessel: _Vessel, when: dt.datetime) -> CultureLot:
        culture = self._lot(
            CultureLot, "culture", when, "volume", KEPT_BACK, line=self.line, origin="kept_back"
        )
        self._use(vessel.lot, culture, KEPT_BACK, when, "culture")
        vessel.left -= KEPT_BACK
        return culture

    def _bottle(self, vessels: list[_Vessel]) -> None:
        """Six bottling lots of the newest batch, some with a rest of the one before."""
        newest = vessels[-1]
        for number in range(BOTTLINGS):
            when = newest.bottled + dt.timedelta(minutes=40 * number)
            drawn = 16 * L + self.random.randrange(L)
            blended = 0
            older = vessels[-2] if len(vessels) > 1 else None
            if older and older.left > 2 * L and self.random.random() < 0.2:
                blended = self.random.randint(L // 2, 2 * L)
            self._fill(newest, drawn, older, blended, when, flavoured=number == 0)

    def _fill(
        self,
        newest: _Vessel,
        drawn: int,
        older: _Vessel | None,
        blended: int,
        when: dt.datetime,
        flavoured: bool,
    ) -> None:
        bottles = (drawn + blended) // FILL
        lot = self._lot(
            BottlingLot,
            "bottling",
            when,
            "count",
            bottles,
            flavour=self.flavours[flavoured],
            format=self.format,
            planned_count=bottles,
            fill=FILL,
            fill_text="330 mL",
            best_before=(when + dt.timedelta(days=90)).date(),
        )
        self._use(newest.lot, lot, drawn, when, "drink")
        newest.left -= drawn
        if older and blended:
            self._use(older.lot, lot, blended, when, "drink")
            older.left -= blended
        if flavoured:
            self._take("Ginger juice", lot, round(0.4 * L), when)
        self._take("Bottles 330 mL", lot, bottles, when)
        self._sell(lot, bottles, when)

    def _sell(self, lot: BottlingLot, bottles: int, filled: dt.datetime) -> None:
        """Six or seven shipment lines, a few samples, and what stays on the shelf."""
        samples = self.random.randrange(3)
        if samples:
            self._adjust(lot, -samples, "sample", filled + dt.timedelta(days=3))
        left = bottles - samples - self.random.randrange(4)
        lines = self.random.choice((6, 7, 7))
        for number in range(lines):
            quantity = left // (lines - number)
            left -= quantity
            sent = filled + dt.timedelta(days=5 + 4 * number, hours=self.random.randrange(6))
            self._to_ship.append((sent, lot.pk, quantity))

    def _ship(self, everything: bool = False) -> None:
        """Send what is ordered, eight lines together to one customer."""
        self._to_ship.sort()
        keep = 0 if everything else len(self._to_ship) // 2
        while len(self._to_ship) > keep:
            lines = self._to_ship[:LINES_OF_A_SHIPMENT]
            del self._to_ship[:LINES_OF_A_SHIPMENT]
            shipment = self._add(
                Shipment, lines[-1][0], customer=self.random.choice(self.customers)
            )
            shipment.number = f"D{shipment.pk:06}"
            for _, lot_id, quantity in lines:
                self._add(
                    ShipmentLine,
                    shipment=shipment,
                    lot_id=lot_id,
                    quantity=quantity,
                    quantity_text=str(quantity),
                )

    def _pour_off(self, vessel: _Vessel) -> None:
        """The sediment of a batch, once the last of it is bottled."""
        if vessel.left > 0:
            when = vessel.bottled + dt.timedelta(days=1)
            self._adjust(vessel.lot, -vessel.left, "sediment", when)
            vessel.left = 0

    def _adjust(self, lot: Lot, change: int, reason: str, when: dt.datetime) -> None:
        self._add(
            StockAdjustment,
            when,
            lot_id=lot.pk,
            change=change,
            quantity_text=show_quantity(-change, lot.dimension),
            reason=reason,
        )
