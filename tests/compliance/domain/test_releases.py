"""Review and release."""

from __future__ import annotations

import datetime as dt

import pytest

from brewlog.domain.lots import correct
from brewlog.models import Shipment
from brewlog.recording import Forbidden, Refused, recording
from compliance.domain import releases
from compliance.domain.holidays import DayOff, keep_holidays, working_days_after
from compliance.models import Binding, Limit, Policy, Release, Review, RuleSet
from tests import factories
from tests.factories import at

pytestmark = pytest.mark.django_db

PASSWORD = "living culture 7"


@pytest.fixture
def bottles(operator):
    batch = factories.batch(operator)
    factories.reading(operator, batch)
    return factories.bottles(operator, count=100, batch=batch, drawn="34 L", when=at(12))


def reviewed(reviewer, bottles):
    for use in bottles.uses_in.all():
        if use.source.kind == "batch":
            releases.review(actor=reviewer, lot=use.source, password=PASSWORD)
    return bottles


def set_policy(actor, **fields):
    with recording(actor):
        found = releases.policy()
        for name, value in fields.items():
            setattr(found, name, value)
        found.save()
    return Policy.objects.get()


class TestReviewing:
    def test_is_due_seven_working_days_after_the_oldest_reading_was_written(self, bottles):
        (due,) = releases.reviews_due()

        assert due.records == 1
        assert due.due == working_days_after(due.oldest.date(), 7, set())

    @pytest.mark.parametrize(
        ("day", "days", "due"),
        [
            (dt.date(2026, 3, 6), 1, dt.date(2026, 3, 9)),  # Friday to Monday
            (dt.date(2026, 3, 2), 7, dt.date(2026, 3, 11)),  # Monday to Wednesday week
            (dt.date(2026, 3, 7), 1, dt.date(2026, 3, 9)),  # a Saturday
        ],
    )
    def test_working_days_leave_out_the_weekend(self, day, days, due):
        assert working_days_after(day, days, set()) == due

    def test_and_the_brewerys_holidays(self, manager, bottles):
        without = releases.reviews_due()[0].due
        friday, monday = dt.date(2026, 4, 3), dt.date(2026, 4, 6)
        assert working_days_after(dt.date(2026, 4, 1), 3, {friday, monday}) == dt.date(2026, 4, 8)

        keep_holidays(actor=manager, days=[DayOff(without, "Founders' day")])

        assert releases.reviews_due()[0].due == working_days_after(without, 1, set())

    def test_settles_the_readings_written_up_to_then(self, reviewer, operator, bottles):
        reviewed(reviewer, bottles)
        assert releases.reviews_due() == []

        batch = bottles.uses_in.first().source
        factories.reading(operator, batch, when=at(11))

        assert [due.records for due in releases.reviews_due()] == [1]

    def test_is_not_for_who_took_the_readings(self, reviewer):
        batch = factories.batch(reviewer)
        factories.reading(reviewer, batch)

        with pytest.raises(Refused, match="Someone else reviews"):
            releases.review(actor=reviewer, lot=batch, password=PASSWORD)

        assert not Review.objects.exists()

    def test_by_the_one_person_there_is_is_taken_and_shown(self, reviewer, manager):
        set_policy(manager, one_person=True)
        batch = factories.batch(reviewer)
        factories.reading(reviewer, batch)

        found = releases.review(actor=reviewer, lot=batch, password=PASSWORD)

        assert found.own_readings


class TestReleasing:
    def test_keeps_findings_limits_and_what_was_signed(self, reviewer, bottles):
        found = releases.release(actor=reviewer, lot=reviewed(reviewer, bottles), password=PASSWORD)

        assert releases.standing_release(bottles) == found
        assert (found.findings, found.limits) == ([], [])
        assert f"bottlinglot:{bottles.pk}" in found.signature.contents

    def test_waits_for_the_review(self, reviewer, bottles):
        with pytest.raises(Refused, match="nobody has reviewed"):
            releases.release(actor=reviewer, lot=bottles, password=PASSWORD)

        assert not Release.objects.exists()

    def test_waits_for_a_hold(self, reviewer, bottles):
        reviewed(reviewer, bottles)
        factories.hold(reviewer, bottles, "label")

        with pytest.raises(Refused, match="on hold"):
            releases.release(actor=reviewer, lot=bottles, password=PASSWORD)

    def test_waits_for_a_reading_that_shows_each_critical_limit(self, reviewer, manager, bottles):
        reviewed(reviewer, bottles)
        with recording(manager):
            ruleset = RuleSet(
                key="test", edition="1", title="Test", status="house",
                effective_from=dt.date(2020, 1, 1), source="invented",
            )  # fmt: skip
            ruleset.save()
            Limit(
                ruleset=ruleset, key="ph", title="finished pH", kind="value", lot_kind="bottling",
                measurand="ph", stage="finished", operator="<=", value="4.2", unit="pH",
                consequence="critical", cause="acidification", citation="invented",
                reading="house", because="b", clears="c",
            ).save()  # fmt: skip
            Binding(ruleset=ruleset, since=dt.date(2020, 1, 1)).save()

        with pytest.raises(Refused, match="no reading for: finished pH"):
            releases.release(actor=reviewer, lot=bottles, password=PASSWORD)

        assert not Release.objects.exists()

    def test_is_of_bottles_only(self, reviewer):
        with pytest.raises(Refused, match="Bottles are released"):
            releases.release(actor=reviewer, lot=factories.batch(reviewer), password=PASSWORD)

    def test_is_not_for_operators(self, operator, reviewer, bottles):
        with pytest.raises(Refused, match="Only a reviewer"):
            releases.release(actor=operator, lot=reviewed(reviewer, bottles), password=PASSWORD)

    def test_shows_what_was_changed_after_it_was_signed(self, reviewer, bottles):
        releases.release(actor=reviewer, lot=reviewed(reviewer, bottles), password=PASSWORD)
        assert releases.changed_after_release(bottles) == []

        correct(actor=reviewer, record=bottles, reason="recount", label_version="B")

        (change,) = releases.changed_after_release(bottles)
        assert (change.what, change.fields) == ("changed", ("label_version",))

    def test_is_undone_by_a_new_signature_and_stays_on_record(self, reviewer, bottles):
        releases.release(actor=reviewer, lot=reviewed(reviewer, bottles), password=PASSWORD)

        releases.take_back_release(
            actor=reviewer, lot=bottles, password=PASSWORD, reason="wrong label"
        )

        assert releases.standing_release(bottles) is None
        assert Release.objects.get().undone_by.meaning == "undo"
        releases.release(actor=reviewer, lot=bottles, password=PASSWORD)
        assert Release.objects.count() == 2


class TestSendingOut:
    def test_waits_for_release_where_the_policy_asks_for_it(
        self, operator, reviewer, manager, bottles
    ):
        set_policy(manager, release_needed_since=dt.date(2026, 1, 1))

        with pytest.raises(Forbidden, match="not released yet"):
            factories.shipment(operator, bottles)
        assert not Shipment.objects.exists()

        releases.release(actor=reviewer, lot=reviewed(reviewer, bottles), password=PASSWORD)
        factories.shipment(operator, bottles)
        assert Shipment.objects.count() == 1

    def test_does_not_wait_for_bottles_from_before(self, operator, manager, bottles):
        set_policy(manager, release_needed_since=dt.date(2026, 6, 1))

        factories.shipment(operator, bottles)

        assert Shipment.objects.count() == 1
