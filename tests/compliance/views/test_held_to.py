"""Beside an entry's form: the limits it will be held against, and the reason behind each."""

from __future__ import annotations

import pytest
from django.urls import reverse

from brewlog.models import LotKind
from compliance.models import Limit, LimitKind
from tests import factories as make
from tests.compliance import rules
from tests.factories import now

pytestmark = pytest.mark.django_db


@pytest.fixture
def bound(manager):
    """The published guidance, the house's limits and a law about alcohol."""
    for key in ("kombucha-guidance", "house-template", "us-federal-alcohol"):
        rules.bound(manager, key)


# Every entry in which something is written that a limit judges, and a kind of limit that does.
JUDGED = {
    "brew": LimitKind.STEP_TEMPERATURE,
    "step": LimitKind.STEP_TEMPERATURE,
    "pitch": LimitKind.STARTER_SHARE,
    "feed": LimitKind.GENERATION,
    "pool": LimitKind.CULTURE_AGE,
    "keep-back": LimitKind.CONDITION,
    "split-backup": LimitKind.GENERATION,
    "condition": LimitKind.CONDITION,
    "lab-result": LimitKind.PEAK,
    "alcohol-estimate": LimitKind.PEAK,
    "transfer": LimitKind.BALANCE,
    "adjust": LimitKind.BALANCE,
    "count": LimitKind.BALANCE,
    "bottle": LimitKind.PRESSURE,
    "bottle-one": LimitKind.PRESSURE,
    "format": LimitKind.PRESSURE,
    "flavour": LimitKind.LABEL,
    "print-labels": LimitKind.LABEL,
    "labels-elsewhere": LimitKind.LABEL,
    "location": LimitKind.PLACE_TEMPERATURE,
    "move": LimitKind.PLACE_TEMPERATURE,
    "calibrate": LimitKind.CALIBRATION,
    "calibration-point": LimitKind.CALIBRATION,
}


def test_every_judged_entry_shows_its_limit_and_the_reason_behind_it(browse, manager, bound):
    browser, missing = browse(manager), {}
    for slug, kind in JUDGED.items():
        page = browser.open(rules.address(slug))
        shown = [
            each
            for each in Limit.objects.filter(kind=kind)
            if each.title in page.text and each.because in page.text and each.citation in page.text
        ]
        if not shown:
            missing[slug] = kind
    assert missing == {}


def test_nothing_stands_there_where_no_rules_bind(browse, manager):
    assert "Held against" not in browse(manager).open(rules.address("pitch")).text


def test_an_entry_that_nothing_judges_shows_no_limits(browse, manager, bound):
    assert "Held against" not in browse(manager).open(rules.address("supplier")).text


def test_a_reading_tells_why_of_what_is_measured(browse, operator, manager, bound):
    batch = make.batch(manager, when=now(-2))
    browser = browse(operator)
    ph = browser.open(rules.address("reading"), lot=batch.code)
    heat = browser.open(rules.address("reading"), lot=batch.code, measurand="temperature")

    rises = Limit.objects.get(key="ph-rises")
    assert rises.because in ph.text
    assert rises.because not in heat.text


def test_a_reading_of_a_cold_place_shows_its_limit(browse, operator, manager, bound):
    cooler = make.location(manager, "Cooler")
    page = browse(operator).open(
        rules.address("reading"), location=cooler.name, measurand="temperature"
    )

    assert "Cold storage: ≤ 5 °C" in page.text


def test_only_the_limits_of_the_lot_at_hand_are_shown(browse, operator, manager, bound):
    batch = make.batch(manager, when=now(-2))
    page = browse(operator).open(rules.address("condition"), lot=batch.code)

    mine = Limit.objects.get(kind=LimitKind.CONDITION, lot_kind=LotKind.BATCH)
    other = Limit.objects.get(kind=LimitKind.CONDITION, lot_kind=LotKind.CULTURE)
    assert mine.title in page.text
    assert other.title not in page.text


def test_a_round_tells_once_why_of_all_its_limits(browse, operator, manager, bound):
    for name in ("Jar 1", "Jar 2"):
        make.batch(manager, when=now(-2), vessel=make.vessel(manager, name))
    page = browse(operator).open(reverse("round"))

    rises = Limit.objects.get(key="ph-rises")
    assert page.text.count(rises.because) == 1
