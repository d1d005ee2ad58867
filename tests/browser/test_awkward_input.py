"""What people type with wet hands: each slip is named, kept to be mended, recorded once."""

from __future__ import annotations

import datetime as dt

import pytest

from brewlog.ledger import on_hand
from brewlog.models import Checkpoint, IngredientLot, Lot, ReviewFlag, Shipment, ShipmentLine
from tests import factories
from tests.browser.screen import Screen, typed

pytestmark = pytest.mark.browser

GOES = "What goes, by lot"


@pytest.fixture
def batch(manager):
    return factories.batch(manager, code="B26062A")


@pytest.fixture
def bottles(manager, batch):
    return factories.bottles(manager, 150, batch, "49.5 L", code="L26079A")


@pytest.fixture
def shop(manager):
    return factories.customer(manager, "Corner Shop")


def read(screen: Screen, lot: Lot, value: str, **fields: str) -> None:
    """A reading of the lot, sent from its page."""
    screen.lot(lot.code)
    screen.follow("Take a reading")
    screen.write_all({"Reading": value, **fields})
    screen.press("Record")


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ("7.0.3", "Reading: '7.0.3' has a decimal mark too many. Did you mean 7.03?"),
        ("31", "Reading: A pH lies between 0 and 14; '31' does not. Did you mean 3.1?"),
        ("three", "Reading: 'three' is not a reading. Write it like 3.45."),
    ],
)
def test_a_mistyped_ph_is_named_and_kept_until_it_is_mended(screens, operator, batch, value, told):
    screen = screens(operator)
    read(screen, batch, value, Note="foam on top")

    assert screen.errors == [told]
    assert screen.page.title().startswith("To mend: ")
    assert (screen.value("Reading"), screen.value("Note")) == (value, "foam on top")
    assert not Checkpoint.objects.exists()
    screen.main.locator("#errors").get_by_role("link", name="Reading").click()
    assert screen.page.evaluate("document.activeElement.id") == "id_value"

    screen.write("Reading", "3.1")
    screen.press("Record")

    found = Checkpoint.objects.get()
    assert (found.lot.code, found.value_text, found.note) == (batch.code, "3.1", "foam on top")


def test_a_time_still_to_come_is_refused(screens, operator, batch):
    screen = screens(operator)
    soon = typed(-1, "09:00")

    read(screen, batch, "3.21", When=soon)

    (told,) = screen.errors
    day = dt.datetime.fromisoformat(soon)
    assert told.startswith(f"When: {day.day} {day:%b %Y %H:%M} is still to come. ")
    assert (screen.value("When"), screen.value("Reading")) == (soon, "3.21")
    assert not Checkpoint.objects.exists()


def test_what_happened_days_ago_asks_why_it_is_written_now(screens, operator, batch):
    screen = screens(operator)

    read(screen, batch, "3.21", When=typed(3, "09:00"))

    (told,) = screen.errors
    assert told.startswith("Why written only now: This happened ")
    assert not Checkpoint.objects.exists()


def test_a_wrong_unit_is_named_and_the_delivery_recorded_once_mended(screens, operator, manager):
    factories.ingredient(manager, "Assam")
    factories.supplier(manager, "Hill Farm")
    screen = screens(operator)
    screen.entry("Receive a delivery")
    fields = {"Amount": "12 L", "Condition on arrival": "one sack torn"}
    screen.write_all({"Ingredient": "Assam", "Supplier": "Hill Farm", **fields})
    screen.press("Record")

    (told,) = screen.errors
    assert told.startswith("Amount: Assam is counted by mass")
    assert {label: screen.value(label) for label in fields} == fields
    assert not IngredientLot.objects.exists()

    screen.write("Amount", "12 buckets")
    screen.press("Record")
    assert screen.errors[0].startswith("Amount: 'buckets' is not a unit known here.")

    screen.write("Amount", "12 kg")
    screen.press("Record")
    found = IngredientLot.objects.get()
    assert (found.ingredient.name, found.made_text) == ("Assam", "12 kg")
    assert found.condition == "one sack torn"


