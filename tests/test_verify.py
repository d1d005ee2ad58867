"""Every kind of damage, done by SQL past the door, is found and named; nothing else is."""

from __future__ import annotations

import datetime as dt
from io import StringIO
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.management import call_command
from django.db import connection
from hypothesis import given
from hypothesis import strategies as st
from networkx import DiGraph, simple_cycles, strongly_connected_components

from brewlog.domain import checkpoints
from brewlog.domain.lots import void
from brewlog.models import LotUse
from brewlog.recording import recording
from brewlog.verify import (
    Altered,
    Circle,
    DanglingLink,
    NoHistory,
    PhotoChanged,
    Unsigned,
    UseBeforeSource,
    Vanished,
    VoidedInUse,
    WrongChild,
    circles,
    recorded_models,
    verify,
)
from tests import factories


def sql(statement: str, *parameters: object) -> None:
    """One row changed past the door."""
    with connection.cursor() as cursor:
        cursor.execute(statement, parameters)
        assert cursor.rowcount == 1


def change_with_history(model: str, key: str, pk: int, column: str, value: object) -> None:
    """A change past the door by someone who also rewrote the history."""
    for table in (f"brewlog_{model}", f"brewlog_historical{model}"):
        sql(f"UPDATE {table} SET {column} = %s WHERE {key} = %s", value, pk)


@pytest.fixture
def plant(brewery, manager):
    """Tea and culture into a batch, the batch into another culture's feed: all in order."""

    class Plant:
        tea = factories.ingredient_lot(manager, "10 kg", code="T1", when=factories.at(2))
        brew = factories.brew(manager, code="K1", when=factories.at(3))
        batch = factories.batch(manager, code="B1", when=factories.at(4))
        first = factories.use(manager, tea, brew, "1 kg", when=factories.at(3, 10))
        second = factories.use(manager, brew, batch, "50 L", when=factories.at(4, 10))

    return Plant


def test_records_made_by_the_verbs_are_sound(plant, manager):
    with recording(manager, "weighed again"):
        plant.tea.reread()
        plant.tea.made = 9_000_000
        plant.tea.save()
    assert verify() == []


def test_voided_records_are_sound(plant, manager):
    void(actor=manager, record=plant.first, reason="wrong sack")
    void(actor=manager, record=plant.tea, reason="counted twice")
    assert verify() == []


def test_every_model_with_history_is_looked_at():
    names = {model.__name__ for model in recorded_models()}
    assert {"Supplier", "LotUse", "Batch", "BottlingLot", "ShipmentLine", "Brewery"} <= names
    assert "Lot" not in names


class TestAltered:
    def test_a_field_changed_is_named(self, plant):
        sql("UPDATE brewlog_lotuse SET quantity = 5 WHERE id = %s", plant.first.pk)
        assert verify() == [Altered(f"lot use {plant.first.pk}", ("quantity",))]

    def test_a_field_of_a_lots_parent_is_named_with_the_childs(self, plant):
        sql("UPDATE brewlog_lot SET made = 1, code = 'B2' WHERE id = %s", plant.batch.pk)
        sql("UPDATE brewlog_batch SET water_source = 'river' WHERE lot_id = %s", plant.batch.pk)
        (found,) = verify()
        assert isinstance(found, Altered)
        assert found.record == f"batch {plant.batch.pk}"
        assert set(found.fields) == {"made", "code", "water_source"}

    def test_a_value_taken_out_is_found_too(self, plant):
        sql("UPDATE brewlog_lot SET made = NULL WHERE id = %s", plant.batch.pk)
        assert verify() == [Altered(f"batch {plant.batch.pk}", ("made",))]

    def test_a_rewritten_history_is_found(self, plant):
        sql("UPDATE brewlog_historicallotuse SET note = 'x' WHERE id = %s", plant.first.pk)
        assert verify() == [Altered(f"lot use {plant.first.pk}", ("note",))]

    def test_a_history_cut_back_to_an_earlier_version_is_found(self, plant, manager):
        with recording(manager, "weighed again"):
            plant.tea.reread()
            plant.tea.made = 9_000_000
            plant.tea.save()
        newest = plant.tea.history.order_by("-history_id")[0].history_id
        sql("DELETE FROM brewlog_historicalingredientlot WHERE history_id = %s", newest)
        assert verify() == [Altered(f"ingredient lot {plant.tea.pk}", ("made",))]


