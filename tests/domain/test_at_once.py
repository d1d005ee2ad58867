"""Two people at one record: whoever comes second acts on it as the first left it."""

from __future__ import annotations

import pytest

from brewlog.domain import batches, cultures, holds, ingredients, recipes
from brewlog.domain.lots import correct, void
from brewlog.domain.versions import Overtaken, newest_version
from brewlog.models import Batch, Lot, Supplier
from brewlog.recording import RecordingError, Refused, recording
from tests import factories
from tests.factories import at, quantity
from tests.threads import SECONDS, one_after_the_other

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager(transactional_db):
    return factories.person("manager")


@pytest.fixture
def other(transactional_db):
    return factories.person("reviewer", "marta")


def two_copies(record):
    """The record as two people loaded it before either wrote."""
    model = type(record)
    return model.objects.get(pk=record.pk), model.objects.get(pk=record.pk)


def test_two_corrections_at_once_keep_both(manager, other):
    first, second = two_copies(factories.supplier(manager, "Hill Farm"))

    one_after_the_other(
        manager,
        lambda: correct(actor=manager, record=first, reason="moved", address="Quay 3"),
        lambda: correct(actor=other, record=second, reason="new number", phone="555 0101"),
    ).result(SECONDS)

    kept = Supplier.objects.get()
    assert (kept.address, kept.phone) == ("Quay 3", "555 0101")
    assert kept.history.count() == 3


def test_what_was_struck_out_meanwhile_is_not_mended_or_struck_out_again(manager, other):
    first, second = two_copies(factories.supplier(manager, "Hill Farm"))

    mended = one_after_the_other(
        manager,
        lambda: void(actor=manager, record=first, reason="never bought there"),
        lambda: correct(actor=other, record=second, reason="moved", address="Quay 3"),
    )

    with pytest.raises(Refused, match="is voided: never bought there"):
        mended.result(SECONDS)
    with pytest.raises(Refused, match="is voided: never bought there"):
        void(actor=other, record=second, reason="typed twice")
    assert Supplier.objects.get().address == ""


def retire(actor, lot, why):
    return cultures.retire(actor=actor, culture=lot, retire_reason=why)


def settle(actor, lot, why):
    return ingredients.reject(actor=actor, lot=lot, reason=why)


def lift(actor, hold, why):
    return holds.lift(actor=actor, lot=hold.lot, reason=why)


def approve(actor, version, why):
    return recipes.approve(actor=actor, version=version, reason=why)


@pytest.mark.parametrize(
    ("make", "verb", "said", "kept"),
    [
        (factories.culture, retire, "retired already: first", ("retire_reason", "first")),
        (
            lambda actor: factories.ingredient_lot(actor, accepted=False),
            settle,
            "is rejected already",
            ("acceptance_reason", "first"),
        ),
        (
            lambda actor: factories.hold(actor, factories.batch(actor)),
            lift,
            "is not on hold",
            ("lift_reason", "first"),
        ),
        (
            lambda actor: factories.recipe_version(actor, approved=False),
            approve,
            "is approved already",
            ("approved_by", "manager"),
        ),
    ],
    ids=["retire", "reject", "lift", "approve"],
)
def test_a_decision_is_taken_once(manager, other, make, verb, said, kept):
    record = make(manager)
    first, second = two_copies(record)

    later = one_after_the_other(
        manager,
        lambda: verb(manager, first, "first"),
        lambda: verb(other, second, "second"),
    )

    with pytest.raises(Refused, match=said):
        later.result(SECONDS)
    field, value = kept
    found = getattr(type(record).objects.get(pk=record.pk), field)
    assert found == (manager if value == "manager" else value)


def test_starter_goes_into_a_batch_once(manager, other):
    first, second = two_copies(batches.plan_batch(actor=manager, when=at(3)))
    starter = factories.culture(manager, "20 L")

    def pitch(actor, batch, amount):
        draw = batches.Draw(Lot.objects.get(pk=starter.pk), quantity("5 L"), "starter")
        return batches.pitch(
            actor=actor, batch=batch, lines=[draw], quantity=quantity(amount), when=at(3)
        )

    later = one_after_the_other(
        manager, lambda: pitch(manager, first, "60 L"), lambda: pitch(other, second, "70 L")
    )

    with pytest.raises(Refused, match="had its starter added already"):
        later.result(SECONDS)
    assert Batch.objects.get().made_text == "60 L"
    assert starter.uses_out.count() == 1


def test_a_copy_from_before_the_recording_is_not_saved(manager):
    """Whatever a later verb forgets: what others wrote is never undone by an old copy."""
    supplier = factories.supplier(manager)
    supplier.note = "from before"

    with pytest.raises(RecordingError, match="reread"), recording(manager):
        supplier.save()


class TestAFormShownBefore:
    """The same, with the time between showing a form and sending it."""

    def test_does_not_write_over_what_was_changed_since(self, manager, other):
        supplier = factories.supplier(manager, "Hill Farm")
        seen = newest_version(supplier)
        correct(actor=other, record=supplier, reason="they moved", address="Quay 3")

        with pytest.raises(Overtaken) as refusal:
            correct(actor=manager, record=supplier, reason="x", seen=seen, address="Quay 5")

        (words,) = refusal.value.message_dict["address"]
        assert words.startswith("Reviewer wrote “Quay 3” here at ")
        assert "(they moved)" in words
        assert "What you wrote is kept here" in words
        assert Supplier.objects.get().address == "Quay 3"

    def test_leaves_what_was_changed_beside_it(self, manager, other):
        supplier = factories.supplier(manager, "Hill Farm")
        seen = newest_version(supplier)
        correct(actor=other, record=supplier, reason="they moved", address="Quay 3")

        correct(actor=manager, record=supplier, reason="x", seen=seen, phone="555 0101")

        kept = Supplier.objects.get()
        assert (kept.address, kept.phone) == ("Quay 3", "555 0101")

    def test_does_not_strike_out_what_was_mended_since(self, manager, other):
        supplier = factories.supplier(manager, "Hill Farm")
        seen = newest_version(supplier)
        correct(actor=other, record=supplier, reason="they moved", address="Quay 3", in_use=False)

        with pytest.raises(Overtaken, match="In use: Reviewer wrote “no” here"):
            void(actor=manager, record=supplier, reason="no such place", seen=seen)

        assert not Supplier.objects.get().is_void
