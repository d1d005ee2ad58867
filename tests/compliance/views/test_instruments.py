"""Calibrations due and overdue, and looking back from one that found an instrument out."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from brewlog.domain import lots
from brewlog.when import on_day
from compliance.models import Deviation
from tests import factories
from tests.factories import at

pytestmark = pytest.mark.django_db

DUE = "/calibrations-due/"


def meter(actor, name: str, due_in: int | None, outcome: str = "in"):
    """A meter whose last calibration, ten days ago, set its next in so many days."""
    found = factories.instrument(actor, name, calibrate_every_days=30)
    if due_in is not None:
        today = timezone.localdate()
        factories.calibration(
            actor,
            found,
            outcome,
            on_day(today - dt.timedelta(days=10)),
            due_on=today + dt.timedelta(days=due_in),
        )
    return found


def test_the_most_pressing_stands_first_in_words(browse, operator):
    for name, due_in in (("Later", 20), ("Soon", 14), ("Today", 0), ("Late", -1), ("Never", None)):
        meter(operator, name, due_in)
    meter(operator, "Broken", 15, "failed")
    factories.instrument(operator, "Ruler")

    shown = browse(operator).open(DUE).rows[1:]

    assert [(row[0], row[2]) for row in shown] == [
        ("Never", "never calibrated"),
        ("Late", "1 day overdue"),
        ("Today", "due today"),
        ("Soon", "in 14 days"),
        ("Broken", "out of tolerance"),
        ("Later", "in 20 days"),
    ]


def test_overdue_and_soon_are_narrowed_to(browse, operator):
    for name, due_in in (("Later", 20), ("Soon", 14), ("Today", 0), ("Late", -1), ("Never", None)):
        meter(operator, name, due_in)
    browser = browse(operator)

    def names(standing: str) -> list[str]:
        return [row[0] for row in browser.open(DUE, standing=standing).rows[1:]]

    assert names("overdue") == ["Never", "Late"]
    assert names("soon") == ["Today", "Soon"]


def test_an_instrument_no_longer_used_is_not_due(browse, operator):
    old = meter(operator, "Old", -5)
    lots.correct(actor=operator, record=old, reason="broken", in_use=False)

    assert "Old" not in browse(operator).open(DUE).text


@pytest.fixture
def found_out(manager):
    """A meter good on day 1 and out on day 20, with a reading in between and one before."""
    found = factories.instrument(manager, "Meter 2")
    lot, earlier = factories.batch(manager), factories.batch(manager)
    factories.calibration(manager, found, "in", at(4))
    factories.reading(manager, earlier, "3.9", at(3, hour=18), instrument=found)
    factories.reading(manager, lot, "3.3", at(10), instrument=found)
    calibration = factories.calibration(
        manager, found, "out", at(20), buffers="4.01 lot 7 until 2026-06"
    )
    return calibration, lot, earlier


def test_a_calibration_that_found_it_out_leads_to_what_it_puts_in_doubt(browse, manager, found_out):
    calibration, lot, earlier = found_out
    browser = browse(manager)

    page = browser.open(reverse("record-detail", args=["calibration", calibration.pk]))
    assert "4.01 lot 7 until 2026-06" in page.text
    page = browser.open(page.links["What it puts in doubt"])

    assert lot.code in page.links
    assert earlier.code not in page.text
    assert "1 in all" in page.text
    assert any("3.3" in row for row in page.rows)


def test_from_there_it_is_opened_as_a_deviation_once(browse, operator, found_out):
    calibration, lot, _ = found_out
    browser = browse(operator)
    address = reverse("look-back", args=[calibration.pk])

    form_page = browser.open(address).links["Open the look-back as a deviation"]
    browser.send(form_page, browser.fill(form_page))

    deviation = Deviation.objects.get()
    assert [link.lot_id for link in deviation.lots.all()] == [lot.pk]
    page = browser.open(address)
    assert page.links["The deviation opened for it"] == reverse(
        "deviation-detail", args=[deviation.pk]
    )
    assert "Open the look-back as a deviation" not in page.links


def test_an_inspector_reads_it_and_opens_nothing(browse, inspector, found_out):
    page = browse(inspector).open(reverse("look-back", args=[found_out[0].pk]))

    assert page.status == 200
    assert "Open the look-back as a deviation" not in page.links


def test_a_good_calibration_puts_nothing_in_doubt(browse, manager):
    good = factories.calibration(manager, factories.instrument(manager), "in", at(4))
    browser = browse(manager)

    page = browser.open(reverse("record-detail", args=["calibration", good.pk]))
    assert "What it puts in doubt" not in page.links
    assert browser.open(reverse("look-back", args=[good.pk])).status == 404


def test_pages_take_the_same_queries_however_many_readings(browse, manager, found_out):
    calibration, lot, _ = found_out
    meter(manager, "First", 3)
    browser = browse(manager)
    counts = []
    for more in (0, 3):
        for number in range(more):
            other = factories.batch(manager)
            factories.reading(
                manager, other, "3.4", at(11 + number), instrument=calibration.instrument
            )
            meter(manager, f"More {number}", 3)
        for address in (DUE, reverse("look-back", args=[calibration.pk])):
            with CaptureQueriesContext(connection) as queries:
                browser.open(address)
            counts.append(len(queries))

    assert counts[:2] == counts[2:]
    assert counts[:2] == [9, 12]