class TestNoHistory:
    def test_a_record_whose_history_is_gone_is_named(self, plant):
        sql("DELETE FROM brewlog_historicallotuse WHERE id = %s", plant.first.pk)
        assert verify() == [NoHistory(f"lot use {plant.first.pk}")]

    def test_a_lot_is_named_once(self, plant):
        sql("DELETE FROM brewlog_historicalbrew WHERE lot_id = %s", plant.brew.pk)
        assert verify() == [NoHistory(f"brew {plant.brew.pk}")]


class TestVanished:
    def test_a_record_taken_away_is_named(self, plant):
        sql("DELETE FROM brewlog_lotuse WHERE id = %s", plant.second.pk)
        assert verify() == [Vanished(f"lot use {plant.second.pk}")]


class TestUnsigned:
    def test_a_version_nobody_signed_is_named(self, plant):
        sql(
            "UPDATE brewlog_historicallotuse SET history_user_id = NULL WHERE id = %s",
            plant.first.pk,
        )
        assert verify() == [Unsigned(f"lot use {plant.first.pk}")]


class TestUseBeforeSource:
    def move(self, plant, at, precision="minute"):
        change_with_history("lotuse", "id", plant.second.pk, "happened_at", at)
        change_with_history("lotuse", "id", plant.second.pk, "happened_precision", precision)

    def test_a_use_before_its_source_began_is_named(self, plant):
        self.move(plant, factories.at(1).at)
        assert verify() == [
            UseBeforeSource(plant.second.pk, "K1", "B1", factories.at(1), plant.brew.when)
        ]

    def test_a_use_on_the_same_day_may_have_been_after(self, plant):
        self.move(plant, dt.datetime(2026, 3, 3, tzinfo=dt.UTC), "day")
        assert verify() == []

    def test_a_use_the_day_before_was_before(self, plant):
        self.move(plant, dt.datetime(2026, 3, 2, tzinfo=dt.UTC), "day")
        (found,) = verify()
        assert isinstance(found, UseBeforeSource)

    def test_a_voided_use_does_not_count(self, plant, manager):
        self.move(plant, factories.at(1).at)
        use = LotUse.objects.get(pk=plant.second.pk)
        void(actor=manager, record=use, reason="wrong day")
        assert verify() == []


class TestCircle:
    def test_lots_made_from_themselves_are_named(self, plant, manager):
        # The tea's use into the brew becomes one of the batch's.
        change_with_history("lotuse", "id", plant.first.pk, "source_id", plant.batch.pk)
        change_with_history("lotuse", "id", plant.first.pk, "happened_at", factories.at(5).at)
        assert verify() == [Circle(("K1", "B1"))]

    @given(st.lists(st.tuples(st.integers(1, 12), st.integers(1, 12)), max_size=30))
    def test_circles_are_found_as_networkx_finds_them(self, edges):
        graph = DiGraph((source, into) for source, into in edges if source != into)
        on_a_circle = {
            lot for part in strongly_connected_components(graph) if len(part) > 1 for lot in part
        }
        found = circles(graph.edges)
        assert set().union(*found) >= on_a_circle
        assert bool(found) == bool(on_a_circle)
        for part in found:
            assert any(simple_cycles(graph.subgraph(part)))


