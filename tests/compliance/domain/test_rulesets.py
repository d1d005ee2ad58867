"""Choosing, tightening and setting aside what the brewery is held to."""

from __future__ import annotations

import datetime as dt
import json
from decimal import Decimal

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.utils import timezone

from brewlog.recording import Refused, recording
from compliance.assessment import assess_lot
from compliance.domain import rulesets
from compliance.domain.house_limits import (
    add_house_limit,
    end_house_limit,
    replace_house_limit,
)
from compliance.domain.signing import as_signed
from compliance.models import Binding, Limit, RuleSet, Waiver
from tests import factories

pytestmark = pytest.mark.django_db

DAY = dt.date(2026, 3, 10)


def limit_data(**changes) -> dict:
    data = {
        "key": "ph-finished",
        "title": "pH of the finished drink",
        "kind": "value",
        "lot_kind": "bottling",
        "measurand": "ph",
        "stage": "finished",
        "operator": "<=",
        "value": "4.2",
        "unit": "pH",
        "consequence": "critical",
        "cause": "acidification",
        "citation": "an invented rule",
        "reading": "confirmed",
        "because": "acid keeps pathogens down",
        "clears": "a second reading inside the limit",
    }
    return {**data, **changes}


def ruleset_data(**changes) -> dict:
    data = {
        "key": "invented",
        "edition": "2020",
        "title": "Invented rules",
        "jurisdiction": "Nowhere",
        "status": "law",
        "effective_from": "2020-01-01",
        "source": "invented for a test",
        "limits": [limit_data()],
    }
    return {**data, **changes}


def house_data(**changes) -> dict:
    """The same limit as the house sets it: key, reading and unit are made for it."""
    data = limit_data(**changes)
    return {name: data[name] for name in data if name not in {"key", "reading", "unit"}}


def read(actor, folder, **changes) -> RuleSet:
    (folder / "a.json").write_text(json.dumps(ruleset_data(**changes)))
    (added,) = rulesets.read_rulesets(actor=actor, folder=folder)
    return added


def test_reading_twice_adds_nothing(manager, tmp_path):
    read(manager, tmp_path)

    assert rulesets.read_rulesets(actor=manager, folder=tmp_path) == []
    assert (RuleSet.objects.count(), Limit.objects.count()) == (1, 1)


def test_an_edition_is_never_rewritten(manager, tmp_path):
    read(manager, tmp_path)
    (tmp_path / "a.json").write_text(json.dumps(ruleset_data(limits=[limit_data(value="4.6")])))

    with pytest.raises(Refused, match="Give it a new edition"):
        rulesets.read_rulesets(actor=manager, folder=tmp_path)

    assert Limit.objects.get().value == Decimal("4.2")


class TestBinding:
    def test_brings_its_limits_into_force_from_its_day_on(self, manager, tmp_path):
        ruleset = read(manager, tmp_path)

        rulesets.bind(actor=manager, ruleset=ruleset, since=DAY)

        assert rulesets.in_force(DAY - dt.timedelta(days=1)) == []
        assert [limit.key for limit in rulesets.in_force(DAY)] == ["ph-finished"]

    def test_does_not_reach_before_the_rule_itself(self, manager, tmp_path):
        ruleset = read(manager, tmp_path, effective_from="2026-06-01")

        rulesets.bind(actor=manager, ruleset=ruleset, since=DAY)

        assert rulesets.in_force(DAY) == []
        assert len(rulesets.in_force(dt.date(2026, 6, 1))) == 1

    def test_ended_leaves_old_lots_judged_by_what_bound_then(self, manager, tmp_path):
        ruleset = read(manager, tmp_path)
        binding = rulesets.bind(actor=manager, ruleset=ruleset, since=DAY)

        rulesets.release_binding(
            actor=manager, binding=binding, reason="moved", until=dt.date(2026, 4, 1)
        )

        assert len(rulesets.in_force(dt.date(2026, 3, 31))) == 1
        assert rulesets.in_force(dt.date(2026, 4, 1)) == []

    def test_twice_is_refused(self, manager, tmp_path):
        ruleset = read(manager, tmp_path)
        rulesets.bind(actor=manager, ruleset=ruleset, since=DAY)

        with pytest.raises(Refused, match="binds already"):
            rulesets.bind(actor=manager, ruleset=ruleset, since=DAY)

        assert Binding.objects.count() == 1


class TestDeclaringNotApplicable:
    def test_takes_the_limit_out_and_keeps_who_signed(self, manager, tmp_path):
        ruleset = read(manager, tmp_path)
        rulesets.bind(actor=manager, ruleset=ruleset, since=DAY)

        rulesets.waive(
            actor=manager,
            limit=Limit.objects.get(),
            reason="county letter of 3 March",
            password="living culture 7",
            since=DAY,
        )

        assert rulesets.in_force(DAY) == []
        assert Waiver.objects.get().printed_name == str(manager)

    def test_with_a_wrong_password_signs_nothing(self, manager, tmp_path):
        read(manager, tmp_path)

        with pytest.raises(Refused, match="Nothing was signed"):
            rulesets.waive(actor=manager, limit=Limit.objects.get(), reason="x", password="guess")

        assert not Waiver.objects.exists()


