"""What is planted in the demo is found in its records, and nothing else is."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.db.models import Sum

from brewlog.domain.blocks import blocks
from brewlog.domain.instruments import readings_in_doubt
from brewlog.domain.places import stood_in
from brewlog.importing.reading import read_path
from brewlog.importing.running import import_source
from brewlog.ledger import mass_balances
from brewlog.models import (
    BottlingLot,
    Calibration,
    Checkpoint,
    CultureLot,
    Hold,
    IngredientLot,
    Keg,
    KegEvent,
    LabResult,
    Location,
    Lot,
    LotKind,
    LotUse,
    RecipeVersion,
    ReviewFlag,
    StockAdjustment,
    User,
)
from brewlog.trace import (
    composition,
    descendant_ids,
    generation,
    generations,
    recall,
    where_it_went,
)
from brewlog.when import When
from tests.demo import raw_sheets
from tests.demo.raw_sheets import FOLDER

MOULDY = "S26232A"
# The Saturday morning and the Sunday evening, Lisbon summer time.
WARM_FROM = When(dt.datetime(2026, 7, 18, 7, 5, tzinfo=dt.UTC))
WARM_UNTIL = When(dt.datetime(2026, 7, 19, 17, 0, tzinfo=dt.UTC))

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("demo")]


def coded(code: str) -> Lot:
    found = Lot.objects.coded(code)
    assert found is not None, code
    return found


# Read in ---------------------------------------------------------------------------------


def test_the_sheets_are_read_without_a_problem(demo):
    assert demo.problems == []
    assert demo.conflicts == []
    assert demo.saved
    assert demo.new == 6272


def test_what_needs_a_look_is_what_was_planted():
    flags = sorted(ReviewFlag.objects.values_list("lot__code", "kind"))
    assert flags == [
        ("B26117A", "instrument"),  # pH meter 2 was out
        ("L26092B", "overdrawn"),  # four more sent than filled
        ("L26120A", "instrument"),  # pH meter 2
        ("L26120B", "instrument"),  # pH meter 2
        ("L26120C", "instrument"),  # pH meter 2
        ("L26246A", "returned"),  # brought back
    ]


def test_what_is_held_is_what_was_planted():
    holds = sorted(Hold.objects.values_list("lot__code", "cause", "lifted_at__date"))
    assert [(code, cause, lifted is None) for code, cause, lifted in holds] == [
        ("L26309C", "foreign", False),
        ("S26232A", "mould", True),
        ("S26274A", "mould", True),
    ]


# The account -----------------------------------------------------------------------------


def test_only_one_lot_has_unexplained_bottles():
    balances = mass_balances(Lot.objects.values_list("pk", flat=True))
    short = {pk: balance.unexplained for pk, balance in balances.items() if balance.unexplained}
    assert {Lot.objects.get(pk=pk).code: amount for pk, amount in short.items()} == {"L26092B": 4}


def test_every_batch_is_empty_but_those_still_fermenting():
    batches = Lot.objects.filter(kind=LotKind.BATCH)
    balances = mass_balances(batches.values_list("pk", flat=True))
    full = {batch.code for batch in batches if balances[batch.pk].on_hand}
    assert full == {"B26320A", "B26320B"}


def test_bottles_hold_what_was_poured_in_within_three_percent():
    uses = LotUse.objects.filter(into__kind=LotKind.BOTTLING, source__dimension="volume")
    poured = dict(uses.values_list("into").annotate(total=Sum("quantity")))
    for lot in BottlingLot.objects.all():
        filled = lot.fill * (lot.made + lot.rejects)
        assert filled <= poured[lot.pk] <= filled * 1.03, lot


def test_every_small_bottle_had_a_bottle_a_cap_and_a_label():
    uses = LotUse.objects.filter(purpose=LotUse.Purpose.PACKAGING)
    pieces = dict(uses.values_list("into").annotate(total=Sum("quantity")))
    for lot in BottlingLot.objects.filter(format__name="Bottle 330 mL"):
        assert pieces[lot.pk] == 3 * (lot.made + lot.rejects), lot


# Cultures --------------------------------------------------------------------------------


def test_each_line_has_gone_on_for_more_than_twelve_transfers():
    passed = generations(Lot.objects.filter(kind=LotKind.CULTURE).values_list("pk", flat=True))
    lines = dict(CultureLot.objects.values_list("pk", "line__name"))
    most = {
        name: max(count for pk, count in passed.items() if lines[pk] == name)
        for name in set(lines.values())
    }
    assert most == {"Estuary": 16, "Quay": 19, "Lantern": 19}


def test_the_pooled_culture_is_half_of_each_line():
    mixed = composition(coded("S26134B"))
    poured = {code: mixed.part(coded(code).pk) for code in ("S26134A", "S26127A")}
    assert mixed.amount == 12_000_000
    assert {code: part.entered for code, part in poured.items() if part} == {
        "S26134A": 6_000_000,
        "S26127A": 6_000_000,
    }


def test_mould_was_seen_three_transfers_after_the_culture_it_came_from():
    checks = coded("S26274A").condition_checks.all()
    assert [check.mould for check in checks] == ["mould"]
    assert generation(coded("S26274A")) - generation(coded(MOULDY)) == 3


def test_the_backup_brought_the_line_back_free_of_the_mould():
    reached = descendant_ids([coded(MOULDY).pk])
    assert coded("S26176B").detail.is_backup
    assert coded("S26279A").pk not in reached
    assert blocks(coded("S26316B")) == []


# The recall ------------------------------------------------------------------------------


def test_the_recall_of_the_mouldy_culture_equals_what_the_raw_sheets_say():
    ours, theirs = recall(coded(MOULDY)), raw_sheets.recall(MOULDY)

    assert {lot.code for lot in ours.lots} == theirs.lots
    assert {
        lot.code: (lot.made, lot.shipped, lot.returned, lot.on_hand) for lot in ours.bottling_lots
    } == {
        code: (account.made, account.shipped, account.returned, account.on_hand)
        for code, account in theirs.bottles.items()
    }
    assert {lot.code: sum(lot.gone.values()) for lot in ours.bottling_lots} == {
        code: account.gone for code, account in theirs.bottles.items()
    }
    assert {
        customer.name: {sent.code: sent.quantity for sent in customer.lots}
        for customer in ours.customers
    } == theirs.customers


@pytest.mark.parametrize("code", ["S26048A", "K26145A", "B26299B", "R26154A"])
def test_other_recalls_equal_what_the_raw_sheets_say(code):
    ours, theirs = recall(coded(code)), raw_sheets.recall(code)
    assert {lot.code for lot in ours.lots} == theirs.lots
    assert {lot.code: lot.on_hand for lot in ours.bottling_lots} == {
        lot: account.on_hand for lot, account in theirs.bottles.items()
    }
    assert {
        customer.name: {sent.code: sent.quantity for sent in customer.lots}
        for customer in ours.customers
    } == theirs.customers


def test_the_mouldy_culture_reached_so_many_lots_bottles_and_customers():
    found = recall(coded(MOULDY))
    assert len(found.lots) == 26
    assert len(found.customers) == 25
    totals = found.totals
    assert (totals.lots, totals.made, totals.shipped, totals.returned) == (16, 969, 470, 6)
    assert (totals.on_hand, totals.gone, totals.unexplained) == (480, {"destroyed": 25}, 0)


def test_bottles_drawn_before_the_blend_are_marked_and_stay_in_the_scope():
    found = recall(coded(MOULDY))
    assert {lot.code for lot in found.lots if lot.drawn_before} == {"L26253D"}
    assert {"L26257A", "L26257B"} <= {lot.code for lot in found.lots}


def test_the_blend_is_nearly_a_third_suspect_batch():
    mixed = where_it_went(coded("B26236B"))
    before, after = mixed.share(coded("L26253D").pk), mixed.share(coded("L26257A").pk)
    assert before is None
    assert after is not None
    # 14 L went into what was left of 60 L after 27.9 L had been drawn for L26253D.
    drawn = sum(use.quantity for use in coded("L26257A").uses_in.filter(source=coded("B26243B").pk))
    left = coded("B26243B").made - sum(
        use.quantity for use in coded("L26253D").uses_in.filter(source=coded("B26243B").pk)
    )
    assert after.entered == pytest.approx(drawn * 14_000_000 / (left + 14_000_000), abs=2)


def test_what_was_made_from_the_mouldy_culture_is_kept_back_and_nothing_else():
    reached = descendant_ids([coded(MOULDY).pk])
    kept_back = {
        lot.pk
        for lot in Lot.objects.filter(kind__in=[LotKind.BATCH, LotKind.BOTTLING])
        if blocks(lot)
    }
    assert kept_back == {
        lot.pk for lot in Lot.objects.filter(pk__in=reached) if lot.kind in {"batch", "bottling"}
    }


# What else is planted --------------------------------------------------------------------


def test_the_meter_that_was_out_leaves_a_week_of_readings_in_doubt():
    out = Calibration.objects.get(outcome=Calibration.Outcome.OUT)
    assert [(point.reference, point.found) for point in out.points.all()] == [
        (Decimal("4.01"), Decimal("3.71")),
        (Decimal("7.00"), Decimal("6.70")),
    ]
    doubt = readings_in_doubt(out)
    assert str(doubt.last_good.when) == "2026-04-27 07:30"
    assert [lot.code for lot in doubt.lots] == ["B26117A", "L26120A", "L26120B", "L26120C"]
    assert len(doubt.readings) == 8


def test_one_lot_is_over_the_alcohol_line_and_nothing_of_it_left_afterwards():
    over = LabResult.objects.get(value__gt=0.5)
    assert (over.lot.code, over.value_text) == ("L26302E", "0.83")
    last = max(line.shipment.happened_at.date() for line in over.lot.shipment_lines.all())
    assert last < over.reported_on
    assert mass_balances([over.lot_id])[over.lot_id].on_hand == 28


def test_stock_stood_in_the_cooler_on_the_warm_weekend():
    cooler = Location.objects.get(name="Cooler")
    warm = Checkpoint.objects.filter(location=cooler, value__gt=5)
    values = [str(reading.value.normalize()) for reading in warm]
    assert values == ["11.2", "13.6", "14.1", "12.3"]
    stood = stood_in(cooler, WARM_FROM, WARM_UNTIL)
    assert len({each.stay.lot.code for each in stood}) == 27
    assert {each.stay.lot.code for each in stood} == raw_sheets.in_the_cooler("2026-07-18")


def test_one_brew_filled_six_jars():
    into = {use.into.detail.vessel.name for use in coded("K26145A").uses_out.all()}
    assert into == {f"Jar {number}" for number in range(1, 7)}


def test_mint_is_received_with_its_trace_records():
    mint = IngredientLot.objects.filter(ingredient__on_traceability_list=True)
    assert {lot.ingredient.name for lot in mint} == {"Mint leaves, fresh"}
    assert mint.count() == 18
    assert all(lot.supplier_code and lot.document_number and lot.code_source for lot in mint)


def test_foraged_flowers_name_where_and_by_whom_they_were_picked():
    found = IngredientLot.objects.exclude(picked_at_place="").get()
    assert (found.code, found.picked_by, found.supplier) == ("R26154A", "Nell Ashmarsh", None)
    assert coded("P26154A").pk in descendant_ids([found.pk])


def test_the_musty_tea_was_turned_down_and_never_used():
    turned_down = IngredientLot.objects.get(acceptance="rejected")
    assert turned_down.code == "R26128A"
    assert turned_down.decided_by.username == "iria"
    assert not turned_down.uses_out.exists()


def test_kegs_come_back_but_one():
    last = {keg.name: keg.events.last().kind for keg in Keg.objects.all()}
    assert [name for name, kind in last.items() if kind == KegEvent.Kind.OUT] == ["HB-03"]
    assert KegEvent.objects.filter(kind=KegEvent.Kind.BACK).count() == 8


def test_a_shop_brought_six_bottles_back():
    back = StockAdjustment.objects.get(reason=StockAdjustment.Reason.RETURN)
    assert (back.lot.code, back.change, back.customer.name) == ("L26246A", 6, "Blue Door Deli")


def test_every_recipe_version_was_approved_by_the_manager_before_its_first_brew():
    versions = RecipeVersion.objects.select_related("recipe", "approved_by")
    assert {str(version) for version in versions} == {
        "Black tea base v1",
        "Black tea base v2",
        "Green tea base v1",
    }
    for version in versions:
        assert version.approved_by.username == "iria"
        assert version.approved_at <= min(brew.happened_at for brew in version.brews.all())


def test_everyone_has_the_role_on_the_sheet():
    assert {person.username: person.role for person in User.objects.all()} == {
        "iria": "manager",
        "nell": "operator",
        "tome": "operator",
        "odete": "reviewer",
        "quintela": "inspector",
    }


def test_reading_the_sheets_again_changes_nothing(demo):
    again = import_source(read_path(FOLDER), actor=User.objects.get(username="iria"))
    assert again.problems == []
    assert again.conflicts == []
    assert (again.new, again.unchanged) == (0, demo.new)
