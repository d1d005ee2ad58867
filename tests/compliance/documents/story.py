"""One small chain for the papers: culture and deliveries, a brew, a batch, bottles, customers."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from brewlog.domain import (
    batches,
    bottling,
    checkpoints,
    ingredients,
    line,
    recipes,
    registers,
    stock,
)
from brewlog.domain.lots import Draw, flag, void
from brewlog.models import (
    Batch,
    BottlingLot,
    Brew,
    CultureLot,
    Customer,
    Ingredient,
    IngredientLot,
    Instrument,
    Lot,
    Recipe,
    ReviewFlag,
    Supplier,
    User,
)
from brewlog.recording import recording
from brewlog.when import When
from tests import factories
from tests.factories import at, quantity

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


def base(lot: Lot) -> Lot:
    """The parent row: links point there."""
    return Lot.objects.get(pk=lot.pk)


def delivery(
    actor: User, of: Ingredient, code: str, amount: str, when: When, supplier: Supplier
) -> IngredientLot:
    return ingredients.receive(
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
    black_tea = factories.ingredient(actor, "Assam BOP", label_name="black tea")
    cane = factories.ingredient(actor, "Cane sugar, raw", kind="sugar", label_name="cane sugar")
    root = factories.ingredient(actor, "Ginger, fresh", kind="flavouring", label_name="ginger")
    tea = delivery(actor, black_tea, "R26058A", "10 kg", at(1), supplier)
    sugar = delivery(actor, cane, "R26058B", "50 kg", at(1), supplier)
    ginger = delivery(actor, root, "R26067A", "3 kg", at(8), supplier)
    culture = factories.culture(
        actor, "12 L", line=factories.culture_line(actor, "Ría Norte"), supplier=supplier,
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
    batches.record_step(
        actor=actor, lot=kettle, kind="steep", when=at(2, 10, 20), minutes=15,
        temperature=Decimal(92),
    )  # fmt: skip
    batch = batches.plan_batch(
        actor=actor,
        when=at(2, 11),
        vessel=factories.vessel(actor, "Tank 2", "stainless"),
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
        temperature=Decimal("24.4"),
        temperature_text="76 °F",
        lines=[Draw(culture, quantity("6 L"), "starter")],
    )
    meter = factories.instrument(actor, "pH meter 1", serial="0042")
    factories.calibration(actor, meter, "in", at(1, 8), due_on=dt.date(2026, 3, 8))
    _watch(actor, batch, meter)
    bottles = _bottle(actor, batch, ginger)
    shop = factories.customer(
        actor, "Café Ñandú", contact="Inés Q.", phone="555-0117", email="cafe@example.org",
        address="Quay 3\nSaltmarsh",
    )  # fmt: skip
    factories.shipment(
        actor, bottles, "96", to=shop, when=at(16, 7), number="D-118",
        document_type="delivery note", document_number="DN-118",
    )  # fmt: skip
    factories.calibration(actor, meter, "out", at(20, 8))
    return Story(actor, tea, sugar, ginger, culture, kettle, batch, bottles, shop, meter)


def _watch(actor: User, batch: Lot, meter: Instrument) -> None:
    """Three readings that stand, one that was mistyped and struck out, one look at it."""
    for day, value in ((2, "4.41"), (4, "3.86"), (9, "3.24")):
        factories.reading(
            actor, batch, value, at(day, 17), instrument=meter, sample_temperature=Decimal(22)
        )
    wrong = factories.reading(actor, batch, "3.99", at(9, 17, 5), instrument=meter)
    void(actor=actor, record=wrong, reason="typed 3.99 for 3.29")
    checkpoints.check_condition(
        actor=actor, lot=batch, when=at(9, 18), kahm_yeast=True, smell="sharp, clean",
        look="pale film", verdict="ready",
    )  # fmt: skip


def _bottle(actor: User, batch: Lot, ginger: Lot) -> BottlingLot:
    flavour = factories.flavour(
        actor,
        "Ginger",
        label_name="Kombucha with ginger",
        gtin="9520123456788",
        statement="Live culture: some sediment is natural.",
    )
    made_in = factories.bottle_format(actor, "330 mL swing-top", "330 mL", material="glass")
    [bottles] = bottling.bottle(
        actor=actor,
        when=at(12, 10),
        draws=[bottling.Drawn(batch, quantity("50 L"))],
        additions=[bottling.Drawn(ginger, quantity("1.5 kg"))],
        outputs=[
            bottling.Output(
                flavour, made_in, 150, code="L26071A", rejects=2, planned_count=155,
                best_before=dt.date(2026, 6, 10), label_version="3",
            )
        ],
    )  # fmt: skip
    line.clear_line(actor=actor, lot=bottles, when=at(12, 9, 45), first_label_kept=True)
    line.keep_bottles(
        actor=actor, lot=bottles, count=4, kept="cold", pull_on=dt.date(2026, 6, 10),
        when=at(12, 12),
    )  # fmt: skip
    cold = factories.location(actor, "Cooler", is_cold=True)
    factories.move(actor, bottles, "148", cold, at(15, 9))
    stock.adjust(
        actor=actor, lot=bottles, quantity=quantity("2 bottles"), why="breakage", when=at(15, 10)
    )
    checkpoints.record_lab_result(
        actor=actor, lot=bottles, value="0.42", standard_uncertainty=Decimal("0.02"),
        laboratory="Test House Nº 9", method="distillation", report_number="TH-77", when=at(14),
    )  # fmt: skip
    with recording(actor):
        flag(base(bottles), ReviewFlag.Kind.OTHER, "first label was creased")
    return bottles


def hold(actor: User, lot: Lot, cause: str = "mould", **fields: Any) -> None:
    factories.hold(actor, base(lot), cause, at(22), **fields)
