"""Critical findings keep lots back at once, and become holds by the next verb or the watch."""

from __future__ import annotations

import datetime as dt
from io import StringIO

import pytest
import time_machine
from django.core.management import call_command
from django.utils import timezone

from brewlog.domain.blocks import all_blocks, blocks
from brewlog.domain.holds import lift
from brewlog.domain.looking import look_at
from brewlog.domain.lots import void
from brewlog.models import Hold, ReviewFlag, Shipment
from brewlog.recording import Forbidden, recording
from compliance.domain.watch import PATIENCE, SYSTEM_NAME, look_through, undecided, watch
from compliance.models import Binding, Deviation, Limit, RuleSet
from tests import factories
from tests.factories import at

pytestmark = pytest.mark.django_db


@pytest.fixture
def limits(manager):
    """A batch's pH must reach 4.2 in a week; its alcohol must stay below 0.5 % vol."""
    common = {
        "consequence": "critical",
        "citation": "invented",
        "reading": "house",
        "because": "b",
        "clears": "c",
    }
    with recording(manager):
        ruleset = RuleSet(
            key="test",
            edition="1",
            title="Test",
            status="house",
            effective_from=dt.date(2020, 1, 1),
            source="invented",
        )
        ruleset.save()
        Limit(
            ruleset=ruleset, key="ph", title="pH in time", kind="by_deadline", lot_kind="batch",
            measurand="ph", operator="<=", value="4.2", unit="pH", within_hours="168",
            since="pitched", cause="acidification", **common,
        ).save()  # fmt: skip
        Limit(
            ruleset=ruleset, key="abv", title="alcohol", kind="peak", measurand="alcohol",
            operator="<", value="0.5", unit="% vol", cause="alcohol", **common,
        ).save()  # fmt: skip
        Binding(ruleset=ruleset, since=dt.date(2020, 1, 1)).save()


@pytest.fixture
def slow(operator, limits):
    """A batch that stood at pH 4.6 when its week was over, and bottles of it."""
    batch = factories.batch(operator, when=at(3))
    factories.reading(operator, batch, "4.60", when=at(9))
    bottles = factories.bottles(
        operator, count=50, batch=batch, drawn="17 L", when=at(12), already_done=True
    )
    return batch, bottles


def test_what_was_missed_keeps_back_what_is_made_from_it_before_any_hold(operator, slow):
    batch, bottles = slow

    assert blocks(bottles) == []
    assert [block.because.code for block in all_blocks(bottles, "sent out")] == [batch.code]
    with pytest.raises(Forbidden, match="pH in time"):
        factories.shipment(operator, bottles)
    assert not Shipment.objects.exists()


def test_what_was_missed_is_not_bottled(operator, limits):
    batch = factories.batch(operator, when=at(3))
    factories.reading(operator, batch, "4.60", when=at(9))

    with pytest.raises(Forbidden, match="not reached by the deadline"):
        factories.bottles(operator, count=50, batch=batch, drawn="17 L", when=at(12))


def test_the_same_reported_as_done_is_recorded_and_becomes_a_hold_by_the_watch(operator, slow):
    batch, bottles = slow

    factories.shipment(operator, bottles, already_done=True)
    (hold,) = watch()

    assert Shipment.objects.count() == 1
    assert (hold.lot_id, hold.cause) == (batch.pk, Hold.Cause.ACIDIFICATION)
    assert hold.recorded_by.username == SYSTEM_NAME
    assert Deviation.objects.get().hold == hold
    assert len(blocks(bottles)) == 1


def test_the_watch_writes_each_hold_once(slow):
    assert len(watch()) == 1
    assert watch() == []


def test_a_hold_that_was_lifted_is_not_placed_again(reviewer, slow):
    batch, bottles = slow
    watch()

    lift(actor=reviewer, lot=batch, reason="the meter was wrong; plated, clean")

    assert watch() == []
    assert all_blocks(bottles, "sent out") == []


def test_alcohol_over_the_line_stops_at_its_lot(operator, limits):
    batch = factories.batch(operator, when=at(3))
    factories.reading(operator, batch, "3.40", when=at(8))
    bottles = factories.bottles(operator, count=50, batch=batch, drawn="17 L", when=at(12))
    factories.lab_result(operator, bottles, "0.83", when=at(14))

    (hold,) = watch()

    assert hold.lot_id == bottles.pk
    assert blocks(batch) == []
    assert undecided([batch]) == []


def test_a_mistyped_reading_is_cleared_by_voiding_it(operator, limits, manager):
    with recording(manager):
        Limit(
            ruleset=RuleSet.objects.get(), key="finished", title="finished pH", kind="value",
            lot_kind="bottling", measurand="ph", stage="finished", operator="<=", value="4.2",
            unit="pH", cause="acidification", consequence="critical", citation="invented",
            reading="house", because="b", clears="c",
        ).save()  # fmt: skip
    bottles = factories.bottles(operator, count=50, when=at(12))
    wrong = factories.reading(operator, bottles, "8.31", stage="finished", when=at(14))
    assert len(all_blocks(bottles, "sent out")) == 1

    void(actor=operator, record=wrong, reason="meant 3.31")

    assert all_blocks(bottles, "sent out") == []


def test_the_command_names_what_it_held(slow):
    out = StringIO()

    with time_machine.travel(timezone.now() + PATIENCE):
        call_command("watch", stdout=out)

    assert "pH in time" in out.getvalue()
    assert out.getvalue().endswith("1 new hold.\n")


class TestABatchThatWasKeptOnPaper:
    """Written down after its deadline: its readings come one by one, the early ones first."""

    @pytest.fixture
    def batch(self, operator, limits):
        return factories.batch(operator, when=at(3))

    def test_is_not_held_for_what_is_still_to_be_written(self, operator, batch):
        factories.reading(operator, batch, "4.60", when=at(4))

        (told,) = look_at(operator, [batch])

        assert "Write down its further readings: it is kept back until they show otherwise" in told
        assert [block.because.code for block in all_blocks(batch, "used")] == [batch.code]
        assert look_through(everything=True) == []

        factories.reading(operator, batch, "3.60", when=at(8))

        assert look_at(operator, [batch]) == []
        assert all_blocks(batch, "used") == []
        assert not Hold.objects.exists()
        assert not Deviation.objects.exists()

    def test_is_held_where_a_day_later_nothing_shows_that_it_was_in_time(self, operator, batch):
        factories.reading(operator, batch, "4.60", when=at(4))
        look_at(operator, [batch])

        with time_machine.travel(timezone.now() + PATIENCE):
            (hold,) = look_through(everything=True)

        assert (hold.lot_id, hold.cause) == (batch.pk, Hold.Cause.ACIDIFICATION)

    def test_is_held_at_once_for_what_no_further_reading_can_change(self, operator, batch):
        factories.reading(operator, batch, "3.60", when=at(8))
        factories.lab_result(operator, batch, "0.83", when=at(9))

        look_at(operator, [batch])

        assert Hold.objects.get().cause == Hold.Cause.ALCOHOL


def test_a_page_never_writes_a_hold(client, operator, slow):
    batch, _ = slow
    client.force_login(operator)

    client.get(f"/lots/{batch.code}/")

    assert not Hold.objects.exists()
    assert not ReviewFlag.objects.filter(kind="condition").exists()
