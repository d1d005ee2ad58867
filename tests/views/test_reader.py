"""Amounts, temperatures and times in the words of the person who reads."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from brewlog.units import METRIC, US
from brewlog.views.reader import Amount, Celsius, OnHand, Reader
from brewlog.when import Precision, When

NOON = dt.datetime(2026, 3, 4, 12, 30, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def _utc():
    with timezone.override(dt.UTC):
        yield


@pytest.mark.parametrize(
    ("value", "metric", "us"),
    [
        (None, "—", "—"),
        ("", "—", "—"),
        (0, "0", "0"),
        (True, "yes", "yes"),
        (False, "no", "no"),
        ("as typed", "as typed", "as typed"),
        (Decimal("3.4100"), "3.41", "3.41"),
        (Decimal("100"), "100", "100"),
        (-4, "−4", "−4"),
        # 1 US gallon = 3.785411784 L exactly, 1 lb = 0.45359237 kg exactly (NIST Handbook 44).
        (Amount(3_785_412, "volume"), "3.785 L", "1 gal"),
        (Amount(-453_592, "mass"), "−453.6 g", "−16 oz"),
        (Amount(None, "mass"), "—", "—"),
        (Amount(240, "count"), "240", "240"),
        (OnHand(3_785_412, "volume"), "3.785 L", "1 gal"),
        (OnHand(-12, "count"), "0, 12 unexplained", "0, 12 unexplained"),
        (OnHand(-3_785_412, "volume"), "0 L, 3.785 L unexplained", "0 gal, 1 gal unexplained"),
        (Celsius(Decimal("21.25")), "21.2 °C", "70.2 °F"),
        (Celsius(Decimal("-18")), "−18.0 °C", "−0.4 °F"),
        (Celsius(None), "—", "—"),
        (dt.date(2026, 3, 4), "4 Mar 2026", "Mar 4, 2026"),
        (NOON, "4 Mar 2026 12:30", "Mar 4, 2026 12:30"),
        (When(NOON), "4 Mar 2026 12:30", "Mar 4, 2026 12:30"),
        (When(NOON, Precision.DAY), "4 Mar 2026", "Mar 4, 2026"),
    ],
)
def test_a_value_is_shown_as_its_reader_reads(value, metric, us):
    assert Reader(METRIC, day_first=True).show(value) == metric
    assert Reader(US, day_first=False).show(value) == us


@pytest.mark.parametrize(
    ("words", "metric", "us"),
    [
        ("due on 2026-03-04", "due on 4 Mar 2026", "due on Mar 4, 2026"),
        ("pH 3.6 (2026-03-04 09:37).", "pH 3.6 (4 Mar 2026 09:37).", "pH 3.6 (Mar 4, 2026 09:37)."),
        ("21 °C since 2026-03-04", "21 °C since 4 Mar 2026", "69.8 °F since Mar 4, 2026"),
        # What only looks like a day: no such day, a part of a code, of a file's name, of a moment.
        ("2026-13-04", "2026-13-04", "2026-13-04"),
        ("lot A-2026-03-04-B", "lot A-2026-03-04-B", "lot A-2026-03-04-B"),
        ("2026-03-04.csv", "2026-03-04.csv", "2026-03-04.csv"),
        ("2026-03-04T09:37", "2026-03-04T09:37", "2026-03-04T09:37"),
    ],
)
def test_a_sentence_has_its_days_and_temperatures_as_its_reader_reads(words, metric, us):
    assert Reader(METRIC, day_first=True).words(words) == metric
    assert Reader(US, day_first=False).words(words) == us


def test_a_moment_is_on_the_clock_of_the_brewery():
    with timezone.override("Europe/Lisbon"):
        summer = dt.datetime(2026, 7, 1, 23, 30, tzinfo=dt.UTC)

        assert Reader().moment(summer) == "2 Jul 2026 00:30"
