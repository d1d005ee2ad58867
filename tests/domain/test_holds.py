"""Holding, lifting and settling."""

from __future__ import annotations

import pytest

from brewlog.domain import holds
from brewlog.domain.blocks import blocks
from brewlog.domain.lots import flag, void
from brewlog.models import Hold
from brewlog.recording import Refused, recording
from tests import factories
from tests.factories import at

pytestmark = pytest.mark.django_db


def test_a_hold_keeps_the_lot_back_with_its_reason(reviewer):
    lot = factories.culture(reviewer)

    found = holds.hold(
        actor=reviewer, lot=lot, cause="other", why="smells of solvent", when=at(5), note="ask Ines"
    )

    found.refresh_from_db()
    assert (found.lot_id, found.reason, found.note) == (lot.pk, "smells of solvent", "ask Ines")
    assert found.history.get().history_user == reviewer
    assert [block.text for block in blocks(lot)] == [f"{lot} is on hold: other (smells of solvent)"]


def test_a_second_hold_for_the_same_cause_is_refused(reviewer):
    lot = factories.culture(reviewer)
    factories.hold(reviewer, lot, "mould")

    with pytest.raises(Refused, match="already"):
        factories.hold(reviewer, lot, "mould")
    factories.hold(reviewer, lot, "alcohol")

    assert Hold.objects.count() == 2


def test_a_hold_says_what_is_wrong_and_is_not_put_on_a_voided_lot(reviewer):
    lot, gone = factories.culture(reviewer), factories.culture(reviewer)
    void(actor=reviewer, record=gone, reason="entered twice")

    with pytest.raises(Refused, match="Say what is wrong"):
        factories.hold(reviewer, lot, why="  ")
    with pytest.raises(Refused, match="entered twice"):
        factories.hold(reviewer, gone)

    assert Hold.objects.count() == 0


@pytest.mark.parametrize(("cause", "reached"), [("mould", 2), ("alcohol", 1)])
def test_what_a_hold_reaches_follows_its_cause(reviewer, cause, reached):
    starter = factories.culture(reviewer)
    batch = factories.batch(reviewer, starter=starter)
    factories.batch(reviewer)

    found = factories.hold(reviewer, starter, cause)

    expected = [starter.pk, batch.pk][:reached]
    assert list(holds.held_with(found).values_list("pk", flat=True)) == expected


class TestLifting:
    def test_lets_the_lot_go_and_keeps_who_and_why(self, reviewer):
        lot = factories.culture(reviewer)
        factories.hold(reviewer, lot)

        found = holds.lift(actor=reviewer, lot=lot, reason="it was yeast, looked at twice")

        found.refresh_from_db()
        assert (found.lifted_by, found.lift_reason) == (reviewer, "it was yeast, looked at twice")
        assert not found.is_open
        assert blocks(lot) == []
        assert list(holds.open_holds()) == []
        last = found.history.first()
        assert (last.history_type, last.history_change_reason) == (
            "~",
            "it was yeast, looked at twice",
        )

    def test_is_for_reviewers(self, operator, reviewer):
        lot = factories.culture(operator)
        factories.hold(reviewer, lot)

        with pytest.raises(Refused, match="Only a reviewer or a manager"):
            holds.lift(actor=operator, lot=lot, reason="looks fine")

        assert holds.open_holds().count() == 1

    def test_needs_a_reason(self, reviewer):
        lot = factories.culture(reviewer)
        factories.hold(reviewer, lot)

        with pytest.raises(Refused, match="why the lot may go on"):
            holds.lift(actor=reviewer, lot=lot, reason=" ")

    def test_names_the_cause_where_there_are_several(self, reviewer):
        lot = factories.culture(reviewer)
        factories.hold(reviewer, lot, "mould")
        factories.hold(reviewer, lot, "pressure")

        with pytest.raises(Refused, match="Say which one"):
            holds.lift(actor=reviewer, lot=lot, reason="below the line")
        with pytest.raises(Refused, match="not held for that"):
            holds.lift(actor=reviewer, lot=lot, cause="label", reason="below the line")
        holds.lift(actor=reviewer, lot=lot, cause="pressure", reason="below the line")

        assert [each.cause for each in holds.open_holds()] == ["mould"]

    def test_points_to_the_lot_that_holds_it(self, reviewer):
        starter = factories.culture(reviewer)
        batch = factories.batch(reviewer, starter=starter)
        factories.hold(reviewer, starter)

        with pytest.raises(Refused, match=f"kept back with {starter}. Decide there"):
            holds.lift(actor=reviewer, lot=batch, reason="looks fine")

    def test_of_a_lot_that_is_free_is_refused(self, reviewer):
        with pytest.raises(Refused, match="is not on hold"):
            holds.lift(actor=reviewer, lot=factories.culture(reviewer), reason="looks fine")


