"""The brewery's holidays in the browser: pasted as a list, and kept out of the review clock."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from compliance.models import Holiday

pytestmark = pytest.mark.django_db

ADDRESS = reverse("entry", args=["holidays"])


def test_a_pasted_list_is_kept_and_what_is_there_already_stays(browse, manager):
    browser = browse(manager)
    browser.send(ADDRESS, browser.fill(ADDRESS, days="2026-12-25 Christmas Day"))

    pasted = "25/12/2026\tChristmas\n\n1/5/2026; Labour Day\n2026-06-10"
    browser.send(ADDRESS, browser.fill(ADDRESS, days=pasted))

    assert [(each.day, each.name) for each in Holiday.objects.all()] == [
        (dt.date(2026, 5, 1), "Labour Day"),
        (dt.date(2026, 6, 10), "holiday"),
        (dt.date(2026, 12, 25), "Christmas Day"),
    ]
    listed = browser.open(reverse("holiday-list"))
    assert ["25 Dec 2026", "Friday", "Christmas Day"] in listed.rows


def test_a_line_that_begins_with_no_day_is_told_and_nothing_is_kept(browse, manager):
    browser = browse(manager)
    pasted = "2026-12-25 Christmas Day\nEaster Monday"

    page = browser.send(ADDRESS, browser.fill(ADDRESS, days=pasted))

    assert "'Easter Monday' begins with no day." in page.text
    assert page.fields["days"] == pasted
    assert not Holiday.objects.exists()


def test_a_holiday_that_is_none_is_voided_by_a_manager(browse, manager, operator):
    browser = browse(manager)
    browser.send(ADDRESS, browser.fill(ADDRESS, days="2026-12-25 Christmas Day"))
    address = reverse("record-void", args=["holiday", Holiday.objects.get().pk])

    assert browse(operator).open(address).status == 403
    browser.send(address, {"reason": "we work that day"})

    assert Holiday.objects.get().is_void
