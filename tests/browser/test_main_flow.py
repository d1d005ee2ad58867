"""One batch from receiving to shipping, and its papers, by an operator at a desk or a phone."""

from __future__ import annotations

import pytest

from brewlog.domain import recipes, registers
from brewlog.ledger import on_hand
from brewlog.models import (
    BottlingLot,
    Checkpoint,
    CultureLot,
    IngredientLot,
    Lot,
    LotUse,
    Move,
    Recipe,
    ReviewFlag,
    Shipment,
)
from brewlog.trace import generation
from tests import factories
from tests.browser.screen import WITH_SCRIPTS_AND_WITHOUT, Screen, typed
from tests.compliance.documents.papers import codes_of, words_of

pytestmark = pytest.mark.browser

PAPER = "On paper until the tablet came"


@pytest.fixture
def registers_of_the_house(manager):
    """What the manager has set up before: names, a recipe, bottles that bear the pressure."""
    tea = factories.ingredient(manager, "Assam", label_name="black tea")
    sugar = factories.ingredient(manager, "Cane sugar", kind="sugar")
    factories.ingredient(manager, "Ginger root", kind="flavouring", label_name="ginger")
    factories.ingredient(manager, "Bottle 330", kind="packaging", dimension="count")
    factories.ingredient(manager, "Crown cap", kind="packaging", dimension="count")
    factories.supplier(manager, "Hill Farm")
    factories.culture_line(manager, "Marsh")
    factories.vessel(manager, "Kettle", material="stainless")
    factories.vessel(manager, "Jar 1")
    factories.flavour(manager, "Plain")
    factories.flavour(manager, "Ginger")
    factories.bottle_format(manager, "Brown 330", rating="rated", rated_bar=8)
    factories.location(manager, "Cooler", is_cold=True)
    factories.customer(manager, "Corner Shop", contact="Ines", phone="555-0107")
    factories.customer(manager, "Saturday market", kind="public")
    version = recipes.add_version(
        actor=manager,
        recipe=registers.add(actor=manager, model=Recipe, name="House black"),
        lines=[
            recipes.PerLitre("tea", factories.quantity("5 g"), tea),
            recipes.PerLitre("sugar", factories.quantity("60 g"), sugar),
            recipes.PerLitre("starter", factories.quantity("100 mL")),
        ],
    )
    recipes.approve(actor=manager, version=version)


def record(screen: Screen, what: str, fields: dict, *, days_ago: int, clock: str) -> None:
    """Fill in the form that is open, as of some days ago, and send it."""
    screen.write("When", typed(days_ago, clock))
    screen.write_all(fields)
    send(screen, what, days_ago)


def send(screen: Screen, what: str, days_ago: int) -> None:
    if days_ago:
        screen.write("Why written only now", PAPER)
    screen.press("Record")
    assert screen.errors == []
    assert screen.said.startswith(f"Recorded: {what} (")


def receive(screen: Screen, ingredient: str, amount: str, supplier_code: str) -> str:
    """Take in a delivery; its lot code."""
    screen.entry("Receive a delivery")
    fields = {
        "Ingredient": ingredient,
        "Amount": amount,
        "Supplier": "Hill Farm",
        "Supplier's lot code": supplier_code,
        "Accepted": True,
    }
    record(screen, "receive a delivery", fields, days_ago=14, clock="09:00")
    return screen.heading


def read_ph(screen: Screen, batch: str, value: str, days_ago: int) -> None:
    screen.lot(batch)
    screen.follow("Take a reading")
    assert screen.value("Lot") == batch
    record(screen, "take a reading", {"Reading": value}, days_ago=days_ago, clock="16:30")


def uses() -> set[tuple[str, str, str, str]]:
    """Every movement: from, into, how much, as what."""
    rows = LotUse.objects.live().select_related("source", "into")
    return {(row.source.code, row.into.code, row.quantity_text, row.purpose) for row in rows}


