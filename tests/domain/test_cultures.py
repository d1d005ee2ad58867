"""The living cultures."""

from __future__ import annotations

import pytest

from brewlog.domain import cultures
from brewlog.domain.lots import Draw
from brewlog.models import CultureLot, LotUse, ReviewFlag
from brewlog.recording import Forbidden, Refused
from brewlog.trace import generation
from tests import factories
from tests.factories import at, quantity

pytestmark = pytest.mark.django_db


def test_a_bought_culture_begins_a_line(operator):
    line = factories.culture_line(operator, "Estuary")

    lot = factories.culture(operator, "2 L", line=line, pellicles=1)

    assert (lot.line, lot.origin, lot.made, lot.pellicles) == (line, "bought", 2_000_000, 1)
    assert generation(lot) == 0


def test_a_culture_is_counted_by_volume(operator):
    with pytest.raises(Refused, match="by volume"):
        cultures.begin_culture(
            actor=operator,
            line=factories.culture_line(operator),
            origin="bought",
            quantity=quantity("2 kg"),
            when=at(1),
        )


def test_feeding_begins_a_new_lot_of_the_same_generation(operator):
    old = factories.culture(operator, "2 L")
    sugar = factories.ingredient_lot(operator, "1 kg")

    fed = cultures.feed(
        actor=operator,
        culture=old,
        taken=quantity("2 L"),
        quantity=quantity("3 L"),
        when=at(8),
        lines=[Draw(sugar, quantity("60 g"), LotUse.Purpose.FEED)],
    )

    assert fed.pk != old.pk
    assert (fed.line, fed.origin, fed.made) == (old.line, CultureLot.Origin.FED, 3_000_000)
    assert sorted(fed.uses_in.values_list("source_id", "purpose")) == sorted(
        [(old.pk, "culture"), (sugar.pk, "feed")]
    )
    assert generation(fed) == 0


def test_feeding_with_nothing_of_the_old_is_told_where_it_was_written(operator):
    with pytest.raises(Refused) as refused:
        cultures.feed(
            actor=operator,
            culture=factories.culture(operator, "2 L"),
            taken=quantity("0 L"),
            quantity=quantity("3 L"),
            when=at(8),
        )

    assert list(refused.value.error_dict) == ["taken"]


def test_keeping_back_from_a_batch_goes_one_transfer_on_in_its_line(operator):
    line = factories.culture_line(operator, "Estuary")
    batch = factories.batch(operator, starter=factories.culture(operator, line=line))

    kept = cultures.keep_back(actor=operator, batch=batch, quantity=quantity("5 L"), when=at(12))

    assert (kept.line, kept.origin) == (line, CultureLot.Origin.KEPT_BACK)
    assert generation(kept) == 1


def test_keeping_back_asks_for_the_line_where_two_went_in(operator):
    batch = factories.batch(operator)
    factories.use(operator, factories.culture(operator), batch, "1 L", when=at(4))

    with pytest.raises(Refused, match="Name the line"):
        cultures.keep_back(actor=operator, batch=batch, quantity=quantity("5 L"), when=at(12))


def test_starter_is_kept_back_from_a_batch_only(operator):
    with pytest.raises(Refused, match="not a batch"):
        cultures.keep_back(
            actor=operator, batch=factories.brew(operator), quantity=quantity("5 L"), when=at(12)
        )


class TestPooling:
    def test_takes_each_starter_into_one_lot(self, operator):
        line = factories.culture_line(operator, "Pool")
        first, second = factories.culture(operator, "2 L"), factories.culture(operator, "3 L")

        pooled = cultures.pool(
            actor=operator,
            line=line,
            quantity=quantity("5 L"),
            when=at(6),
            lines=[
                Draw(first, quantity("2 L"), LotUse.Purpose.POOL),
                Draw(second, quantity("3 L"), LotUse.Purpose.POOL),
            ],
        )

        assert pooled.origin == CultureLot.Origin.POOLED
        assert set(pooled.uses_in.values_list("source_id", "quantity")) == {
            (first.pk, 2_000_000),
            (second.pk, 3_000_000),
        }

    def test_of_one_is_refused_and_nothing_is_saved(self, operator):
        only = factories.culture(operator)

        with pytest.raises(Refused, match="two starters or more"):
            cultures.pool(
                actor=operator,
                line=only.line,
                quantity=quantity("1 L"),
                when=at(6),
                lines=[Draw(only, quantity("1 L"), LotUse.Purpose.POOL)],
            )

        assert CultureLot.objects.count() == 1


class TestRetiring:
    def test_ends_its_use_from_then_on(self, operator):
        culture = factories.culture(operator)
        cultures.retire(actor=operator, culture=culture, retire_reason="thin", when=at(9))
        brew = factories.batch(operator)

        with pytest.raises(Forbidden, match="retired: thin"):
            factories.use(operator, culture, brew, "1 L", when=at(10))

    def test_leaves_earlier_uses_free(self, operator):
        culture = factories.culture(operator)
        cultures.retire(actor=operator, culture=culture, retire_reason="thin", when=at(9))

        factories.use(operator, culture, factories.batch(operator), "1 L", when=at(8))

        assert not ReviewFlag.objects.exists()

    def test_twice_is_refused(self, operator):
        culture = factories.culture(operator)
        cultures.retire(actor=operator, culture=culture, retire_reason="thin", when=at(9))

        with pytest.raises(Refused, match="retired already"):
            cultures.retire(actor=operator, culture=culture, retire_reason="again", when=at(9))


def test_an_unsuitable_vessel_is_refused_as_intent_and_flagged_as_fact(operator):
    crock = factories.vessel(operator, "Crock", material="ceramic")

    with pytest.raises(Forbidden, match="lead"):
        factories.culture(operator, vessel=crock)
    lot = factories.culture(operator, vessel=crock, already_done=True)

    assert CultureLot.objects.get() == lot
    assert ReviewFlag.objects.get().kind == ReviewFlag.Kind.VESSEL