class TestHouseLimits:
    @pytest.fixture
    def law(self, manager, tmp_path):
        ruleset = read(manager, tmp_path)
        rulesets.bind(actor=manager, ruleset=ruleset, since=dt.date(2020, 1, 1))
        return ruleset

    def test_may_be_tighter_than_the_law(self, manager, law):
        limit = add_house_limit(actor=manager, **house_data(value="4.0"))

        assert limit.ruleset.status == RuleSet.Status.HOUSE
        assert {each.key for each in rulesets.in_force(timezone.localdate())} == {
            "ph-finished",
            "ph-of-the-finished-drink",
        }

    @pytest.mark.parametrize(("sign", "value"), [("<=", "4.3")])
    def test_may_not_be_looser_than_the_law(self, manager, law, sign, value):
        with pytest.raises(Refused, match="stricter"):
            add_house_limit(
                actor=manager,
                **house_data(operator=sign, value=value),
            )

        assert Limit.objects.count() == 1


class TestChangingAHouseLimit:
    TODAY = dt.date(2026, 3, 10)
    LATER = dt.date(2026, 3, 20)

    @pytest.fixture(autouse=True)
    def _on_that_day(self, brewery):
        with time_machine.travel(dt.datetime(2026, 3, 10, 12, tzinfo=dt.UTC)):
            yield

    @pytest.fixture
    def own(self, manager):
        return add_house_limit(
            actor=manager, **house_data(value="4.0"), effective_from=dt.date(2026, 3, 1)
        )

    def told(self, day: int) -> list[str]:
        return [each.comparison for each in rulesets.in_force(dt.date(2026, 3, day))]

    def test_ends_it_for_lots_begun_from_that_day_on(self, manager, own):
        end_house_limit(actor=manager, limit=own, until=self.LATER, reason="the law says so now")

        assert [self.told(day) for day in (1, 19, 20)] == [["≤ 4 pH"], ["≤ 4 pH"], []]
        assert own.history.first().history_change_reason == "the law says so now"

    def test_puts_another_in_its_place_from_the_same_day_on(self, manager, own):
        found = replace_house_limit(
            actor=manager, limit=own, value="3.8", effective_from=self.LATER, reason="a near miss"
        )

        assert [self.told(day) for day in (19, 20)] == [["≤ 4 pH"], ["≤ 3.8 pH"]]
        own.refresh_from_db()
        assert (own.effective_until, found.effective_from) == (self.LATER, self.LATER)
        assert (found.title, found.citation, found.stage) == (own.title, own.citation, own.stage)

    def test_keeps_an_older_lot_judged_by_the_limit_it_was_made_under(self, manager, own):
        lots = {}
        replace_house_limit(actor=manager, limit=own, value="3.8", reason="a near miss")
        for day in (9, 10):
            lots[day] = factories.bottles(manager, when=factories.at(day))
            factories.reading(
                manager, lots[day], "3.90", factories.at(10, 11), stage="finished",
                instrument=factories.instrument(manager, accuracy="0.02", resolution="0.01"),
            )  # fmt: skip

        assert [bool(assess_lot(lots[day]).findings) for day in (9, 10)] == [False, True]

    def test_leaves_a_release_signed_under_it_unchanged(self, manager, own):
        signed = as_signed(own)
        end_house_limit(actor=manager, limit=own, reason="no longer needed")
        assert as_signed(Limit.objects.get(pk=own.pk)) == signed

    @pytest.mark.parametrize(
        ("fields", "name", "words"),
        [
            ({"reason": " "}, "reason", "Say why"),
            ({"until": dt.date(2026, 3, 9)}, "until", "were judged by it"),
        ],
    )
    def test_is_refused_without_a_reason_and_for_a_day_that_is_over(
        self, manager, own, fields, name, words
    ):
        given = {"reason": "no longer needed", "until": self.TODAY} | fields
        with pytest.raises(Refused, match=words) as refused:
            end_house_limit(actor=manager, limit=own, **given)

        assert list(refused.value.message_dict) == [name]
        assert self.told(10) == ["≤ 4 pH"]

    def test_is_refused_for_what_is_not_ours_ended_or_unchanged(self, manager, own, tmp_path):
        law = read(manager, tmp_path).limits.get()
        with pytest.raises(Refused, match="Declare it not applicable"):
            end_house_limit(actor=manager, limit=law, reason="too strict")
        with pytest.raises(Refused, match="That is the limit there is"):
            replace_house_limit(actor=manager, limit=own, value="4.00", reason="again")
        with pytest.raises(Refused, match="were judged by it") as refused:
            replace_house_limit(
                actor=manager,
                limit=own,
                value="3.8",
                reason="r",
                effective_from=dt.date(2026, 3, 2),
            )
        assert list(refused.value.message_dict) == ["effective_from"]

        end_house_limit(actor=manager, limit=own, reason="enough")
        with pytest.raises(Refused, match="ends on 2026-03-10 already"):
            replace_house_limit(actor=manager, limit=own, value="3.8", reason="again")
        assert Limit.objects.filter(ruleset__key="house").count() == 1

    def test_may_not_loosen_it_past_a_law(self, manager, own, tmp_path):
        rulesets.bind(actor=manager, ruleset=read(manager, tmp_path), since=dt.date(2026, 1, 1))

        with pytest.raises(Refused, match="stricter"):
            replace_house_limit(actor=manager, limit=own, value="4.5", reason="easier")

        own.refresh_from_db()
        assert own.effective_until is None


