"""Many lots at once: what bound them, what would change, in what order, with how many queries."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from django.conf import settings
from django.utils import timezone

from brewlog.domain.batches import record_step
from brewlog.domain.lots import void
from brewlog.models import Lot
from compliance.assessment import Urgency, assess, open_lots, what_would_change
from compliance.assessment.assess import JUDGES
from compliance.domain import rulesets
from compliance.models import Binding, LimitKind, RuleSet
from tests import factories
from tests.compliance.assessment import helpers

pytestmark = pytest.mark.django_db

at = factories.at
SHIPPED = settings.BASE_DIR / "fixtures" / "rulesets"
PH = {"key": "ph", "kind": "value", "measurand": "ph", "operator": "<=", "value": "4.2"}


def found(lots, **options) -> list[tuple[str, str, str]]:
    """Lot code, limit key and verdict of each finding."""
    return [
        (each.lot.code, each.limit.key, each.verdict.value)
        for each in assess(list(lots), **options).findings
    ]


def test_every_kind_of_limit_is_judged():
    assert set(JUDGES) == set(LimitKind.values)


class TestWhatWasInForce:
    """A lot is judged by what bound the brewery on the day it began."""

    @pytest.fixture
    def lots(self, manager, brewery):
        """Bottled on 5, 10 and 15 March, each at pH 4.4."""
        made = [factories.bottles(manager, when=at(day)) for day in (5, 10, 15)]
        for lot in made:
            factories.reading(manager, lot, "4.4", when=at(20))
        return made

    def test_from_the_day_it_was_bound(self, manager, lots):
        helpers.bound(manager, PH, since=dt.date(2026, 3, 10))

        assert [code for code, _, _ in found(lots)] == [lots[1].code, lots[2].code]

    def test_until_the_day_it_was_ended(self, manager, lots):
        ruleset = helpers.bound(manager, PH)
        rulesets.release_binding(
            actor=manager, binding=Binding.objects.get(ruleset=ruleset),
            until=dt.date(2026, 3, 10), reason="sold in another state now",
        )  # fmt: skip

        assert [code for code, _, _ in found(lots)] == [lots[0].code]

    def test_not_before_nor_after_the_edition_itself(self, manager, lots):
        helpers.bound(manager, PH, effective_from="2026-03-06", effective_until="2026-03-15")

        assert [code for code, _, _ in found(lots)] == [lots[1].code]

    def test_a_newer_edition_judges_only_what_came_after_it(self, manager, lots):
        helpers.bound(
            manager, {**PH, "value": "4.2"}, key="law", edition="1", effective_until="2026-03-10"
        )
        helpers.bound(
            manager, {**PH, "value": "4.6"}, key="law", edition="2", effective_from="2026-03-10"
        )

        assert found(lots) == [(lots[0].code, "ph", "does not conform")]

    def test_a_limit_declared_not_applicable_is_left_out_from_that_day(self, manager, lots):
        ruleset = helpers.bound(manager, PH)
        rulesets.waive(
            actor=manager, limit=ruleset.limits.get(), reason="heat treated; the county agreed",
            password="living culture 7", since=dt.date(2026, 3, 10),
        )  # fmt: skip

        assert [code for code, _, _ in found(lots)] == [lots[0].code]

    def test_the_day_is_the_one_of_the_brewery(self, manager):
        factories.brewery(manager, "Pacific/Auckland")
        with timezone.override(ZoneInfo("Pacific/Auckland")):
            lot = factories.bottles(manager, when=at(9, 20))  # the 10th there
            factories.reading(manager, lot, "4.4", when=at(20))
            helpers.bound(manager, PH, since=dt.date(2026, 3, 10))

            assert len(found([lot])) == 1

    def test_of_many_days_is_the_same_as_day_by_day(self, manager, lots):
        helpers.bound(manager, PH, since=dt.date(2026, 3, 8))
        ended = helpers.bound(manager, PH, {**PH, "key": "other"}, effective_until="2026-03-20")
        rulesets.release_binding(
            actor=manager, binding=Binding.objects.get(ruleset=ended),
            until=dt.date(2026, 3, 12), reason="moved away",
        )  # fmt: skip
        rulesets.waive(
            actor=manager, limit=ended.limits.get(key="other"), reason="agreed",
            password="living culture 7", since=dt.date(2026, 3, 6),
        )  # fmt: skip
        days = [dt.date(2026, 3, day) for day in range(1, 25)]

        rules = rulesets.rules()

        counts = [len(rules.on(day)) for day in days]
        assert counts == [2] * 5 + [1] * 2 + [2] * 4 + [1] * 13
        for day in days:
            bound = set(Binding.objects.on(day).values_list("ruleset", flat=True))
            assert {limit.ruleset_id for limit in rules.on(day)} == bound, day

    def test_limits_that_are_named_hold_whenever_the_lot_began(self, manager, lots):
        ruleset = helpers.written(manager, PH)

        assert found(lots) == []
        assert len(found(lots, limits=list(ruleset.limits.all()))) == 3


class TestWhatWouldChange:
    @pytest.fixture
    def lots(self, manager, brewery):
        """At pH 4.0, 4.4 and 4.8, bottled under the first edition, which asks for 4.6."""
        helpers.bound(manager, {**PH, "value": "4.6"}, key="law", edition="1")
        made = [factories.bottles(manager) for _ in range(3)]
        for lot, said in zip(made, ("4.0", "4.4", "4.8"), strict=True):
            factories.reading(manager, lot, said, when=at(21))
        return made

    def changes(self, actor, lots, key: str, *limits):
        ruleset = helpers.written(actor, *limits, key=key, edition="2")
        change = what_would_change(ruleset, lots)
        told = [
            [(each.lot, each.limit.key, each.verdict.value) for each in some]
            for some in (change.gained, change.lost)
        ]
        return tuple(told)

    def test_under_a_tighter_edition(self, manager, lots):
        gained, lost = self.changes(manager, lots, "law", {**PH, "value": "4.2"})

        assert gained == [(lots[1], "ph", "does not conform")]
        assert lost == []

    def test_under_a_looser_edition(self, manager, lots):
        gained, lost = self.changes(manager, lots, "law", {**PH, "value": "5"})

        assert (gained, lost) == ([], [(lots[2], "ph", "does not conform")])

    def test_a_verdict_that_turns_milder_is_lost_and_gained(self, manager, lots):
        gained, lost = self.changes(manager, lots, "law", {**PH, "value": "4.75"})

        assert gained == [(lots[2], "ph", "needs review")]
        assert lost == [(lots[2], "ph", "does not conform")]

    def test_under_rules_that_never_bound_all_is_gained(self, manager, lots):
        gained, lost = self.changes(manager, lots, "elsewhere", {**PH, "value": "4.2"})

        assert [lot for lot, _, _ in gained] == [lots[1], lots[2]]
        assert lost == []


def test_the_most_urgent_comes_first_and_of_those_the_oldest(manager, brewery):
    helpers.bound(
        manager,
        {**PH, "key": "note", "value": "3", "consequence": "note"},
        {**PH, "key": "label", "value": "3", "consequence": "label"},
        {**PH, "key": "action", "value": "3", "consequence": "action"},
        {**PH, "key": "critical"},
    )
    close, new, old = (factories.bottles(manager) for _ in range(3))
    for lot, said, day in ((close, "4.19", 21), (new, "4.6", 23), (old, "4.6", 22)):
        factories.reading(manager, lot, said, when=at(day))

    everything = assess([close, new, old])

    order = [(each.urgency, each.lot) for each in everything.findings]
    assert order[:3] == [(Urgency.STOP, old), (Urgency.STOP, new), (Urgency.CLOSE, close)]
    assert [each for each, _ in order[3:]] == [Urgency.ACT] * 3 + [Urgency.LABEL] * 3 + [
        Urgency.NOTE
    ] * 3
    assert {each.limit.key for each in everything.of(close)} == {
        "critical", "action", "label", "note",
    }  # fmt: skip


def test_a_voided_lot_is_left_out(manager, brewery):
    helpers.bound(manager, {**PH, "kind": "presence", "operator": "", "value": None,
                            "within_hours": "1"})  # fmt: skip
    lot = factories.bottles(manager)
    assert len(found([lot])) == 1

    assert found([void(actor=manager, record=lot, reason="entered twice")]) == []


def test_open_lots_are_those_there_is_something_of(manager, brewery):
    factories.ingredient_lot(manager)
    culture = factories.culture(manager, "6 L")
    batch = factories.batch(manager, starter=culture)

    assert [lot.code for lot in open_lots()] == [batch.code]


# Queries -----------------------------------------------------------------------------------


def _a_batch_and_its_bottles(actor, meter, cooler, day: int) -> list[Lot]:
    """A culture, a batch and its bottles with something of everything limits look at."""
    culture = factories.culture(actor, when=at(1))
    batch = factories.batch(
        actor, starter=culture, when=at(day), recipe=factories.recipe_version(actor)
    )
    factories.reading(actor, batch, "4.0", when=at(day + 1), instrument=meter)
    record_step(actor=actor, lot=batch, kind="cool", when=at(day), instrument=meter)
    bottles = factories.bottles(actor, batch=batch, drawn="34 L", when=at(day + 9))
    factories.move(actor, bottles, "100", cooler, when=at(day + 10))
    factories.lab_result(actor, bottles, when=at(day + 11))
    return [culture.lot, batch.lot, bottles.lot]


@pytest.fixture
def plant(manager, brewery):
    """The shipped rules bound, and as many batches with their bottles as are asked for."""
    rulesets.read_rulesets(actor=manager, folder=SHIPPED)
    for key in ("us-federal-alcohol", "kombucha-guidance", "house-template"):
        rulesets.bind(
            actor=manager, ruleset=RuleSet.objects.get(key=key), since=helpers.BEFORE_ALL_LOTS
        )
    meter = helpers.meter(manager)
    factories.calibration(manager, meter)
    cooler = factories.location(manager, is_cold=True)

    def make(times: int) -> list[Lot]:
        return [
            lot
            for number in range(times)
            for lot in _a_batch_and_its_bottles(manager, meter, cooler, 3 + number)
        ]

    return make


# Three kinds of lot each time, on days of their own: 3, 9 and 30 lots.
@pytest.mark.parametrize("times", [1, 3, 10])
def test_any_number_of_lots_takes_the_same_queries(plant, times, django_assert_num_queries):
    lots = plant(times)

    with django_assert_num_queries(40):
        assess(lots)


@pytest.mark.parametrize(("which", "queries"), [(0, 18), (1, 20), (2, 35)])
def test_one_lot_takes_fewer(plant, which, queries, django_assert_num_queries):
    """A culture, a batch, a bottling lot."""
    lot = plant(2)[which]

    with django_assert_num_queries(queries):
        assess([lot])
