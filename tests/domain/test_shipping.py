"""Moving, shipping and taking back."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from brewlog.domain import shipping
from brewlog.domain.lots import void
from brewlog.domain.shipping import ShipLine
from brewlog.ledger import on_hand
from brewlog.models import Customer, Move, ReviewFlag, Shipment, ShipmentLine, StockAdjustment
from brewlog.recording import Forbidden, Refused
from tests import factories
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db


class TestMoving:
    def test_takes_a_part_to_its_place(self, operator):
        lot = factories.bottles(operator, 100)
        warm, cold = factories.location(operator), factories.location(operator, is_cold=True)

        found = shipping.move(
            actor=operator,
            lot=lot,
            quantity=quantity("40"),
            from_location=warm,
            to_location=cold,
            when=at(22),
        )

        found.refresh_from_db()
        assert (found.lot_id, found.quantity, found.from_location, found.to_location) == (
            lot.pk,
            40,
            warm,
            cold,
        )
        assert found.history.get().history_user == operator
        assert on_hand([lot.pk])[lot.pk] == 100
        assert ReviewFlag.objects.count() == 0

    def test_comes_from_the_one_place_the_lot_stands_in(self, operator):
        lot = factories.bottles(operator, 100)
        warm, cold = factories.location(operator), factories.location(operator)
        factories.move(operator, lot, "100", warm, when=at(21))

        assert factories.move(operator, lot, "40", cold, when=at(22)).from_location == warm

    def test_asks_from_where_when_there_are_several(self, operator):
        lot = factories.bottles(operator, 100)
        warm, cold = factories.location(operator, "Warm"), factories.location(operator, "Cold")
        factories.move(operator, lot, "40", cold, when=at(21), from_location=warm)

        with pytest.raises(Refused, match="several places: Warm, Cold. Say which"):
            factories.move(operator, lot, "10", factories.location(operator), when=at(22))

        assert Move.objects.count() == 1

    def test_into_the_cold_comes_what_stands_warm(self, operator):
        lot = factories.bottles(operator, 100)
        room, cold = factories.location(operator), factories.location(operator, is_cold=True)
        factories.move(operator, lot, "60", room, when=at(21))
        factories.move(operator, lot, "20", cold, when=at(21), from_location=room)

        other = factories.location(operator, is_cold=True)
        moved = factories.move(operator, lot, "40", other, when=at(22))

        # The 40 that never left the place where they were made, which has no name.
        assert moved.from_location is None

    def test_what_stands_there_already_cannot_come_again(self, operator):
        cooler = factories.location(operator, is_cold=True)
        lot = factories.bottles(operator)
        stands = str(lot.made)
        factories.move(operator, lot, stands, cooler)

        factories.move(operator, lot, stands, cooler)

        assert ReviewFlag.objects.get().text.startswith(f"{stands} moved to {cooler}, 0 stood in")

    def test_of_more_than_stands_there_is_recorded_and_flagged(self, operator):
        lot = factories.bottles(operator, 100)
        warm, cold = factories.location(operator, "Warm"), factories.location(operator, "Cold")

        factories.move(operator, lot, "120", cold, from_location=warm)

        flag = ReviewFlag.objects.get()
        assert flag.text == ("120 moved to Cold, 100 stood in Warm: 20 more than the books show")

    def test_of_a_held_lot_is_allowed(self, operator, reviewer):
        lot = factories.bottles(operator, 100)
        factories.hold(reviewer, lot)

        factories.move(operator, lot, "100", factories.location(operator, "Set apart"))

        assert Move.objects.count() == 1

    @pytest.mark.parametrize(
        ("fields", "words"),
        [
            ({"quantity": quantity("0")}, "more than nothing"),
            ({"quantity": quantity("4 L")}, "counted by count"),
            ({"when": at(19)}, "did not exist before"),
            ({"when": factories.now(days=1)}, "still to come"),
        ],
    )
    def test_that_cannot_be_is_refused(self, operator, fields, words):
        lot, cold = factories.bottles(operator, 100), factories.location(operator)
        given = {"quantity": quantity("4"), "when": at(22)} | fields

        with pytest.raises(Refused, match=words):
            shipping.move(actor=operator, lot=lot, to_location=cold, **given)

        assert Move.objects.count() == 0

    def test_to_where_it_is_already_is_refused(self, operator):
        lot, cold = factories.bottles(operator, 100), factories.location(operator)

        with pytest.raises(ValidationError, match="in that place already"):
            factories.move(operator, lot, "10", cold, from_location=cold)


class TestShipping:
    def test_sends_several_lots_to_one_customer(self, operator, reviewer):
        first, second = factories.bottles(operator, 100), factories.bottles(operator, 50)
        shop, van = factories.customer(operator), factories.location(operator, kind="van")

        found = shipping.ship(
            actor=operator,
            customer=shop,
            when=at(25),
            lines=[ShipLine(first, quantity("24")), ShipLine(second, quantity("12"), "mixed case")],
            document_type="invoice",
            document_number="2026-31",
            transporter="own van",
            ship_from=van,
            loading_temperature=Decimal("4.5"),
            done_by=reviewer,
            reason="written from the delivery note",
        )

        found.refresh_from_db()
        assert (found.number, found.kind, found.customer, found.ship_from) == (
            "2026-084-1",
            "sale",
            shop,
            van,
        )
        assert (found.done_by, found.recorded_by, found.is_late) == (reviewer, operator, True)
        lines = [(line.lot_id, line.quantity, line.note) for line in found.lines.all()]
        assert lines == [(first.pk, 24, ""), (second.pk, 12, "mixed case")]
        assert on_hand([first.pk, second.pk]) == {first.pk: 76, second.pk: 38}
        row = found.lines.first().history.get()
        assert (row.history_user, row.history_change_reason) == (
            operator,
            "written from the delivery note",
        )

    def test_numbers_run_through_the_day_and_a_given_one_is_kept(self, operator):
        lot = factories.bottles(operator, 100)
        numbers = [
            factories.shipment(operator, lot, when=when, number=number).number
            for when, number in [(at(25), ""), (at(25), ""), (at(25), " D 7 "), (at(26), "")]
        ]

        assert numbers == ["2026-084-1", "2026-084-2", "D 7", "2026-085-1"]

    def test_a_number_is_used_once(self, operator):
        lot = factories.bottles(operator, 100)
        factories.shipment(operator, lot, number="D7")

        with pytest.raises(ValidationError, match="number is taken"):
            factories.shipment(operator, lot, number="d7")

        assert (Shipment.objects.count(), ShipmentLine.objects.count()) == (1, 1)

    def test_to_the_public_is_a_stall_sale(self, operator):
        lot = factories.bottles(operator, 100)
        public = factories.customer(operator, "Public, Saturday stall", kind="public")

        assert factories.shipment(operator, lot, to=public).kind == "stall"
        assert factories.shipment(operator, lot, to=public, kind="sale").kind == "stall"
        assert factories.shipment(operator, lot, to=public, kind="sample").kind == "sample"

    def test_at_a_stall_place_and_day_stand_for_a_name(self, operator):
        lot = factories.bottles(operator, 100)
        stall = factories.location(operator, "Saturday market", address="Market Square")

        def sell(day, amount):
            return shipping.sell_to_public(
                actor=operator,
                place=stall,
                when=at(day),
                lines=[shipping.ShipLine(lot, quantity(amount))],
            )

        first, second = sell(25, "6"), sell(26, "4")

        public = Customer.objects.get()
        assert (public.name, public.kind) == ("Public, Saturday market", "public")
        assert public.address == "Market Square"
        assert {(each.customer, each.kind) for each in (first, second)} == {(public, "stall")}
        assert on_hand([lot.pk])[lot.pk] == 90

    def test_a_stall_sale_has_no_named_customer(self, operator):
        lot, shop = factories.bottles(operator, 100), factories.customer(operator)

        with pytest.raises(Refused, match="has a name: choose a sale"):
            factories.shipment(operator, lot, to=shop, kind="stall")

    def test_a_line_is_added_to_a_shipment_there_is(self, operator):
        lot, shop = factories.bottles(operator, 100), factories.customer(operator)
        header = shipping.ship(actor=operator, customer=shop, when=at(25))

        line = shipping.add_shipment_line(
            actor=operator, shipment=header, lot=lot, quantity=quantity("6")
        )

        assert (line.shipment, line.quantity) == (header, 6)

    def test_more_than_is_there_is_recorded_with_the_difference(self, operator):
        lot = factories.bottles(operator, 216)
        shop = factories.customer(operator, "Harbour Shop")

        found = factories.shipment(operator, lot, "240", to=shop)

        flag = ReviewFlag.objects.get()
        assert (flag.lot_id, flag.kind) == (lot.pk, "overdrawn")
        assert flag.text == (
            f"240 to Harbour Shop ({found}): 240 taken, 216 on the books: 24 more than they show"
        )
        assert on_hand([lot.pk])[lot.pk] == -24

    @pytest.mark.parametrize(
        ("amount", "when", "words"),
        [
            ("0", at(25), "more than nothing"),
            ("3 L", at(25), "counted by count"),
            ("10", at(19), "did not exist before"),
            ("10", factories.now(days=1), "still to come"),
        ],
    )
    def test_that_cannot_be_leaves_nothing_behind(self, operator, amount, when, words):
        good, lot = factories.bottles(operator, 100, when=at(18)), factories.bottles(operator, 100)

        with pytest.raises(Refused, match=words):
            shipping.ship(
                actor=operator,
                customer=factories.customer(operator),
                when=when,
                lines=[ShipLine(good, quantity("5")), ShipLine(lot, quantity(amount))],
            )

        assert (Shipment.objects.count(), on_hand([good.pk])[good.pk]) == (0, 100)

    def test_a_voided_lot_or_shipment_takes_no_line(self, operator):
        lot, gone = factories.bottles(operator, 100), factories.bottles(operator, 100)
        void(actor=operator, record=gone, reason="entered twice")
        header = shipping.ship(actor=operator, customer=factories.customer(operator), when=at(25))

        with pytest.raises(Refused, match="entered twice"):
            shipping.add_shipment_line(
                actor=operator, shipment=header, lot=gone, quantity=quantity("1")
            )
        void(actor=operator, record=header, reason="did not leave")
        with pytest.raises(Refused, match="did not leave"):
            shipping.add_shipment_line(
                actor=operator, shipment=header, lot=lot, quantity=quantity("1")
            )


class TestWhatMustNotLeave:
    def test_a_held_lot_is_not_sent(self, operator, reviewer):
        lot = factories.bottles(operator, 100)
        factories.hold(reviewer, lot, "label")

        with pytest.raises(Forbidden, match="must not be sent out: .* is on hold: label fault"):
            factories.shipment(operator, lot)

        assert Shipment.objects.count() == 0

    def test_bottles_of_a_mouldy_starter_are_not_sent(self, operator, reviewer):
        starter = factories.culture(operator)
        batch = factories.batch(operator, starter=starter)
        lot = factories.bottles(operator, 100, batch=batch, drawn="35 L")
        factories.hold(reviewer, starter, "mould")

        with pytest.raises(Forbidden, match=f"made from {starter}, held: mould"):
            factories.shipment(operator, lot)

    def test_what_left_already_is_recorded_and_flagged(self, operator, reviewer):
        lot = factories.bottles(operator, 100)
        factories.hold(reviewer, lot, "label")

        found = factories.shipment(operator, lot, "10", already_done=True)

        flag = ReviewFlag.objects.get()
        assert (flag.lot_id, flag.kind) == (lot.pk, "used_blocked")
        assert f"({found}): sent out although {lot} is on hold" in flag.text
        assert on_hand([lot.pk])[lot.pk] == 90

    def test_drink_that_was_not_bottled_is_not_sent(self, operator):
        batch = factories.batch(operator, "60 L")

        with pytest.raises(Forbidden, match="was not bottled"):
            factories.shipment(operator, batch, "20 L")
        factories.shipment(operator, batch, "20 L", already_done=True)

        assert "was not bottled" in ReviewFlag.objects.get().text
        assert on_hand([batch.pk])[batch.pk] == 40_000_000


class TestBringingBack:
    def test_puts_them_on_hand_again_for_someone_to_decide(self, operator):
        lot, shop = factories.bottles(operator, 100), factories.customer(operator, "Harbour Shop")
        factories.shipment(operator, lot, "24", to=shop)

        found = shipping.take_back(
            actor=operator,
            lot=lot,
            quantity=quantity("6"),
            customer=shop,
            when=at(28),
            reference="credit 12",
        )

        assert (found.change, found.reason, found.customer) == (6, "return", shop)
        assert found.reference == "credit 12"
        assert on_hand([lot.pk])[lot.pk] == 82
        assert [flag.text for flag in ReviewFlag.objects.all()] == [
            "6 brought back by Harbour Shop: decide on them"
        ]

    def test_more_than_the_customer_had_is_recorded_and_flagged(self, operator):
        lot, shop = factories.bottles(operator, 100), factories.customer(operator, "Harbour Shop")
        factories.shipment(operator, lot, "24", to=shop)
        factories.shipment(operator, lot, "50")
        for amount in ("20", "6"):
            shipping.take_back(
                actor=operator, lot=lot, quantity=quantity(amount), customer=shop, when=at(28)
            )

        [flag] = ReviewFlag.objects.filter(kind="overdrawn")
        assert flag.text == "6 brought back by Harbour Shop, who had 4 of it by the books"
        assert StockAdjustment.objects.count() == 2

    def test_before_the_lot_was_there_is_refused(self, operator):
        lot, shop = factories.bottles(operator, 100), factories.customer(operator)

        with pytest.raises(Refused, match="did not exist before"):
            shipping.take_back(
                actor=operator, lot=lot, quantity=quantity("6"), customer=shop, when=at(19)
            )
