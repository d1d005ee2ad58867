"""Lines of the start page about limits, holds, reviews, releases and calibrations."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from django.utils import timezone

from brewlog.models import User
from compliance.domain import recalls, releases
from tests import factories as make
from tests.compliance import rules
from tests.compliance.assessment import helpers
from tests.compliance.rules import PASSWORD
from tests.compliance.views.test_flow import FOUR_PARTS
from tests.views.today.settling import HOME, settle
from tests.views.today.test_lines import Doing

pytestmark = pytest.mark.django_db

WEEK = 7 * 24


def _sour_in_a_week(by: User) -> None:
    helpers.limit(
        by,
        "by_deadline",
        title="pH in a week",
        measurand="ph",
        operator="<=",
        value="4.2",
        unit="pH",
        within_hours=WEEK,
        since="pitched",
        cause="acidification",
    )


def _due(by: User) -> Doing:
    _sour_in_a_week(by)
    batch = make.batch(by, when=make.now(-6))
    return Doing(
        f"Take a reading: {batch.code}",
        "pH in a week: reading due, ≤ 4.2 pH",
        {"lot": batch.code, "measurand": "ph"},
        {"value": "3.60"},
    )


def _overdue(by: User) -> Doing:
    _sour_in_a_week(by)
    batch = make.batch(by, when=make.now(-8))
    return Doing(
        f"Take a reading: {batch.code}",
        "24 h overdue",
        {"lot": batch.code, "measurand": "ph"},
        {"value": "3.60"},
    )


def _read_too_late(by: User) -> Doing:
    _sour_in_a_week(by)
    batch = make.batch(by, when=make.now(-9))
    make.reading(by, batch, "3.60", make.now(-1))
    return Doing(
        f"Write down what happened: {batch.code}",
        "Not shown to be within a critical limit",
        {"lots": batch.code, "title": "pH in a week"},
        {"kind": "procedure"},
    )


def _outside(by: User) -> Doing:
    batch = make.batch(by, when=make.now(-5))
    make.reading(by, batch, "4.90", make.now(-1), instrument=helpers.meter(by))
    helpers.limit(by, "value", measurand="ph", operator="<=", value="4.2", unit="pH")
    button = f"Put a lot on hold: {batch.code}"
    return Doing(button, "Outside a critical limit", {"lot": batch.code}, {}, "reviewer")


def _close_to_an_action_limit(by: User) -> Doing:
    batch = make.batch(by, when=make.now(-5))
    make.reading(by, batch, "2.51", make.now(-1), instrument=helpers.meter(by))
    helpers.limit(
        by, "value", measurand="ph", operator=">=", value="2.5", unit="pH", consequence="action"
    )
    return Doing(
        f"Take a reading: {batch.code}", "Action limits", {"lot": batch.code}, {"value": "2.80"}
    )


def _past_an_action_limit(by: User) -> Doing:
    batch = make.batch(by, when=make.now(-5))
    make.reading(by, batch, "2.30", make.now(-1), instrument=helpers.meter(by))
    helpers.limit(
        by, "value", measurand="ph", operator=">=", value="2.5", unit="pH", consequence="action"
    )
    knows = {"lots": batch.code, "title": "The limit"}
    button = f"Write down what happened: {batch.code}"
    return Doing(button, "Action limits", knows, {"kind": "limit"})


def _held(by: User) -> Doing:
    lot = make.bottles(by, 60, when=make.now(-5), carbonation="still")
    hold = make.hold(by, lot, "other", make.now(-1), why="smelled of solvent")
    typed = {"kind": "release", "why": "esters, tasted by two", "password": PASSWORD}
    knows = {"hold": str(hold.pk), "lot": lot.code}
    return Doing(f"Decide: {lot.code}", "Other: smelled of solvent.", knows, typed, "reviewer")


def _shipped(by: User) -> Doing:
    lot = make.bottles(by, 60, when=make.now(-5), carbonation="still")
    make.shipment(by, lot, "24", when=make.now(-3))
    hold = make.hold(by, lot, "foreign", make.now(-1), why="glass in a bottle")
    typed = {
        "kind": "recall",
        "hazard": "glass",
        "why": "one found",
        "password": PASSWORD,
    }
    button = f"Decide what is done: {lot.code}"
    return Doing(button, "24 shipped", {"hold": str(hold.pk)}, typed, "reviewer")


def _review(by: User) -> Doing:
    batch = make.batch(by, when=make.now(-5))
    make.reading(by, batch, "3.40", make.now(-1))
    button = f"Review it: {batch.code}"
    said = "1 reading nobody has reviewed"
    return Doing(button, said, {"lot": batch.code}, {"password": PASSWORD}, "reviewer")


def _deviation(by: User) -> Doing:
    found = rules.deviation(by, make.batch(by, when=make.now(-5)))
    return Doing(
        "Correct it: lid left open",
        "Deviations to correct",
        {"deviation": str(found.pk)},
        {**FOUR_PARTS, "password": PASSWORD},
        "reviewer",
    )


def _recall(by: User) -> Doing:
    run = rules.ask_recall(by, make.bottles(by, 60, when=make.now(-5)), kind="recall")
    recalls.sign_recall(actor=by, run=run, learnt="nothing", password=PASSWORD)
    typed = {"why": "all answered", "bottles": "poured away", "password": PASSWORD}
    button = f"Close it: {run.lot.code}"
    return Doing(button, "Recalls that go on", {"run": str(run.pk)}, typed, "reviewer")


def _drill(by: User) -> Doing:
    run = rules.ask_recall(by, make.bottles(by, 60, when=make.now(-5)))
    typed = {"learnt": "one number was old", "password": PASSWORD}
    button = f"Sign who has it: {run.lot.code}"
    return Doing(button, "Drill: the clock runs", {"run": str(run.pk)}, typed, "reviewer")


def _release(by: User) -> Doing:
    rules.policy(by, release_needed_since=timezone.localdate() - dt.timedelta(days=30))
    lot = make.bottles(by, 60, when=make.now(-5), carbonation="still")
    button = f"Release it: {lot.code}"
    return Doing(button, "not released yet", {"lot": lot.code}, {"password": PASSWORD}, "reviewer")


def _send(by: User) -> Doing:
    lot = make.bottles(by, 60, when=make.now(-5), carbonation="still")
    releases.release(actor=by, lot=lot, password=PASSWORD)
    make.customer(by, "Corner Shop")
    typed = {"customer": "Corner Shop", "lines-0-quantity": "24"}
    return Doing(
        f"Send out or sell: {lot.code}", "nothing sent yet", {"lines-0-lot": lot.code}, typed
    )


def _calibration(by: User) -> Doing:
    meter = make.instrument(by, "Meter 1", calibrate_every_days=7)
    make.calibration(by, meter, when=make.now(-8), due_on=timezone.localdate())
    typed = {"outcome": "in", "due_on": f"{timezone.localdate() + dt.timedelta(days=7)}"}
    return Doing("Calibrate it: Meter 1", "due today", {"instrument": "Meter 1"}, typed)


@pytest.mark.parametrize(
    "begin",
    [
        _due,
        _overdue,
        _read_too_late,
        _outside,
        _close_to_an_action_limit,
        _past_an_action_limit,
        _held,
        _shipped,
        _review,
        _deviation,
        _recall,
        _drill,
        _release,
        _send,
        _calibration,
    ],
)
def test_a_line_stands_until_its_form_is_sent(
    browse, operator, reviewer, manager, begin: Callable[[User], Doing]
):
    doing = begin(manager)
    browser = browse({"operator": operator, "reviewer": reviewer}[doing.who])

    assert doing.says in browser.open(HOME).text
    opened = settle(browser, doing.button, **doing.typed)

    assert opened | doing.knows == opened
