"""Choosing, tightening and setting aside what the brewery is held to."""

from __future__ import annotations

import datetime as dt
import json
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from brewlog.recording import Refused, recording
from compliance.domain import rulesets
from compliance.models import Binding, Limit, RuleSet, Waiver

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
        limit = rulesets.add_house_limit(actor=manager, **limit_data(value="4.0", key="house-ph"))

        assert limit.ruleset.status == RuleSet.Status.HOUSE
        assert {each.key for each in rulesets.in_force(dt.date.today())} == {
            "ph-finished",
            "house-ph",
        }

    @pytest.mark.parametrize(("sign", "value"), [("<=", "4.3")])
    def test_may_not_be_looser_than_the_law(self, manager, law, sign, value):
        with pytest.raises(Refused, match="stricter"):
            rulesets.add_house_limit(
                actor=manager,
                **limit_data(operator=sign, value=value, key="house-ph"),
            )

        assert Limit.objects.count() == 1


class TestTheUnitOfALimit:
    STEEP = {
        "kind": "step_temperature", "step": "steep", "lot_kind": "brew", "stage": "",
        "measurand": "", "operator": ">=",
    }  # fmt: skip

    def add(self, actor, **fields) -> Limit:
        return rulesets.add_house_limit(actor=actor, **limit_data(key="own", **fields))

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
