"""Whole imports: saved or not, twice, changed, in any order."""

from __future__ import annotations

import random

import pytest
from django.apps import apps
from django.db import transaction

from brewlog.importing.reading import read_files
from brewlog.importing.running import Outcome, import_source
from brewlog.models import (
    Batch,
    CultureLot,
    ImportedRow,
    IngredientLot,
    Lot,
    LotUse,
    RecipeVersion,
    ReviewFlag,
    Shipment,
    User,
)
from brewlog.models.base import Guarded
from tests.importing import full, small

pytestmark = pytest.mark.django_db


def load(content: small.Sheets, actor, **options) -> Outcome:
    return import_source(read_files("small brewery", small.files(content)), actor=actor, **options)


def records() -> dict[str, list[dict]]:
    """All records in plain words: no ids, no writing times."""
    found = {}
    for model in apps.get_app_config("brewlog").get_models():
        if issubclass(model, Guarded):
            found[model.__name__] = sorted(
                (_plain(record) for record in model.objects.all()), key=repr
            )
    return found


def _plain(record: Guarded) -> dict:
    return {
        field.name: str(getattr(record, field.name))
        for field in record._meta.concrete_fields
        if field.name not in {"id", "lot", "recorded_at", "voided_at"}
    }


def test_import_records_every_row_of_every_sheet(brewery, manager):
    outcome = load(small.sheets(), manager)

    assert outcome.problems == []
    assert outcome.saved
    assert outcome.new == sum(len(rows) for rows in small.sheets().values())
    assert Lot.objects.count() == 9
    assert Batch.objects.get(code="B1").made == 53_000_000
    # Five uses, two starters, one starter kept back.
    assert LotUse.objects.count() == 8


def test_import_says_in_the_history_where_a_record_came_from(brewery, manager):
    load(small.sheets(), manager)

    written = Batch.history.filter(code="B1").earliest("history_id")

    assert written.history_change_reason == "Imported from small brewery"
    assert written.history_user == manager


def test_decisions_keep_their_own_time_and_approvals_too(brewery, manager):
    load(small.sheets(), manager)

    assert IngredientLot.objects.get(code="G1").decided_at.date().isoformat() == "2026-03-02"
    assert RecipeVersion.objects.get().approved_at.date().isoformat() == "2026-03-01"


def test_a_starter_retired_on_a_day_was_free_all_that_day(brewery, manager):
    load(small.sheets(), manager)

    assert CultureLot.objects.get(code="C1").retired_at is not None
    assert not ReviewFlag.objects.exists()


def test_dry_run_tells_the_same_and_saves_nothing(brewery, manager):
    before = records()

    outcome = load(small.sheets(), manager, dry_run=True)

    assert not outcome.saved
    assert outcome.new == sum(len(rows) for rows in small.sheets().values())
    assert records() == before


def test_importing_twice_changes_nothing(brewery, manager):
    load(small.sheets(), manager)
    before = records()

    outcome = load(small.sheets(), manager)

    assert (outcome.new, outcome.conflicts, outcome.problems) == (0, [], [])
    assert outcome.unchanged == sum(len(rows) for rows in small.sheets().values())
    assert records() == before


def test_the_same_written_otherwise_is_no_change(brewery, manager):
    load(small.sheets(), manager)
    content = small.sheets()
    content["Receiving"][0] |= {
        "When": "1/3/2026 8:30",
        "Amount": "5000 g",
        "Lot code": "t1",
        "Supplier": "hill &  leaf teas",
        "Accepted": "x",
    }

    outcome = load(content, manager)

    assert outcome.conflicts == []


def test_a_changed_row_is_listed_and_not_overwritten(brewery, manager):
    load(small.sheets(), manager)
    content = small.sheets()
    content["Receiving"][0]["Amount"] = "4 kg"
    content["Suppliers"].append({"Name": "Orchard Gate"})
    before = records()

    outcome = load(content, manager)

    (conflict,) = outcome.conflicts
    assert (conflict.sheet, conflict.row, conflict.column) == ("Receiving", 2, "Amount")
    assert (conflict.recorded, conflict.now) == ("5 kg", "4 kg")
    assert not outcome.saved
    assert records() == before