class TestTheUnitOfALimit:
    STEEP = {
        "kind": "step_temperature", "step": "steep", "lot_kind": "brew", "stage": "",
        "measurand": "", "operator": ">=",
    }  # fmt: skip

    def add(self, actor, **fields) -> Limit:
        return add_house_limit(actor=actor, **house_data(**fields))

    def test_is_converted_once_and_kept_as_typed_beside_it(self, manager):
        limit = self.add(manager, value="165 °F", **self.STEEP)

        assert (round(limit.value, 2), limit.unit) == (Decimal("73.89"), "°C")
        assert limit.comparison == "≥ 73.89 °C (165 °F)"

    def test_of_a_bare_temperature_is_the_persons_own(self, manager):
        manager.units = "us"
        assert self.add(manager, value="165", **self.STEEP).value_text == "165 °F"

    def test_is_told_once_where_nothing_was_converted(self, manager):
        assert self.add(manager, value="4,0").comparison == "≤ 4 pH"

    @pytest.mark.parametrize(
        ("fields", "value", "words"),
        [
            ({}, "42", "A pH lies between"),
            ({}, "4.2 °C", "That is a temperature"),
            (STEEP, "warm", "Write it like"),
            ({"kind": "culture_age"}, "two weeks", "Write it in days"),
            ({"kind": "trend"}, "-0.3", "less than nothing"),
        ],
    )
    def test_is_that_of_what_it_is_compared_with(self, manager, fields, value, words):
        with pytest.raises(Refused, match=words) as refused:
            self.add(manager, value=value, **fields)

        assert list(refused.value.message_dict) == ["value"]
        assert not Limit.objects.exists()

    @pytest.mark.parametrize(
        ("fields", "value", "kept"),
        [
            ({"kind": "culture_age"}, "14 days", ("14", "days")),
            ({"kind": "balance"}, "2 %", ("2", "% unexplained")),
            ({"kind": "trend"}, "0.3 pH", ("0.3", "pH")),
            ({"measurand": "pressure"}, "30 psi", ("2.0684", "bar")),
        ],
    )
    def test_is_read_of_whatever_is_counted_or_measured(self, manager, fields, value, kept):
        limit = self.add(manager, value=value, **fields)
        assert (f"{limit.value.normalize():f}", limit.unit) == kept

    def test_in_a_file_is_refused_where_it_is_another(self, manager, tmp_path):
        with pytest.raises(Refused, match="is compared in 'pH', not in '% vol'"):
            read(manager, tmp_path, limits=[limit_data(unit="% vol")])
        with pytest.raises(ValidationError, match="not a valid choice"):
            read(manager, tmp_path, limits=[limit_data(unit="degrees")])
        assert not RuleSet.objects.exists()


def test_below_is_tighter_than_at_most():
    below = Limit(operator="<", value=Decimal("4.2"))
    at_most = Limit(operator="<=", value=Decimal("4.2"))

    assert rulesets.is_tighter(below, at_most)
    assert not rulesets.is_tighter(at_most, below)


def test_comparing_shows_what_differs_and_what_only_one_asks(manager, tmp_path):
    one = read(manager, tmp_path)
    with recording(manager):
        other = RuleSet(
            key="other", edition="1", title="Other", status="law",
            effective_from=DAY, source="invented",
        )  # fmt: skip
        other.save()
        Limit(ruleset=other, **{**limit_data(), "operator": "<"}).save()
        Limit(ruleset=other, **limit_data(key="floor", operator=">=", value="2.5")).save()

    found = rulesets.compare(one, other)

    shown = [
        (each.one and each.one.comparison, each.other and each.other.comparison) for each in found
    ]
    assert shown == [("≤ 4.2 pH", "< 4.2 pH"), (None, "≥ 2.5 pH")]