class TestWrongChild:
    def test_a_lot_without_its_child_is_named(self, plant):
        sql("DELETE FROM brewlog_batch WHERE lot_id = %s", plant.batch.pk)
        assert verify() == [
            WrongChild("B1", "is a batch, but there is no such row"),
            Vanished(f"batch {plant.batch.pk}"),
        ]

    def test_a_lot_of_another_kind_than_its_child_is_named(self, plant):
        self.change_lot("brew", plant.brew.pk, "kind", "batch")
        assert verify() == [
            WrongChild("K1", "is a brew besides what it says it is"),
            WrongChild("K1", "is a batch, but there is no such row"),
        ]

    def test_a_brew_by_weight_is_named(self, plant):
        self.change_lot("brew", plant.brew.pk, "dimension", "mass")
        assert verify() == [WrongChild("K1", "is a brew, which is not measured so")]

    def test_an_ingredient_lot_measured_unlike_its_ingredient_is_named(self, plant):
        self.change_lot("ingredientlot", plant.tea.pk, "dimension", "volume")
        assert verify() == [WrongChild("T1", "is not measured as its ingredient is")]

    def change_lot(self, child, pk, column, value):
        sql(f"UPDATE brewlog_lot SET {column} = %s WHERE id = %s", value, pk)
        sql(f"UPDATE brewlog_historical{child} SET {column} = %s WHERE lot_id = %s", value, pk)


class TestVoidedInUse:
    def test_a_voided_lot_that_is_still_used_is_named(self, plant):
        at = factories.at(9).at
        sql("UPDATE brewlog_lot SET voided_at = %s WHERE id = %s", at, plant.tea.pk)
        sql(
            "UPDATE brewlog_historicalingredientlot SET voided_at = %s WHERE lot_id = %s",
            at,
            plant.tea.pk,
        )
        assert verify() == [VoidedInUse("T1", f"lot use {plant.first.pk}")]


class TestDanglingLink:
    @pytest.mark.sqlite
    def test_a_link_to_nothing_is_named(self, transactional_db):
        manager = factories.person("manager")
        supplier = factories.supplier(manager)
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA foreign_keys = OFF")
        sql("UPDATE brewlog_supplier SET recorded_by_id = 999 WHERE id = %s", supplier.pk)
        sql("UPDATE brewlog_historicalsupplier SET recorded_by_id = 999 WHERE id = %s", supplier.pk)
        found = verify()
        sql(
            "UPDATE brewlog_supplier SET recorded_by_id = %s WHERE id = %s", manager.pk, supplier.pk
        )
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA foreign_keys = ON")
        assert found == [DanglingLink("brewlog_supplier", supplier.pk, "brewlog_user")]


class TestPhotoChanged:
    @pytest.fixture
    def check(self, manager):
        [found] = checkpoints.check_condition(
            actor=manager,
            lot=factories.culture(manager),
            when=factories.at(9),
            photo=ContentFile(b"a jar", name="jar.png"),
        )
        return found

    def test_a_photo_as_it_was_kept_is_sound(self, check):
        assert verify() == []

    def test_another_photo_in_its_place_is_named(self, check):
        Path(check.photo.path).write_bytes(b"another jar")
        assert verify() == [PhotoChanged(f"condition check {check.pk}", check.photo.name)]

    def test_a_photo_that_is_gone_is_named(self, check):
        Path(check.photo.path).unlink()
        assert verify() == [PhotoChanged(f"condition check {check.pk}", check.photo.name)]


class TestTheCommand:
    def run(self, *arguments):
        out, err = StringIO(), StringIO()
        with pytest.raises(SystemExit) as ended:
            call_command("verify_records", *arguments, stdout=out, stderr=err)
        return ended.value.code, out.getvalue(), err.getvalue()

    def test_sound_records_end_in_0(self, plant):
        code, out, err = self.run()
        assert (code, err) == (0, "")
        assert "The records are sound" in out

    def test_unsound_records_end_in_1_with_every_finding(self, plant):
        sql("UPDATE brewlog_lotuse SET quantity = 5 WHERE id = %s", plant.first.pk)
        sql("DELETE FROM brewlog_historicalbrew WHERE lot_id = %s", plant.brew.pk)
        code, out, err = self.run("--quiet")
        assert code == 1
        assert sorted(out.splitlines()) == [
            f"altered: lot use {plant.first.pk} was altered past its history: quantity.",
            f"no-history: brew {plant.brew.pk} has no history.",
        ]
        assert err.startswith("2 findings.")