@WITH_SCRIPTS_AND_WITHOUT
@pytest.mark.usefixtures("registers_of_the_house")
def test_operator_records_a_batch_from_receiving_to_shipping(screens, operator, scripts, size):
    screen: Screen = screens(scripts=scripts, size=size)
    screen.log_in(operator.username)

    # What comes in
    tea = receive(screen, "Assam", "5 kg", "A-771")
    sugar = receive(screen, "Cane sugar", "25 kg", "Z 12/26")
    ginger = receive(screen, "Ginger root", "2 kg", "G-4")
    bottles = receive(screen, "Bottle 330", "500 pieces", "B330-9")
    caps = receive(screen, "Crown cap", "1000", "C-2")
    screen.entry("Take in a bought culture")
    record(
        screen,
        "take in a bought culture",
        {
            "Culture line": "Marsh",
            "Supplier": "Hill Farm",
            "Starter liquid": "6 L",
            "Pellicles": "1",
        },
        days_ago=13,
        clock="10:00",
    )
    culture = screen.heading

    # Sweet tea, the batch, the starter
    screen.entry("Brew sweet tea")
    lots = "Tea, sugar and the rest, by lot"
    screen.write_all({"Lot": tea, "Amount": "200 g"}, screen.row(lots, 1))
    screen.write_all({"Lot": sugar, "Amount": "2,4 kg"}, screen.row(lots, 2))
    record(
        screen,
        "brew sweet tea",
        {"Recipe version": "House black v1", "Kettle": "Kettle", "Volume made": "40 L"},
        days_ago=12,
        clock="08:00",
    )
    brew = screen.heading
    screen.entry("Begin a batch")
    record(
        screen,
        "begin a batch",
        {"Recipe version": "House black v1", "Vessel": "Jar 1", "Planned volume": "40 L"},
        days_ago=12,
        clock="09:00",
    )
    batch = screen.heading
    assert [row[:3] for row in screen.table("What the planned volume takes")] == [
        ["Assam", "200 g", "5 g"],
        ["Cane sugar", "2.4 kg", "60 g"],
        ["starter", "4 L", "100 mL"],
    ]
    screen.follow("Fill a batch's vessel")
    assert screen.value("Batch") == batch
    screen.write_all({"Lot": brew, "Amount": "36 L"}, screen.row("What went in, by lot", 1))
    record(screen, "fill a batch's vessel", {}, days_ago=12, clock="10:00")
    screen.lot(batch)
    screen.follow("Add starter")
    screen.write_all({"Starter": culture, "Amount": "4 L"}, screen.row("Starter", 1))
    record(
        screen,
        "add starter",
        {"Temperature of the tea": "26", "Volume afterwards": "40 L"},
        days_ago=12,
        clock="11:00",
    )
    assert screen.heading == batch

    # Readings while it ferments, then starter for the next one
    for days_ago, value in ((12, "4.42"), (9, "3.85"), (5, "3.31"), (3, "3.08")):
        read_ph(screen, batch, value, days_ago)
    screen.lot(batch)
    screen.follow("Keep back starter")
    record(screen, "keep back starter", {"Starter liquid": "4 L"}, days_ago=3, clock="17:00")
    kept = screen.heading

    # Two flavours of it
    screen.lot(batch)
    screen.follow("Bottle")
    drawn = screen.row("Batches drawn", 1)
    assert screen.value("Batch", drawn) == batch
    screen.write("Amount drawn", "33 L", drawn)
    added = "Flavouring and packaging, by lot"
    screen.write_all(
        {"Lot": ginger, "Amount": "300 g", "Only for flavour": "Ginger"}, screen.row(added, 1)
    )
    screen.write_all({"Lot": bottles, "Amount": "100"}, screen.row(added, 2))
    screen.write_all({"Lot": caps, "Amount": "100"}, screen.row(added, 3))
    for number, (flavour, count) in enumerate([("Plain", "60"), ("Ginger", "40")], start=1):
        fields = {
            "Flavour": flavour,
            "Format": "Brown 330",
            "Filled": count,
            "Carbonation": "in the bottle",
        }
        screen.write_all(fields, screen.row("Filled", number))
    record(screen, "bottle", {}, days_ago=2, clock="09:00")
    plain = BottlingLot.objects.get(flavour__name="Plain").code
    gingery = BottlingLot.objects.get(flavour__name="Ginger").code
    assert plain in screen.said
    assert gingery in screen.said

    # Into the cold, to a shop, over the counter
    screen.lot(plain)
    screen.follow("Move stock, or put it in the cold")
    record(
        screen,
        "move stock, or put it in the cold",
        {"Amount": "30", "To": "Cooler"},
        days_ago=1,
        clock="08:00",
    )
    screen.entry("Send out or sell")
    screen.write_all({"Lot": plain, "Amount": "24"}, screen.row("What goes, by lot", 1))
    screen.write_all({"Lot": gingery, "Amount": "12"}, screen.row("What goes, by lot", 2))
    record(screen, "send out or sell", {"Customer": "Corner Shop"}, days_ago=1, clock="14:00")
    assert [row[0] for row in screen.table("What was in it")] == [plain, gingery]
    screen.lot(gingery)
    screen.follow("Send out or sell")
    screen.write("Amount", "6", screen.row("What goes, by lot", 1))
    screen.write("Customer", "Saturday market")
    send(screen, "send out or sell", days_ago=0)

    # Its papers
    screen.lot(gingery)
    screen.follow("Labels")
    screen.follow("Print labels")
    screen.write("How many", "12")
    screen.press("Print them")
    assert (screen.errors, screen.said[:23]) == ([], "Recorded: print labels ")
    label = screen.download("PDF")
    words = words_of(label)
    assert f"Lot {gingery}" in words
    assert (
        "Ingredients: water, live culture (yeasts and bacteria), Cane sugar, ginger, black tea"
        in words
    )
    assert {code.text for code in codes_of(label, 203)} == {gingery}
    screen.lot(gingery)
    sheet = words_of(screen.download("Lot sheet"))
    for part in (gingery, batch, "Corner Shop", "Saturday market", "300 g"):
        assert part in sheet

    # Which bottles came from the culture, and who has them
    screen.lot(culture)
    screen.follow("Trace")
    assert {row[0] for row in screen.trace_rows()} == {plain, gingery, batch, kept}
    screen.lot(culture)
    screen.follow("Who has it")
    assert [row[0] for row in screen.table("Bottling lots")] == [plain, gingery]
    customers = screen.main.locator(".customer")
    assert customers.locator("h3").all_inner_texts() == ["Corner Shop", "Saturday market"]
    assert "Ines · 555-0107" in customers.first.inner_text()
    assert "nobody to telephone" in customers.last.inner_text()

    # And the records themselves
    everything = {tea, sugar, ginger, bottles, caps, culture, brew, batch, kept, plain, gingery}
    assert set(Lot.objects.values_list("code", flat=True)) == everything
    assert all(lot.acceptance == "accepted" for lot in IngredientLot.objects.all())
    assert uses() == {
        (tea, brew, "200 g", "ingredient"),
        (sugar, brew, "2,4 kg", "ingredient"),
        (brew, batch, "36 L", "brew"),
        (culture, batch, "4 L", "starter"),
        (batch, kept, "4 L", "culture"),
        (batch, plain, "19.8 L of 33 L", "drink"),
        (batch, gingery, "13.2 L of 33 L", "drink"),
        (ginger, gingery, "300 g", "flavouring"),
        (bottles, plain, "60 of 100", "packaging"),
        (bottles, gingery, "40 of 100", "packaging"),
        (caps, plain, "60 of 100", "packaging"),
        (caps, gingery, "40 of 100", "packaging"),
    }
    readings = Checkpoint.objects.order_by("happened_at").values_list("lot__code", "value_text")
    assert list(readings) == [(batch, value) for value in ("4.42", "3.85", "3.31", "3.08")]
    assert all(each.is_late for each in Checkpoint.objects.all())
    assert {each.history.latest().history_change_reason for each in Checkpoint.objects.all()} == {
        PAPER
    }
    assert generation(CultureLot.objects.get(code=kept)) == 1
    move = Move.objects.get()
    assert (move.lot.code, move.quantity, move.to_location.name) == (plain, 30, "Cooler")
    sent = [
        (shipment.customer.name, shipment.kind, line.lot.code, line.quantity)
        for shipment in Shipment.objects.order_by("id")
        for line in shipment.lines.order_by("id")
    ]
    assert sent == [
        ("Corner Shop", "sale", plain, 24),
        ("Corner Shop", "sale", gingery, 12),
        ("Saturday market", "stall", gingery, 6),
    ]
    left = {lot.code: on_hand([lot.pk])[lot.pk] for lot in Lot.objects.all()}
    assert (left[plain], left[gingery], left[bottles], left[caps]) == (36, 22, 400, 900)
    # 40 L, less 4 L kept back and 33 L bottled.
    assert left[batch] == 3_000_000
    assert not ReviewFlag.objects.exists()
    assert {lot.done_by.username for lot in Lot.objects.all()} == {operator.username}