class TestSettling:
    def test_closes_the_flag_with_what_was_found(self, operator, reviewer):
        with recording(operator):
            open_flag = flag(factories.culture(operator), "other", "looked cloudy")

        found = holds.settle_flag(actor=reviewer, flag=open_flag, note="only sediment")

        found.refresh_from_db()
        assert (found.settled_by, found.settled_note) == (reviewer, "only sediment")
        assert not found.is_open

    def test_is_for_reviewers_once_and_with_a_note(self, operator, reviewer):
        with recording(operator):
            open_flag = flag(factories.culture(operator), "other", "looked cloudy")

        with pytest.raises(Refused, match="Only a reviewer"):
            holds.settle_flag(actor=operator, flag=open_flag, note="only sediment")
        with pytest.raises(Refused, match="Say what was found"):
            holds.settle_flag(actor=reviewer, flag=open_flag, note="")
        holds.settle_flag(actor=reviewer, flag=open_flag, note="only sediment")
        with pytest.raises(Refused, match="settled already: only sediment"):
            holds.settle_flag(actor=reviewer, flag=open_flag, note="again")


def test_alcohol_over_the_line_is_let_go_only_once_the_authority_was_asked(reviewer):
    lot = factories.batch(reviewer)
    factories.hold(reviewer, lot, "alcohol")

    with pytest.raises(Refused, match="the authority is asked first"):
        holds.lift(actor=reviewer, lot=lot, reason="second result lower")
    found = holds.lift(
        actor=reviewer, lot=lot, reason="second result lower", authority_asked="state: agreed"
    )

    assert found.lift_reason == "second result lower (state: agreed)"


class TestEndingAHoldAtALot:
    @pytest.fixture
    def chain(self, reviewer):
        """A mouldy culture, a batch from it, a further batch from that one, and a side branch."""
        culture = factories.culture(reviewer)
        batch = factories.batch(reviewer, starter=culture)
        further = factories.batch(reviewer)
        factories.use(reviewer, batch, further, "5 L")
        side = factories.batch(reviewer, starter=culture)
        return factories.hold(reviewer, culture), batch, further, side

    def test_lets_it_and_what_is_made_from_it_go_on(self, reviewer, chain):
        hold, batch, further, side = chain

        holds.end_hold_at(actor=reviewer, hold=hold, lot=batch, reason="plated, clean")

        assert blocks(batch) == []
        assert blocks(further) == []
        assert len(blocks(side)) == 1
        assert set(holds.held_with(hold).values_list("pk", flat=True)) == {
            hold.lot_id,
            side.pk,
        }

    def test_leaves_held_what_is_reached_another_way(self, reviewer, chain):
        hold, batch, further, side = chain
        factories.use(reviewer, side, further, "1 L", already_done=True)

        holds.end_hold_at(actor=reviewer, hold=hold, lot=batch, reason="plated, clean")

        assert blocks(batch) == []
        assert len(blocks(further)) == 1

    def test_it_does_not_reach_is_refused(self, reviewer, chain):
        hold, *_ = chain

        with pytest.raises(Refused, match="is not held by that"):
            holds.end_hold_at(actor=reviewer, hold=hold, lot=factories.batch(reviewer), reason="x")

    def test_is_for_reviewers(self, operator, chain):
        hold, batch, *_ = chain

        with pytest.raises(Refused, match="Only a reviewer"):
            holds.end_hold_at(actor=operator, hold=hold, lot=batch, reason="x")
