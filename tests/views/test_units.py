"""Everyone's own units and order of dates, chosen on a page."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from brewlog.domain.lots import correct
from tests import factories

pytestmark = pytest.mark.django_db


def test_dates_are_in_ones_own_order_where_one_chose_it(browse, operator, manager):
    supplier = factories.supplier(manager)
    correct(actor=manager, record=supplier, reason="looked at", approved_on=dt.date(2026, 4, 3))
    address = reverse("supplier-detail", args=[supplier.pk])
    units = reverse("entry", args=["units"])
    browser = browse(operator)
    assert "3 Apr 2026" in browser.open(address).text

    browser.send(units, browser.fill(units, date_order="month"))

    assert "Apr 3, 2026" in browser.open(address).text
    assert "3 Apr 2026" in browse(manager).open(address).text
