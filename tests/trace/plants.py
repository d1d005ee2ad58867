"""Small plants for the trace: records saved as they are, whatever a verb would say of them.

The trace must be right for damaged and odd books too, so these go past the verbs' checks.
Times are hours and days from midnight UTC, 1 March 2026. Amounts are canonical units.
"""

from __future__ import annotations

import datetime as dt
import itertools

from brewlog.models import (
    Batch,
    BottlingLot,
    CultureLine,
    CultureLot,
    Customer,
    Flavour,
    Format,
    Ingredient,
    IngredientLot,
    Lot,
    LotUse,
    PreparationLot,
    Shipment,
    ShipmentLine,
    StockAdjustment,
    User,
)
from brewlog.recording import recording
from brewlog.when import Precision, When, on_day

START = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)


def hour(number: float) -> When:
    """So many hours from the start, to the minute."""
    return When(START + dt.timedelta(hours=number))


def day(number: int) -> When:
    """Some time on that day; day 0 begins at hour 0 where the zone is UTC."""
    return on_day((START + dt.timedelta(days=number)).date())


class Plant:
    """Makes lots, uses, shipments and adjustments for one person."""

    def __init__(self, actor: User) -> None:
        self.actor = actor
        self._numbers = itertools.count(1)
        self._registers: dict[str, object] = {}

    def batch(self, made: int | None, code: str = "", at: When | None = None) -> Lot:
        return self._lot(Batch, "batch", "volume", made, code, at)

    def syrup(self, made: int | None, code: str = "", at: When | None = None) -> Lot:
        fields = {"name": "syrup", "preparation_kind": "syrup"}
        return self._lot(PreparationLot, "preparation", "volume", made, code, at, **fields)

    def tea(self, made: int | None, code: str = "", at: When | None = None) -> Lot:
        ingredient = self._register(Ingredient, "Black tea", kind="tea", dimension="mass")
        return self._lot(IngredientLot, "ingredient", "mass", made, code, at, ingredient=ingredient)

    def culture(
        self, made: int | None, origin: str = "bought", code: str = "", at: When | None = None
    ) -> Lot:
        line = self._register(CultureLine, "House")
        return self._lot(CultureLot, "culture", "volume", made, code, at, line=line, origin=origin)

    def bottles(self, made: int | None, code: str = "", at: When | None = None) -> Lot:
        fields = {
            "flavour": self._register(Flavour, "Plain", label_name="Kombucha"),
            "format": self._register(
                Format, "330 mL", container="bottle", holds=330_000, holds_text="330 mL"
            ),
        }
        return self._lot(BottlingLot, "bottling", "count", made, code, at, **fields)

    def use(
        self,
        source: Lot,
        into: Lot,
        quantity: int,
        at: When | None = None,
        added: int | None = None,
        purpose: str = "transfer",
    ) -> LotUse:
        use = LotUse(
            source_id=source.pk,
            into_id=into.pk,
            quantity=quantity,
            quantity_text=str(quantity),
            added=added,
            purpose=purpose,
            done_by=self.actor,
        )
        use.when = at or hour(next(self._numbers))
        return self._save(use)

    def customer(self, name: str) -> Customer:
        return self._register(Customer, name, kind="shop", phone="555-0100")

    def ship(
        self, lot: Lot, quantity: int, to: str = "Corner shop", at: When | None = None
    ) -> ShipmentLine:
        shipment = Shipment(
            number=f"D{next(self._numbers)}", customer=self.customer(to), done_by=self.actor
        )
        shipment.when = at or hour(next(self._numbers))
        self._save(shipment)
        return self._save(
            ShipmentLine(
                shipment=shipment, lot_id=lot.pk, quantity=quantity, quantity_text=str(quantity)
            )
        )

    def adjust(
        self, lot: Lot, change: int, reason: str, at: When | None = None, by: str = ""
    ) -> StockAdjustment:
        adjustment = StockAdjustment(
            lot_id=lot.pk,
            change=change,
            quantity_text=str(change),
            reason=reason,
            customer=self.customer(by) if by else None,
            done_by=self.actor,
        )
        adjustment.when = at or hour(next(self._numbers))
        return self._save(adjustment)

    def void(self, record):
        return self.change(
            record, voided_at=START, voided_by=self.actor, void_reason="entered twice"
        )

    def change(self, record, **fields):
        with recording(self.actor):
            record.reread()
            for name, value in fields.items():
                setattr(record, name, value)
            record.save()
        return record

    def _lot(self, model, kind, dimension, made, code, at, **fields) -> Lot:
        lot = model(
            kind=kind,
            dimension=dimension,
            made=made,
            code=code or f"{kind}{next(self._numbers)}",
            done_by=self.actor,
            **fields,
        )
        lot.when = at or When(START, Precision.MINUTE)
        return self._save(lot)

    def _register(self, model, name: str, **fields):
        key = f"{model.__name__} {name}"
        if key not in self._registers:
            self._registers[key] = self._save(model(name=name, **fields))
        return self._registers[key]

    def _save(self, record):
        with recording(self.actor):
            record.save()
        return record
