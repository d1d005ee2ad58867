"""Buffer bottles in the browser: chosen or written down with the calibration."""

from __future__ import annotations

import pytest
from django.urls import reverse

from brewlog.models import BufferBottle, Calibration, CalibrationPoint
from tests import factories as make

pytestmark = pytest.mark.django_db

ADDRESS = reverse("entry", args=["calibrate"])


def point(bottle: str) -> dict[str, str]:
    return {"points-0-reference": "4.01", "points-0-found": "4.03", "points-0-bottle": bottle}


def calibrate(browser, meter, bottle: str):
    form = browser.fill(ADDRESS, instrument=meter.name, outcome="in", when="2026-03-10T09:00")
    return browser.send(ADDRESS, form | point(bottle) | {"reason": "from the notebook"})


def test_what_is_on_the_shelf_and_in_date_is_offered(browse, operator):
    make.buffer_bottle(operator, name="new one", until="2099-12-31")
    make.buffer_bottle(operator, name="old one", until="2026-01-31")

    offered = browse(operator).open(ADDRESS).response.text

    assert '<option value="new one">' in offered
    assert "old one" not in offered


@pytest.mark.parametrize("units", ["", "month"])
def test_a_new_bottle_is_written_where_it_is_used(browse, operator, units):
    operator.date_order = units
    operator.save()
    browser = browse(operator)
    meter = make.instrument(operator)

    calibrate(browser, meter, "4.01, lot BF-9, until 5/4/2026")
    calibrate(browser, make.instrument(operator), "pH 4.01 lot bf-9 until 2026-04-05")

    bottle = BufferBottle.objects.get()
    assert str(bottle.expires_on) == ("2026-05-04" if units else "2026-04-05")
    assert set(CalibrationPoint.objects.values_list("bottle", flat=True)) == {bottle.pk}


def test_an_unknown_one_is_asked_for_and_nothing_is_lost(browse, operator):
    page = calibrate(browse(operator), make.instrument(operator), "4.01")

    assert "A new one is written like: 4.01 lot BF-3321 until 2026-12-31." in page.text
    assert page.fields["points-0-bottle"] == "4.01"
    assert not Calibration.objects.exists()


def test_a_bottle_past_its_date_stands_with_the_calibration(browse, operator):
    make.buffer_bottle(operator, name="old one", until="2026-01-31")
    browser = browse(operator)
    calibrate(browser, make.instrument(operator, "Meter 1"), "old one")

    record = browser.open(
        reverse("record-detail", args=["calibration", Calibration.objects.get().pk])
    )
    listed = browser.open(reverse("calibration-list"))

    assert ["4.01", "4.03", "—", "old one", "31 Jan 2026", "past its date"] in record.rows
    assert "old one, good until 2026-01-31" in listed.text


def test_a_bottle_is_shown_and_mended_by_its_ph(browse, operator):
    bottle = make.buffer_bottle(operator, "4.01")
    browser = browse(operator)
    address = reverse("record-correct", args=["bufferbottle", bottle.pk])

    page = browser.open(reverse("buffer-bottle-detail", args=[bottle.pk]))
    browser.send(address, browser.fill(address, nominal_ph="4.00", reason="misread"))

    assert "Nominal pH (25 °C) 4.01" in page.text
    assert str(BufferBottle.objects.get().nominal_ph) == "4.00"
