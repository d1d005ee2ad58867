"""The one door for writes and the quiet room for reads, on real connections."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import DatabaseError, connection, transaction
from django.db.models import ProtectedError

from brewlog.models import Brewery, IngredientLot, Lot, LotUse, ReviewFlag, Supplier, User
from brewlog.recording import RecordingError, current_recording, reading, recording
from tests import factories
from tests.threads import SECONDS, in_a_thread


def add(name: str) -> Supplier:
    supplier = Supplier(name=name)
    supplier.save()
    return supplier


def names() -> list[str]:
    return list(Supplier.objects.order_by("name").values_list("name", flat=True))


# What comes through the door --------------------------------------------------------------


def test_a_record_saved_outside_is_refused(db):
    with pytest.raises(RecordingError, match="inside `with recording"):
        add("Hill Farm")
    assert names() == []


def test_a_change_outside_is_refused(manager):
    with recording(manager):
        supplier = add("Hill Farm")
    supplier.name = "Dale Farm"
    with pytest.raises(RecordingError):
        supplier.save()
    assert names() == ["Hill Farm"]


def test_what_is_saved_carries_who_wrote_it_and_when(manager):
    with recording(manager):
        supplier = add("Hill Farm")
    supplier.refresh_from_db()
    assert supplier.recorded_by == manager
    assert supplier.recorded_at is not None


def test_a_later_version_keeps_who_wrote_the_first(manager, operator):
    with recording(manager):
        supplier = add("Hill Farm")
    first_written = supplier.recorded_at
    with recording(operator, "misspelt"):
        supplier.reread()
        supplier.name = "Hall Farm"
        supplier.save()
    supplier.refresh_from_db()
    assert (supplier.recorded_by, supplier.recorded_at) == (manager, first_written)


def test_every_version_is_in_the_history_with_person_and_reason(manager, operator):
    with recording(manager, "new supplier"):
        supplier = add("Hill Farm")
    with recording(operator, "misspelt"):
        supplier.reread()
        supplier.name = "Hall Farm"
        supplier.save()
    assert list(
        supplier.history.order_by("history_id").values_list(
            "history_type", "name", "history_user", "history_change_reason"
        )
    ) == [
        ("+", "Hill Farm", manager.pk, "new supplier"),
        ("~", "Hall Farm", operator.pk, "misspelt"),
    ]


def test_a_long_reason_is_kept_whole(manager):
    reason = "the delivery note was wet and could not be read. " * 20
    with recording(manager, reason):
        supplier = add("Hill Farm")
    assert supplier.history.get().history_change_reason == reason


def test_a_lot_has_one_history_row_with_the_fields_of_its_parent(manager):
    lot = factories.ingredient_lot(manager, "10 kg", code="T1", reason="written at the door")
    row = lot.history.get()
    assert (row.code, row.made, row.kind) == ("T1", 10_000_000, "ingredient")
    assert (row.ingredient_id, row.supplier_id) == (lot.ingredient_id, lot.supplier_id)
    assert (row.history_user, row.history_change_reason) == (manager, "written at the door")


def test_a_change_to_a_lots_parent_fields_is_in_the_childs_history(manager):
    lot = factories.ingredient_lot(manager, "10 kg")
    with recording(manager, "weighed again"):
        lot.reread()
        lot.made, lot.made_text = 9_500_000, "9.5 kg"
        lot.save()
    assert list(lot.history.order_by("history_id").values_list("made", flat=True)) == [
        10_000_000,
        9_500_000,
    ]


def test_a_lot_saved_without_its_child_is_refused(manager):
    lot = factories.ingredient_lot(manager)
    bare = Lot.objects.get(pk=lot.pk)
    with recording(manager):
        with pytest.raises(RecordingError, match="saved through its child"):
            bare.save()
        with pytest.raises(RecordingError, match="saved through its child"):
            Lot.objects.create(code="X1")


# What does not -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "write",
    [
        lambda: Supplier.objects.update(name="Dale Farm"),
        lambda: Supplier.objects.filter(name="Hill Farm").update(name="Dale Farm"),
        lambda: Supplier.objects.bulk_create([Supplier(name="Dale Farm")]),
        lambda: Supplier.objects.bulk_update([Supplier.objects.get()], ["name"]),
        lambda: Supplier.objects.update_or_create(name="Hill Farm", defaults={"note": "x"}),
        lambda: Supplier.objects.all().delete(),
        lambda: Supplier._base_manager.all().delete(),
        lambda: Supplier.objects.get().delete(),
        lambda: Supplier.history.all().delete(),
        lambda: Supplier.history.get().delete(),
    ],
    ids=lambda write: "",
)
def test_a_write_that_leaves_no_trace_is_refused(manager, write):
    with recording(manager):
        add("Hill Farm")
    with pytest.raises(RecordingError), recording(manager):
        write()
    assert names() == ["Hill Farm"]
    assert Supplier.history.count() == 1


def test_a_person_is_never_deleted_not_even_one_who_wrote_nothing(manager, operator):
    with recording(operator):
        supplier = add("Hill Farm")
    with pytest.raises(RecordingError, match="Make the account inactive"), transaction.atomic():
        manager.delete()
    with pytest.raises(RecordingError), transaction.atomic():
        User.objects.filter(pk=manager.pk).delete()
    with pytest.raises(ProtectedError), transaction.atomic():
        operator.delete()
    assert supplier.history.get().history_user == operator
    assert User.objects.count() == 2


def test_uses_are_not_changed_through_their_lot(manager):
    tea, brew = factories.ingredient_lot(manager), factories.brew(manager)
    factories.use(manager, tea, brew, "1 kg")
    with recording(manager), pytest.raises(RecordingError):
        tea.uses_out.update(quantity=1)


def test_part_of_a_record_is_not_saved(manager):
    with recording(manager):
        supplier = add("Hill Farm")
        supplier.name = "Dale Farm"
        with pytest.raises(RecordingError, match="saved whole"):
            supplier.save(update_fields=["note"])
        with pytest.raises(TypeError):
            supplier.save(False, False, None, ["note"])
    assert names() == ["Hill Farm"]


def test_a_new_record_is_never_written_over_an_old_one(manager):
    factories.brewery(manager)
    with pytest.raises(DatabaseError), recording(manager):
        Brewery(pk=1, name="Another").save()
    assert Brewery.objects.get().name == "Saltmarsh Ferments"


# Blocks in blocks --------------------------------------------------------------------------


def test_there_is_no_recording_outside(db):
    with pytest.raises(RecordingError):
        current_recording()


def test_a_block_inside_needs_the_same_person(manager, operator):
    with (
        recording(manager),
        pytest.raises(RecordingError, match="cannot join"),
        recording(operator),
    ):
        pass


def test_a_block_inside_adds_its_reason_for_what_is_written_in_it(manager):
    with recording(manager, "delivery of the week"):
        with recording(manager, "no code on the sack"):
            inner = add("Hill Farm")
        with recording(manager, "delivery of the week"):
            again = add("Mill Farm")
        outer = add("Dale Farm")
    reasons = [each.history.get().history_change_reason for each in (inner, again, outer)]
    assert reasons == [
        "delivery of the week; no code on the sack",
        "delivery of the week",
        "delivery of the week",
    ]


def test_the_door_is_shut_again_after_an_error(manager):
    with pytest.raises(ZeroDivisionError), recording(manager):
        _ = 1 // 0
    with pytest.raises(RecordingError):
        add("Hill Farm")


def test_all_is_kept_or_nothing(manager):
    with pytest.raises(ZeroDivisionError), recording(manager):
        add("Hill Farm")
        with recording(manager):
            add("Dale Farm")
        _ = 1 // 0
    assert names() == []
    assert Supplier.history.count() == 0


def test_an_inner_block_that_fails_can_be_given_up_alone(manager):
    with recording(manager):
        add("Hill Farm")
        with pytest.raises(ZeroDivisionError), recording(manager):
            add("Dale Farm")
            _ = 1 // 0
        add("Mill Farm")
    assert names() == ["Hill Farm", "Mill Farm"]
    assert Supplier.history.count() == 2


def test_a_thread_does_not_come_in_through_anothers_door(transactional_db):
    manager = factories.person("manager")
    with recording(manager), ThreadPoolExecutor(1) as other, pytest.raises(RecordingError):
        other.submit(add, "Hill Farm").result(SECONDS)


# Reading -----------------------------------------------------------------------------------


def test_nothing_is_recorded_while_reading(manager):
    with reading():
        with pytest.raises(RecordingError, match="Nothing is recorded inside"), recording(manager):
            pass
        with pytest.raises(RecordingError):
            add("Hill Farm")
    with recording(manager):
        add("Hill Farm")
    assert names() == ["Hill Farm"]


def test_reading_inside_a_recording_sees_what_it_wrote(manager):
    with recording(manager):
        add("Hill Farm")
        with reading():
            assert names() == ["Hill Farm"]
        add("Mill Farm")


def test_reading_inside_a_transaction_or_another_reading_is_part_of_it(db):
    with transaction.atomic():
        assert names() == []
        with reading(), reading():
            assert names() == []


def test_reading_refuses_even_what_is_not_a_record(transactional_db):
    person = factories.person("operator")
    with pytest.raises(DatabaseError), reading():
        User.objects.filter(pk=person.pk).update(first_name="Other")
    User.objects.filter(pk=person.pk).update(first_name="Inês")
    assert User.objects.get().first_name == "Inês"


def test_reading_keeps_one_picture_while_others_write(transactional_db):
    manager = factories.person("manager")

    def write() -> None:
        with recording(manager):
            add("Hill Farm")

    with ThreadPoolExecutor(1) as pool:
        with reading():
            assert names() == []
            in_a_thread(write, pool).result(SECONDS)
            assert names() == []
        assert names() == ["Hill Farm"]


def test_reading_does_not_wait_for_a_writer(transactional_db):
    manager = factories.person("manager")
    has_written, may_finish = threading.Event(), threading.Event()

    def write_slowly() -> bool:
        with recording(manager):
            add("Hill Farm")
            has_written.set()
            return may_finish.wait(SECONDS)

    connection.close()  # the reading is the first thing on a new connection
    with ThreadPoolExecutor(1) as pool:
        writing = in_a_thread(write_slowly, pool)
        assert has_written.wait(SECONDS)
        with reading():
            assert names() == []
        assert not writing.done()
        may_finish.set()
        assert writing.result(SECONDS)
    assert names() == ["Hill Farm"]


def test_a_recording_waits_for_the_one_before(transactional_db):
    manager = factories.person("manager")
    has_begun, may_finish = threading.Event(), threading.Event()

    def first() -> None:
        with recording(manager):
            has_begun.set()
            may_finish.wait(SECONDS)
            add("First")

    def second() -> list[str]:
        with recording(manager):
            return names()

    with ThreadPoolExecutor(2) as pool:
        in_a_thread(first, pool)
        assert has_begun.wait(SECONDS)
        waiting = in_a_thread(second, pool)
        with pytest.raises(TimeoutError):
            waiting.result(0.3)
        may_finish.set()
        assert waiting.result(SECONDS) == ["First"]


def test_two_people_drawing_from_one_lot_never_over_draw_it_silently(transactional_db):
    manager = factories.person("manager")
    tea = factories.ingredient_lot(manager, "10 kg", when=factories.at(1))
    one, two = factories.brew(manager), factories.brew(manager)
    has_drawn, may_finish = threading.Event(), threading.Event()

    def draw_and_wait() -> None:
        with recording(manager):
            factories.use(manager, tea, one, "8 kg")
            has_drawn.set()
            may_finish.wait(SECONDS)

    with ThreadPoolExecutor(2) as pool:
        first = in_a_thread(draw_and_wait, pool)
        assert has_drawn.wait(SECONDS)
        # The first draw is not committed: read now, the books would still show 10 kg.
        second = in_a_thread(lambda: factories.use(manager, tea, two, "8 kg"), pool)
        with pytest.raises(TimeoutError):
            second.result(0.3)
        may_finish.set()
        first.result(SECONDS)
        second.result(SECONDS)

    assert list(LotUse.objects.order_by("id").values_list("into", "quantity")) == [
        (one.pk, 8_000_000),
        (two.pk, 8_000_000),
    ]
    flag = ReviewFlag.objects.get()
    assert (flag.kind, flag.lot_id) == ("overdrawn", tea.pk)
    assert "8 kg taken, 2 kg on the books: 6 kg more than they show" in flag.text
    assert IngredientLot.objects.get().made == 10_000_000
