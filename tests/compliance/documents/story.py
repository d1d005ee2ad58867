"""One small chain for the papers: culture and deliveries, a brew, a batch, bottles, customers."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from brewlog.domain import batches, cultures, recipes, registers
from brewlog.domain.lots import Draw, flag, void
from brewlog.models import (
    Batch,
    BottlingLot,
    Brew,
    Calibration,
    Checkpoint,
    ConditionCheck,
    CultureLine,
    CultureLot,
    Customer,
    Flavour,
    Format,
    Hold,
    Ingredient,
    IngredientLot,
    Instrument,
    LabResult,
    LineClearance,
    Location,
    Lot,
    LotKind,
    Move,
    Recipe,
    RetainedBottles,
    ReviewFlag,
    Shipment,
    ShipmentLine,
    StockAdjustment,
    Supplier,
    User,
)
from brewlog.models.base import Guarded, HappenedMixin
from brewlog.recording import recording
from brewlog.units import Dimension
from brewlog.when import When
from tests.factories import at, quantity, use

PRINTED_AT = dt.datetime(2026, 5, 2, 8, 30, tzinfo=dt.UTC)


@dataclass
class Story:
    """The lots and people of the chain, each made once."""

    actor: User
    tea: IngredientLot
    sugar: IngredientLot
    ginger: IngredientLot
    culture: CultureLot
    brew: Brew
    batch: Batch
    bottles: BottlingLot
    customer: Customer
    meter: Instrument


def save(record: Guarded, when: When | None = None) -> Any:
    """Save a record of a kind that has no verb, as one."""
    if when is not None:
        assert isinstance(record, HappenedMixin)
        record.when = when
    record.save()
    return record


def base(lot: Lot) -> Lot:
    """The parent row: links point there."""
    return Lot.objects.get(pk=lot.pk)


def ingredient(actor: User, name: str, kind: str, label: str, **fields: Any) -> Ingredient:
    return registers.add(
        actor=actor,
        model=Ingredient,
        name=name,
        kind=kind,
        dimension="mass",
        label_name=label,
        **fields,
    )


def delivery(
    actor: User, of: Ingredient, code: str, amount: str, when: When, supplier: Supplier
) -> IngredientLot:
    from brewlog.domain.ingredients import receive

    return receive(
        actor=actor,
        ingredient=of,
        quantity=quantity(amount),
        when=when,
        supplier=supplier,
        supplier_code=f"SUP-{code}",
        code=code,
        accepted=True,
        document_type="invoice",
        document_number=f"INV-{code}",
    )


def bottling(
    actor: User, flavour: Flavour, form: Format, code: str, count: int, when: When, **fields: Any
) -> BottlingLot:
    lot = BottlingLot(
        kind=LotKind.BOTTLING,
        code=code,
        dimension=Dimension.COUNT,
        made=count,
        made_text=f"{count} bottles",
        flavour=flavour,
        format=form,
        fill=form.holds,
        fill_text=form.holds_text,
        done_by=actor,
        **fields,
    )
    with recording(actor):
        return save(lot, when)


def ship(
    actor: User, customer: Customer, lot: Lot, number: str, count: int, when: When, **fields: Any
) -> ShipmentLine:
    with recording(actor):
        shipment = save(Shipment(number=number, customer=customer, done_by=actor, **fields), when)
        return save(
            ShipmentLine(
                shipment=shipment, lot=base(lot), quantity=count, quantity_text=f"{count} bottles"
            )
        )


def customer(actor: User, name: str, **fields: Any) -> Customer:
    return registers.add(
        actor=actor, model=Customer, name=name, kind=fields.pop("kind", "shop"), **fields
    )


def reading(
    actor: User, lot: Lot, value: str, when: When, measurand: str = "ph", **fields: Any
) -> Checkpoint:
    fields.setdefault("stage", "ferment")
    with recording(actor):
        return save(
            Checkpoint(
                lot=base(lot),
                measurand=measurand,
                value=Decimal(value),
                value_text=value,
                done_by=actor,
                **fields,
            ),
            when,
        )


def tell(actor: User) -> Story:
    """Record the whole chain, in the spring of 2026."""
    supplier = registers.add(
        actor=actor,
        model=Supplier,
        name="Łąka Herbata & Zioła",
        address="Nowhere Lane 5",
        phone="555-0142",
        email="orders@example.com",
    )
    black_tea = ingredient(actor, "Assam BOP", "tea", "black tea")
    cane = ingredient(actor, "Cane sugar, unrefined", "sugar", "cane sugar")
    root = ingredient(
        actor, "Ginger, fresh", "flavouring", "ginger", allergens="", on_traceability_list=False
    )
    tea = delivery(actor, black_tea, "R26058A", "10 kg", at(1), supplier)
    sugar = delivery(actor, cane, "R26058B", "50 kg", at(1), supplier)
    ginger = delivery(actor, root, "R26067A", "3 kg", at(8), supplier)
    line = registers.add(actor=actor, model=CultureLine, name="Ría Norte")
    culture = cultures.buy_culture(
        actor=actor, line=line, quantity=quantity("12 L"), when=at(1), supplier=supplier,
        code="S26060A",
    )  # fmt: skip
    version = recipes.add_version(
        actor=actor,
        recipe=registers.add(actor=actor, model=Recipe, name="House black"),
        lines=[
            recipes.PerLitre("tea", quantity("5 g"), black_tea),
            recipes.PerLitre("sugar", quantity("60 g"), cane),
            recipes.PerLitre("starter", quantity("100 mL")),
        ],
    )
    recipes.approve(actor=actor, version=version)
    kettle = batches.start_brew(
        actor=actor,
        when=at(2, 10),
        quantity=quantity("108 L"),
        recipe=version,
        planned=quantity("108 L"),
        lines=[
            Draw(tea, quantity("600 g"), "ingredient"),
            Draw(sugar, quantity("7.2 kg"), "ingredient"),
        ],
        code="K26061A",
    )
    from brewlog.domain.vessels import add_vessel

    vessel = add_vessel(actor=actor, name="Tank 2", material="stainless")
    batch = batches.plan_batch(
        actor=actor,
        when=at(2, 11),
        vessel=vessel,
        recipe=version,
        planned=quantity("60 L"),
        water_source="town water, boiled and stood",
        code="B26061A",
    )
    batches.fill(
        actor=actor, batch=batch, when=at(2, 15), lines=[Draw(kettle, quantity("54 L"), "brew")]
    )
    batch = batches.pitch(
        actor=actor,
        batch=batch,
        when=at(2, 16),
        quantity=quantity("60 L"),
        temperature=Decimal("24.5"),
        temperature_text="76 °F",
        lines=[Draw(culture, quantity("6 L"), "starter")],
    )
    batches.record_step(
        actor=actor, lot=kettle, kind="steep", when=at(2, 10, 20), minutes=15,
        temperature=Decimal("92"),
    )  # fmt: skip
    meter = registers.add(
        actor=actor, model=Instrument, name="pH meter 1", kind="ph_meter", serial="0042"
    )
    with recording(actor):
        save(
            Calibration(instrument=meter, outcome="in", due_on=dt.date(2026, 3, 8), done_by=actor),
            at(1, 8),
        )
        save(Calibration(instrument=meter, outcome="out", done_by=actor), at(20, 8))
        save(
            ConditionCheck(
                lot=base(batch), smell="sharp, clean", look="pale film", verdict="ready",
                kahm_yeast=True, done_by=actor,
            ),
            at(9, 18),
        )  # fmt: skip
    for day, value in ((2, "4.41"), (4, "3.86"), (9, "3.24")):
        reading(
            actor, batch, value, at(day, 17), instrument=meter, sample_temperature=Decimal("22.0")
        )
    wrong = reading(actor, batch, "8.31", at(9, 17, 5), instrument=meter)
    void(actor=actor, record=wrong, reason="typed 8.31 for 3.31")
    flavour = registers.add(
        actor=actor,
        model=Flavour,
        name="Ginger",
        label_name="Kombucha with ginger",
        gtin="9520123456788",
        statement="Live culture: some sediment is natural.",
    )
    form = registers.add(
        actor=actor, model=Format, name="330 mL swing-top", container="bottle",
        material="glass", holds=330_000, holds_text="330 mL",
    )  # fmt: skip
    bottles = bottling(
        actor, flavour, form, "L26071A", 150, at(12, 10),
        planned_count=155, rejects=2, best_before=dt.date(2026, 6, 10), label_version="3",
    )  # fmt: skip
    use(actor, batch, bottles, "50 L", at(12, 9), "drink")
    use(actor, ginger, bottles, "1.5 kg", at(12, 9, 30), "flavouring")
    shop = customer(
        actor, "Café Ñandú", contact="Inés Q.", phone="555-0117", email="cafe@example.org",
        address="Quay 3\nSaltmarsh",
    )  # fmt: skip
    ship(
        actor, shop, bottles, "D-118", 96, at(16, 7),
        document_type="delivery note", document_number="DN-118",
    )  # fmt: skip
    cold = registers.add(actor=actor, model=Location, name="Cooler", kind="cooler", is_cold=True)
    with recording(actor):
        save(LineClearance(lot=bottles, first_label_kept=True, done_by=actor), at(12, 9, 45))
        save(
            RetainedBottles(
                lot=bottles, count=4, kept="cold", pull_on=dt.date(2026, 6, 10), done_by=actor
            ),
            at(12, 12),
        )
        save(
            Move(
                lot=base(bottles), quantity=148, quantity_text="148", to_location=cold,
                done_by=actor,
            ),
            at(15, 9),
        )  # fmt: skip
        save(
            StockAdjustment(
                lot=base(bottles), change=-2, quantity_text="2 bottles", reason="breakage",
                done_by=actor,
            ),
            at(15, 9, 30),
        )  # fmt: skip
        save(
            LabResult(
                lot=base(bottles), value=Decimal("0.42"), value_text="0.42",
                standard_uncertainty=Decimal("0.02"), laboratory="Test House Nº 9",
                method="distillation", report_number="TH-77", done_by=actor,
            ),
            at(14, 9),
        )  # fmt: skip
        flag(base(bottles), ReviewFlag.Kind.OVERDRAWN, "3 bottles more shipped than counted")
    return Story(actor, tea, sugar, ginger, culture, kettle, batch, bottles, shop, meter)


def hold(actor: User, lot: Lot, cause: str, why: str, when: When) -> Hold:
    from brewlog.domain.holds import hold as place

    return place(actor=actor, lot=base(lot), cause=cause, why=why, when=when)