def test_the_new_rows_come_in_where_changed_ones_are_left(brewery, manager):
    load(small.sheets(), manager)
    content = small.sheets()
    content["Receiving"][0]["Amount"] = "4 kg"
    content["Suppliers"].append({"Name": "Orchard Gate"})

    outcome = load(content, manager, leave_changed=True)

    assert outcome.saved
    assert outcome.new == 1
    assert IngredientLot.objects.get(code="T1").made_text == "5 kg"


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_any_order_of_sheets_and_rows_gives_the_same_records(manager, seed):
    with transaction.atomic():
        load(full.sheets(manager.username), manager)
        in_order = records()
        transaction.set_rollback(True)
    shuffled = list(full.sheets(manager.username).items())
    chance = random.Random(seed)
    chance.shuffle(shuffled)
    for _, rows in shuffled:
        chance.shuffle(rows)

    outcome = load(dict(shuffled), manager)

    assert outcome.problems == []
    assert records() == in_order
    assert len(in_order["LotUse"]) > 10


def test_the_brewery_of_the_same_import_sets_the_clock_and_the_dates_order(manager):
    content = full.sheets(manager.username)
    content["Shipments"][0]["When"] = "3/22/2026 8:00"

    outcome = load(content, manager)

    assert outcome.problems == []
    # Lisbon is on UTC until the last Sunday of March.
    assert Shipment.objects.get().happened_at.isoformat() == "2026-03-22T08:00:00+00:00"


def test_every_sheet_imported_twice_changes_nothing(manager):
    load(full.sheets(manager.username), manager)
    before = records()

    outcome = load(full.sheets(manager.username), manager)

    assert (outcome.new, outcome.problems, outcome.conflicts) == (0, [], [])
    assert records() == before


def test_a_person_read_from_a_sheet_cannot_log_in_before_a_password_is_given(manager):
    content = full.sheets(manager.username)
    content["People"][0]["Still here"] = "yes"
    load(content, manager)

    rita = User.objects.get(username="rita")

    assert rita.role == "operator"
    assert "password" not in ImportedRow.objects.get(sheet="People").said
    assert not rita.check_password("")


def test_after_a_mistake_in_a_kegs_story_the_rest_of_it_is_not_looked_at(manager):
    content = full.sheets(manager.username)
    content["Keg log"][1]["Lot"] = "L9"

    outcome = load(content, manager)

    assert [(p.sheet, p.row, p.column) for p in outcome.problems] == [("Keg log", 3, "Lot")]
    assert outcome.leaning == 1


def test_a_lot_changed_by_one_row_is_seen_changed_by_the_next(brewery, manager):
    content = small.sheets()
    # More than the batch holds once its starter is in: looked up before and after that.
    content["Uses"] += [
        {
            "When": "2026-03-10 09:00",
            "Lot used": "B1",
            "Into": "B2",
            "Amount": "60 L",
            "As": "transfer or blend",
        }
    ]

    load(content, manager)

    flags = [flag.text for flag in ReviewFlag.objects.all()]
    assert len(flags) == 2
    assert "60 L taken, 53 L on the books" in flags[-1]


def test_rows_that_lean_on_a_mistake_are_counted_not_reported(brewery, manager):
    content = small.sheets()
    content["Cultures"][0]["Starter liquid"] = "12 kg"

    outcome = load(content, manager)

    assert [(p.sheet, p.row, p.column) for p in outcome.problems] == [
        ("Cultures", 2, "Starter liquid")
    ]
    # Two starters added, and the retirement.
    assert outcome.leaning == 3
    assert not outcome.saved
    assert not ImportedRow.objects.exists()


def test_a_row_that_leans_on_a_mistake_still_has_its_own_cells_checked(brewery, manager):
    content = small.sheets()
    content["Cultures"][0]["Starter liquid"] = "12 kg"
    content["Starter added"][0]["Volume afterwards"] = "lots"

    outcome = load(content, manager)

    assert [(p.sheet, p.row, p.column) for p in outcome.problems] == [
        ("Cultures", 2, "Starter liquid"),
        ("Starter added", 2, "Volume afterwards"),
    ]


def test_lots_made_from_one_another_in_a_circle_are_one_mistake(brewery, manager):
    content = small.sheets()
    content["Cultures"] = [
        content["Cultures"][0],
        content["Cultures"][1] | {"Lot code": "C2", "From": "C3"},
        content["Cultures"][1] | {"Lot code": "C3", "From": "C2"},
    ]

    outcome = load(content, manager)

    (problem,) = outcome.problems
    assert (problem.sheet, problem.row, problem.column) == ("Cultures", 3, "From")
    assert "Cultures row 4" in problem.reason
    assert outcome.leaning == 1
