"""What keeps a lot back, and what happens to who uses it all the same."""

from __future__ import annotations

import pytest

from brewlog.domain import ingredients
from brewlog.domain.blocks import blocks
from brewlog.models import Hold, Lot, LotUse, ReviewFlag
from brewlog.recording import Forbidden, recording
from tests import factories
from tests.factories import at

pytestmark = pytest.mark.django_db


def hold(actor, lot, cause="mould"):
    with recording(actor):
        found = Hold(lot=Lot.objects.get(pk=lot.pk), cause=cause, reason="seen", done_by=actor)
        found.when = at(9)
        found.save()
    return found


def test_a_hold_for_mould_reaches_everything_made_from_the_lot(operator):
    culture = factories.culture(operator)
    batch = factories.batch(operator, starter=culture)
    later = factories.batch(operator)
    factories.use(operator, batch, later, "5 L")
    bystander = factories.batch(operator)
    hold(operator, culture, Hold.Cause.MOULD)

    assert [block.because.code for block in blocks(culture)] == [culture.code]
    assert [block.because.code for block in blocks(later)] == [culture.code]
    assert blocks(bystander) == []


def test_a_hold_for_alcohol_stops_at_its_lot(operator):
    culture = factories.culture(operator)
    batch = factories.batch(operator, starter=culture)
    hold(operator, culture, Hold.Cause.ALCOHOL)

    assert len(blocks(culture)) == 1
    assert blocks(batch) == []


def test_using_a_held_lot_is_refused_while_it_is_intent(operator):
    sugar = factories.ingredient_lot(operator)
    brew = factories.brew(operator)
    hold(operator, sugar)

    with pytest.raises(Forbidden, match="already happened") as refusal:
        factories.use(operator, sugar, brew, "1 kg")

    assert list(refusal.value.error_dict) == ["source"]
    assert not LotUse.objects.exists()


def test_having_used_a_held_lot_is_recorded_as_it_was_and_flagged(operator):
    sugar = factories.ingredient_lot(operator)
    brew = factories.brew(operator)
    hold(operator, sugar)

    use = factories.use(operator, sugar, brew, "1 kg", already_done=True)

    assert LotUse.objects.get() == use
    flag = ReviewFlag.objects.get()
    assert (flag.kind, flag.lot_id) == (ReviewFlag.Kind.USED_BLOCKED, sugar.pk)
    assert "on hold: mould" in flag.text


def test_adding_to_a_held_batch_is_refused_too(operator):
    sugar = factories.ingredient_lot(operator)
    batch = factories.batch(operator)
    hold(operator, batch)

    with pytest.raises(Forbidden, match="added to"):
        factories.use(operator, sugar, batch, "1 kg")


def test_a_rejected_delivery_is_not_used(operator):
    tea = factories.ingredient_lot(operator, accepted=False)
    ingredients.reject(actor=operator, lot=tea, reason="sacks torn")
    brew = factories.brew(operator)

    with pytest.raises(Forbidden, match="was rejected: sacks torn"):
        factories.use(operator, tea, brew, "1 kg")


def test_a_lifted_hold_stops_nothing(reviewer):
    sugar = factories.ingredient_lot(reviewer)
    found = hold(reviewer, sugar)
    with recording(reviewer, "checked"):
        found.reread()
        found.lifted_at = at(9).at
        found.save()

    assert blocks(sugar) == []
