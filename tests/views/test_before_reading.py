"""What stands above the reading's form, and what is said once it is sent."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from brewlog.domain import lots
from brewlog.models import Checkpoint
from tests import factories as make
from tests.factories import now

pytestmark = pytest.mark.django_db

READING = reverse("entry", args=["reading"])


@pytest.fixture
def batch(manager):
    return make.batch(manager, when=now(-5))


def take(browser, lot, value, **typed):
    return browser.send(READING, browser.fill(f"{READING}?lot={lot.code}", value=value, **typed))


def test_the_number_is_the_next_thing_typed(browse, operator, batch):
    browser = browse(operator)

    assert "autofocus" in browser.client.get(READING, {"lot": batch.code}).content.decode()
    assert "autofocus" not in browser.client.get(READING).content.decode()


def test_the_instrument_used_last_here_is_filled_in(browse, operator, manager, batch):
    bench = make.instrument(manager, "Bench meter")
    make.instrument(manager, "Pocket meter")
    browser = browse(operator)
    assert browser.fill(READING)["instrument"] == ""

    take(browser, batch, "3.41", instrument="Bench meter")

    assert browser.fill(READING)["instrument"] == "Bench meter"
    assert browser.fill(f"{READING}?measurand=temperature")["instrument"] == ""
    # On another device, as this person used it last; a colleague's device knows nothing yet.
    assert browse(operator).fill(READING)["instrument"] == "Bench meter"
    assert browse(manager).fill(READING)["instrument"] == ""
    assert Checkpoint.objects.get().instrument == bench


def test_an_instrument_out_of_use_is_not_filled_in(browse, operator, manager, batch):
    bench = make.instrument(manager, "Bench meter")
    browser = browse(operator)
    take(browser, batch, "3.41", instrument="Bench meter")

    lots.correct(actor=manager, record=bench, reason="dropped", in_use=False)

    assert browser.fill(READING)["instrument"] == ""


@pytest.mark.parametrize(
    ("days_ago", "fields", "words"),
    [
        (3, {"slope_percent": 97}, ", slope 97 %"),
        (1, {}, "calibrated yesterday"),
        (9, {"due_in": 7}, "the reading is recorded and will need a look"),
        (9, {"outcome": "failed"}, "take another instrument"),
    ],
)
def test_how_the_instrument_stands_is_said_before_typing(
    browse, operator, manager, batch, days_ago, fields, words
):
    bench = make.instrument(manager, "Bench meter")
    when = now(-days_ago)
    if "due_in" in fields:
        fields = {"due_on": when.at.date() + dt.timedelta(days=fields["due_in"])}
    make.calibration(manager, bench, fields.pop("outcome", "in"), when, **fields)

    page = browse(operator).open(READING, lot=batch.code, instrument="Bench meter")

    assert f"{words}" in page.text.split("Bench meter:")[1][:120]


def test_the_panel_alone_follows_what_is_chosen(browse, operator, manager, batch):
    make.instrument(manager, "Bench meter", calibrate_every_days=7)

    page = browse(operator).open(
        reverse("before-reading"), lot=batch.code, measurand="ph", instrument="Bench meter"
    )

    assert f"{batch.code}, batch" in page.text
    assert "Bench meter: never calibrated" in page.text
    assert "<html" not in page.response.content.decode()


def test_a_likely_slip_is_asked_about_and_the_entry_is_kept(browse, operator, batch):
    page = take(browse(operator), batch, "31")

    assert "Did you mean 3.1?" in page.text
    assert page.fields["value"] == "31"
    assert not Checkpoint.objects.exists()


def test_an_unusual_value_is_recorded_and_measured_again(browse, operator, batch):
    page = take(browse(operator), batch, "8.31")

    assert "pH 8.31: measure again" in page.text
    assert page.links["Measure again"] == f"{READING}?measurand=ph&lot={batch.code}"
    (reading,) = Checkpoint.objects.all()
    assert page.links["It was mistyped: void it"] == reverse(
        "record-void", args=["checkpoint", reading.pk]
    )


def test_a_value_no_limit_binds_is_said_to_be_recorded(browse, operator, batch):
    assert "pH 3.41: recorded" in take(browse(operator), batch, "3.41").text


def test_only_a_reading_of_that_very_lot_is_told_on_its_page(browse, operator, manager, batch):
    other = make.reading(manager, make.batch(manager), "3.10")
    browser = browse(operator)

    for key in (other.pk, "x", "²", ""):
        page = browser.open(reverse("lot-detail", args=[batch.code]), reading=key)
        assert "verdict" not in page.ids


def test_the_start_page_leads_to_each_vessels_reading_for_who_may_record(
    browse, operator, inspector, batch
):
    assert browse(operator).open(reverse("home")).links["Read pH"] == f"{READING}?lot={batch.code}"
    assert "Read pH" not in browse(inspector).open(reverse("home")).links
