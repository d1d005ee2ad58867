"""A logger's file in the browser, and the temperature page of a place."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from brewlog.domain.checkpoints import record_reading
from brewlog.models import Checkpoint, Location
from brewlog.when import When
from tests import factories
from tests.compliance.assessment import helpers

pytestmark = pytest.mark.django_db

UPLOAD = "/logger/"
HEAD = "Time,Temp °C\n"


@pytest.fixture
def cooler(manager) -> Location:
    """A cold place under a limit of at most 5 °C."""
    helpers.limit(
        manager,
        "place_temperature",
        lot_kind="bottling",
        measurand="temperature",
        operator="<=",
        value="5",
        unit="°C",
        consequence="action",
    )
    return factories.location(manager, "Cooler A", is_cold=True)


def an_hour_ago(minutes: int = 0) -> dt.datetime:
    """On the brewery's clock, an hour back from now and so many minutes on."""
    start = timezone.now().replace(second=0, microsecond=0) - dt.timedelta(hours=1)
    return timezone.localtime(start + dt.timedelta(minutes=minutes))


def rows(*degrees: str) -> str:
    return "".join(
        f"{an_hour_ago(5 * place).isoformat(timespec='minutes')},{each}\n"
        for place, each in enumerate(degrees)
    )


def send(browser, text: str, name: str = "cooler.csv", **typed):
    file = SimpleUploadedFile(name, text.encode(), "text/csv")
    form = browser.fill(UPLOAD, location="Cooler A", **typed)
    return browser.send(UPLOAD, form | {"file": file})


def preview_of(page) -> str:
    return page.response.redirect_chain[-1][0]


def test_a_file_is_looked_at_before_anything_is_recorded(browse, operator, cooler):
    page = send(browse(operator), HEAD + rows("4", "6", "9", "4", "4"))

    assert "Nothing is recorded yet" in page.text
    assert [words for words in ["Time; Temp °C, °C"] if words in page.text] == ["Time; Temp °C, °C"]
    (row,) = [row for row in page.rows if "9 °C" in row]
    assert row[2] == "10"
    assert not Checkpoint.objects.exists()


def test_it_is_recorded_when_sent_on_and_the_page_says_what_was_left_out(browse, operator, cooler):
    browser = browse(operator)
    address = preview_of(send(browser, HEAD + rows("4", "6", "9", "4", "4", "4"), every_minutes=60))

    page = browser.send(address, {})

    number = Checkpoint.objects.filter(location=cooler).count()
    assert f"{number} readings of Cooler A recorded from cooler.csv" in page.text
    assert f"{6 - number} left out by one every 60 minutes" in page.text
    assert Checkpoint.objects.filter(value_text="9 °C").exists()


def test_the_same_file_again_has_nothing_new(browse, operator, cooler):
    browser = browse(operator)
    text = HEAD + rows("4", "6", "9", "4", "4", "4")
    browser.send(preview_of(send(browser, text)), {})
    before = Checkpoint.objects.count()

    page = send(browser, text)

    assert "There is nothing new in it." in page.text
    browser.send(preview_of(page), {})
    assert Checkpoint.objects.count() == before


def test_a_limit_of_ones_own_is_looked_for(browse, operator, cooler):
    page = send(browse(operator), HEAD + rows("4", "6", "9", "4"), limit="8 °C")

    assert "the limit is ≤ 8 °C" in page.text
    assert [row[2] for row in page.rows if "9 °C" in row] == ["5"]


def test_a_file_that_cannot_be_read_comes_back_with_the_reason(browse, operator, cooler):
    browser = browse(operator)

    page = send(browser, "Time,Temp\n" + rows("4"))
    assert "whether its temperatures are in °C or in °F" in page.text
    assert "To mend" in page.response.content.decode()
    assert "no text file" in send(browser, "x", name="cooler.xlsx").text
    assert "No column of times" in send(browser, "nothing\n").text


def test_rows_left_out_are_listed(browse, operator, cooler):
    page = send(browse(operator), HEAD + rows("4", "OL", "4"))

    assert ["3", "OL", "no temperature"] in page.rows


def test_a_file_is_its_senders_own(browse, operator, reviewer, cooler):
    address = preview_of(send(browse(operator), HEAD + rows("4")))

    page = browse(reviewer).send(address, {})

    assert "not kept any more" in page.text
    assert not Checkpoint.objects.exists()


def test_an_inspector_sends_no_file_and_reads_the_page(browse, operator, inspector, cooler):
    browser = browse(inspector)

    assert browser.open(UPLOAD).status == 403
    page = browser.open(reverse("location-temperature", args=[cooler.pk]))
    assert page.status == 200
    assert "Read a logger's file" not in page.links


def read(actor, place, value: str, minutes: int) -> None:
    when = When(an_hour_ago(minutes).astimezone(dt.UTC))
    record_reading(actor=actor, location=place, measurand="temperature", value=value, when=when)


def test_the_page_tells_what_stood_there_while_it_was_warm(browse, manager, cooler):
    lot = factories.bottles(manager, 50, when=factories.at(1))
    factories.move(manager, lot, "30", cooler, factories.at(2))
    gone = factories.bottles(manager, 50, when=factories.at(1))
    factories.move(manager, gone, "50", cooler, factories.at(2))
    factories.shipment(manager, gone, "50", when=factories.at(3), ship_from=cooler)
    for value, minutes in (("4", 0), ("7.5 °C", 10), ("4", 30)):
        read(manager, cooler, value, minutes)

    page = browse(manager).open(reverse("location-temperature", args=[cooler.pk]))

    (row,) = [row for row in page.rows if "7.5 °C" in row]
    assert row[2] == "20"
    assert row[5] == f"1 lot{lot.code} 30"
    assert gone.code not in page.text


def test_a_place_that_is_not_kept_cold_has_no_limit(browse, manager, cooler):
    warm = factories.location(manager, "Warm room", kind="warm_room")
    read(manager, warm, "28", 0)

    page = browse(manager).open(reverse("location-temperature", args=[warm.pk]))

    assert "none binds here" in page.text


def test_the_page_of_a_place_leads_to_its_temperature(browse, operator, cooler):
    page = browse(operator).open(reverse("location-detail", args=[cooler.pk]))

    assert page.links["Temperature and excursions"] == reverse(
        "location-temperature", args=[cooler.pk]
    )


def test_the_list_tells_which_cold_places_are_not_looked_at(browse, manager, cooler):
    read(manager, factories.location(manager, "Cooler B", is_cold=True), "4", 0)
    factories.location(manager, "Dry store", kind="store")

    shown = browse(manager).open("/room-temperatures/").rows[1:]

    assert [(row[0], row[2]) for row in shown] == [
        ("Cooler A", "never read"),
        ("Cooler B", "read today"),
    ]


def test_pages_take_the_same_queries_however_much_there_is(browse, manager, cooler):
    browser = browse(manager)
    counts = []
    for place in range(2):
        for number in range(1 + 3 * place):
            lot = factories.bottles(manager, 20, when=factories.at(1))
            factories.move(manager, lot, "20", cooler, factories.at(2))
            read(manager, cooler, "9", 10 * number + place)
            read(manager, cooler, "4", 10 * number + place + 2)
        for address in ("/room-temperatures/", f"/locations/{cooler.pk}/temperature/"):
            with CaptureQueriesContext(connection) as queries:
                browser.open(address)
            counts.append(len(queries))

    assert counts[:2] == counts[2:]
    assert counts[:2] == [9, 19]
