"""What is kept of the findings for the lists is what would be found at that moment.

The world is small, and so is the number of lots looked at in one go: a change that was not
traced to the lots it bears on would show.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from types import SimpleNamespace

import pytest
import time_machine
from django.utils import timezone

from brewlog.domain.batches import record_step
from brewlog.domain.checkpoints import check_condition
from brewlog.domain.instruments import calibrate
from brewlog.domain.lots import correct, void
from brewlog.recording import reading, recording
from brewlog.verify import recorded_models
from brewlog.when import on_day
from compliance.assessment import assess, open_lots
from compliance.assessment.kept import unpacked
from compliance.assessment.touched import NO_MATTER, links_to_lots
from compliance.domain.keeping import catch_up, kept_up_to
from compliance.domain.rulesets import release_binding, waive
from compliance.domain.watch import look_through
from compliance.models import Binding, KeptFinding, Limit, LookAgain, RuleSet
from compliance.views.standing import open_findings
from tests import factories
from tests.compliance import rules
from tests.compliance.rules import PASSWORD
from tests.factories import at

pytestmark = pytest.mark.django_db

RULE_SETS = ("kombucha-guidance", "house-template", "us-federal-alcohol")
MOST = 9


def told(findings) -> list:
    return [
        (each.key, each.verdict, each.text, each.since, each.evidence, each.uncertainty_source)
        for each in findings
    ]


def fresh() -> list:
    return told(assess(list(open_lots())).findings)


def listed() -> list:
    return told(open_findings().rows)


def kept() -> list:
    rows = KeptFinding.objects.filter(of_open_lot=True).select_related("lot", "limit__ruleset")
    return told(unpacked(row) for row in rows)


@pytest.fixture
def world(brewery, manager, monkeypatch):
    """A culture, two batches, bottles of one that stand in a cooler, and other bottles."""
    monkeypatch.setattr("compliance.domain.keeping.MOST_AT_ONCE", MOST)
    for key in RULE_SETS:
        rules.bound(manager, key)
    meter = factories.instrument(manager)
    factories.calibration(manager, meter, when=at(1))
    cooler = factories.location(manager, is_cold=True)
    culture = factories.culture(manager, "40 L")
    version = factories.recipe_version(manager)
    batch = factories.batch(manager, starter=culture, recipe=version)
    other = factories.batch(manager, starter=culture)
    sweet = factories.reading(manager, batch, "3.40", at(4), instrument=meter)
    factories.reading(manager, batch, "5.0", at(9), measurand="brix")
    bottles = factories.bottles(manager, 60, batch=batch, drawn="20 L", when=at(12))
    factories.move(manager, bottles, "60", cooler, at(12, 12))
    for _ in range(MOST):
        factories.bottles(manager, when=at(13))
    look_through()
    return SimpleNamespace(
        manager=manager,
        meter=meter,
        cooler=cooler,
        culture=culture,
        batch=batch,
        other=other,
        sweet=sweet,
        bottles=bottles,
    )


def _reading_outside(world):
    factories.reading(world.manager, world.bottles, "4.60", at(14), stage="finished")


def _reading_struck_out(world):
    void(actor=world.manager, record=world.sweet, reason="another vessel")


def _mould(world):
    check_condition(
        actor=world.manager, lot=world.culture, when=at(14), mould="mould", verdict="suspect"
    )


def _steeped_too_cool(world):
    brew = factories.brew(world.manager, when=at(14))
    record_step(actor=world.manager, lot=brew, kind="steep", when=at(14), temperature=Decimal(60))


def _bottled(world):
    factories.bottles(world.manager, 60, batch=world.other, drawn="20 L", when=at(14))


def _brix_of_the_batch(world):
    factories.reading(world.manager, world.batch, "9.0", at(13), measurand="brix")


def _all_shipped(world):
    factories.shipment(world.manager, world.bottles, "60")


def _shipped_too_much(world):
    factories.shipment(world.manager, world.bottles, "140", already_done=True)


def _warm_cooler(world):
    factories.reading(
        world.manager, None, "9 °C", at(15), measurand="temperature", location=world.cooler
    )


def _meter_of_less_accuracy(world):
    correct(actor=world.manager, record=world.meter, reason="read again", accuracy=Decimal("0.9"))


def _bottles_that_hold_more(world):
    correct(
        actor=world.manager,
        record=world.bottles.format,
        reason="the maker's sheet",
        rating="rated",
        rated_bar=Decimal(9),
    )


def _no_cooler_after_all(world):
    _warm_cooler(world)
    look_through()
    correct(actor=world.manager, record=world.cooler, reason="switched off", is_cold=False)


def _meter_found_out(world):
    calibrate(actor=world.manager, instrument=world.meter, outcome="out", when=at(16))


def _lab_result(world):
    factories.lab_result(world.manager, world.batch, "0.31", at(14))


def _lab_result_struck_out(world):
    result = factories.lab_result(world.manager, world.batch, "0.31", at(14))
    look_through()
    void(actor=world.manager, record=result, reason="of another brewery")


def _lab_result_of_another_day(world):
    result = factories.lab_result(world.manager, world.batch, "0.31", at(14))
    look_through()
    correct(actor=world.manager, record=result, reason="misread", when=on_day(dt.date(2024, 1, 1)))


NARROW: list[Callable] = [
    _lab_result,
    _lab_result_struck_out,
    _lab_result_of_another_day,
    _reading_outside,
    _reading_struck_out,
    _mould,
    _steeped_too_cool,
    _bottled,
    _brix_of_the_batch,
    _all_shipped,
    _shipped_too_much,
    _warm_cooler,
    _meter_found_out,
    _meter_of_less_accuracy,
    _bottles_that_hold_more,
    _no_cooler_after_all,
]


@pytest.mark.parametrize("verb", NARROW, ids=lambda verb: verb.__name__.strip("_"))
def test_a_verb_changes_the_list_at_once_and_what_is_kept_with_the_next_look(world, verb):
    before = fresh()
    assert kept() == before

    verb(world)

    now = fresh()
    assert kept() != now
    assert not open_findings().is_old
    assert listed() == now
    with recording(world.manager):
        catch_up()
    assert kept() == now
    assert not kept_up_to().is_behind


def _switched_off(world):
    release_binding(
        actor=world.manager,
        binding=Binding.objects.get(ruleset__key="house-template"),
        reason="we never chose it",
        until=dt.date(2026, 1, 2),
    )


def _waived(world):
    waive(
        actor=world.manager,
        limit=Limit.objects.get(key="pressure"),
        reason="our bottles hold it",
        password=PASSWORD,
        since=dt.date(2026, 1, 2),
    )


@pytest.mark.parametrize(
    "verb", [_switched_off, _waived], ids=lambda verb: verb.__name__.strip("_")
)
def test_what_may_bear_on_any_lot_is_left_to_the_watch_and_the_list_says_so(world, verb):
    as_of = kept_up_to().at

    verb(world)

    assert kept() != fresh()
    assert open_findings().is_old
    with recording(world.manager):
        catch_up()
    assert open_findings().is_old
    assert open_findings().at == as_of
    look_through()
    assert not open_findings().is_old
    assert kept() == listed() == fresh()


def test_a_rule_set_read_in_that_binds_nobody_changes_nothing(world):
    with recording(world.manager):
        RuleSet(
            key="elsewhere",
            edition="1",
            title="Elsewhere",
            status="law",
            effective_from=dt.date(2026, 1, 1),
            source="invented",
        ).save()

    assert not open_findings().is_old


def test_a_deadline_that_passes_is_in_the_list_before_anyone_writes(world):
    batch = factories.batch(world.manager, when=factories.now(-2))
    look_through()
    due = LookAgain.objects.get(lot=batch).due
    before = listed()

    with time_machine.travel(due + dt.timedelta(minutes=1)):
        assert listed() == fresh() != before
        look_through()
        assert kept() == fresh()


def test_a_page_of_the_list_holds_the_same_rows_wherever_they_come_from(world):
    for verb in (_reading_outside, _bottled, _mould):
        verb(world)

    whole = fresh()

    rows = open_findings().rows
    assert rows.fresh
    assert len(rows) == len(whole)
    in_pages = [told(rows[first : first + 3]) for first in range(0, len(whole), 3)]
    assert [each for page in in_pages for each in page] == whole


def test_before_the_first_look_the_newest_lots_are_worked_out(world):
    KeptFinding.objects.all().delete()
    kept_up_to().delete()

    found = open_findings()

    assert found.is_part
    newest = list(open_lots().order_by("-id")[:MOST])
    assert told(found.rows) == told(assess(newest).findings)


def test_nothing_is_written_by_reading_the_list(world):
    _reading_outside(world)
    with reading():
        assert listed() == fresh()


def test_a_small_brewery_needs_no_watch(brewery, manager, guidance_bound):
    bottles = factories.bottles(manager)
    with recording(manager):
        catch_up()
    factories.lab_result(manager, bottles, "0.9", at(22))

    assert not open_findings().is_old
    assert listed() == fresh()
    with recording(manager):
        catch_up()
    assert kept() == fresh()


@pytest.fixture
def guidance_bound(manager):
    return rules.bound(manager, "us-federal-alcohol")


def test_what_no_lot_is_judged_by_points_at_none():
    assert set(recorded_models()) > NO_MATTER
    assert not [model for model in NO_MATTER if links_to_lots(model)]


def test_once_a_day_every_lot_is_looked_at(world):
    KeptFinding.objects.all().delete()
    assert listed() == []

    look_through()
    assert kept() == []
    with time_machine.travel(timezone.now() + dt.timedelta(hours=25)):
        look_through()
        assert kept() == fresh() != []