def test_a_lot_code_that_does_not_exist_offers_the_one_near_it(screens, operator, bottles, shop):
    screen = screens(operator)
    screen.entry("Send out or sell")
    screen.write("Customer", shop.name)
    screen.write_all({"Lot": "L26O79A", "Amount": "24"}, screen.row(GOES, 1))
    screen.press("Record")

    assert screen.errors == [
        f"{GOES}, row 1: Lot: No lot has the code 'L26O79A'. Did you mean {bottles.code}?"
    ]
    assert screen.value("Amount", screen.row(GOES, 1)) == "24"
    assert not Shipment.objects.exists()

    screen.look_up("L26O79A")
    assert screen.heading == "Found for “L26O79A”"
    screen.follow(bottles.code)
    assert screen.heading == bottles.code


def test_more_than_the_books_show_is_recorded_with_the_difference(screens, operator, bottles, shop):
    screen = screens(operator)
    screen.lot(bottles.code)
    screen.follow("Send out or sell")
    screen.write("Customer", shop.name)
    screen.write("Amount", "174", screen.row(GOES, 1))
    screen.press("Record")

    assert "Needs a look: L26079A: 174 to Corner Shop" in screen.said
    assert "174 taken, 150 on the books: 24 more than they show" in screen.said
    assert ShipmentLine.objects.get().quantity == 174
    assert on_hand([bottles.pk])[bottles.pk] == -24
    assert ReviewFlag.objects.get().kind == ReviewFlag.Kind.OVERDRAWN


def test_a_held_lot_does_not_leave_and_one_that_left_is_recorded(
    screens, operator, reviewer, bottles, shop
):
    factories.hold(reviewer, bottles, cause="other", why="cap seal doubtful")
    screen = screens(operator)
    screen.lot(bottles.code)
    assert "Kept back: do not use, bottle, label for sale or ship" in screen.text
    screen.follow("Send out or sell")
    screen.write("Customer", shop.name)
    screen.write("Amount", "24", screen.row(GOES, 1))
    screen.press("Record")

    (told,) = screen.errors
    assert "L26079A must not be sent out" in told
    assert "cap seal doubtful" in told
    assert screen.value("Amount", screen.row(GOES, 1)) == "24"
    assert not Shipment.objects.exists()

    screen.write("This has already happened", True)
    screen.press("Record")

    assert ShipmentLine.objects.get().quantity == 24
    flag = ReviewFlag.objects.get()
    assert (flag.lot.code, flag.kind) == (bottles.code, ReviewFlag.Kind.USED_BLOCKED)
    assert "A reviewer will see it." in screen.said


@pytest.mark.parametrize("scripts", [True, False], ids=["with-scripts", "without-scripts"])
def test_pressing_twice_records_once(screens, operator, batch, scripts):
    screen = screens(operator, scripts=scripts)
    screen.lot(batch.code)
    screen.follow("Take a reading")
    screen.write("Reading", "3.44")

    screen.main.get_by_role("button", name="Record", exact=True).dblclick()
    screen.page.wait_for_url(f"**/lots/{batch.code}/?reading=*")
    screen.settle()

    assert Checkpoint.objects.get().value_text == "3.44"
    assert [row[1:3] for row in screen.table("Readings")] == [["pH", "3.44"]]


def test_the_back_button_leads_to_an_empty_form_not_to_a_second_record(screens, operator, batch):
    screen = screens(operator)
    read(screen, batch, "3.44")

    screen.page.go_back()
    assert (screen.heading, screen.value("Reading")) == ("Take a reading", "")
    screen.press("Record")

    assert screen.errors == ["Reading: This is required: fill it in."]
    assert Checkpoint.objects.count() == 1
