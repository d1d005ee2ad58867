"""The list of what needs a look, and one finding opened."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from brewlog.domain.people import set_units
from brewlog.models import Hold
from compliance.assessment import assess_lot
from compliance.domain.watch import look_through, watch
from tests import factories
from tests.compliance.assessment import helpers
from tests.factories import at


def bottled(operator, value: str = "4.60", day: int = 12):
    """Bottles of a drink of that pH, when finished."""
    lot = factories.bottles(operator, count=100, when=at(day))
    factories.reading(operator, lot, value, when=at(day + 2), stage="finished")
    return lot


@pytest.mark.django_db
class TestTheList:
    def test_says_so_where_no_rule_set_binds(self, browse, operator):
        bottled(operator)

        page = browse(operator).open("/findings/")

        assert "No rule set is switched on" in page.text

    def test_shows_the_floor_its_words_and_the_limit_beside_the_value(
        self, browse, operator, guidance
    ):
        lot = bottled(operator)

        page = browse(operator).open("/findings/")

        assert "Stop: outside a critical limit" in page.text
        (row,) = [row for row in page.rows if lot.code in row]
        assert row[:2] == [lot.code, "outside"]
        assert row[2] == "4.6 pH"

    def test_puts_the_lots_found_against_one_limit_under_it(self, browse, operator, guidance):
        first, second = bottled(operator), bottled(operator, "4.70")

        page = browse(operator).open("/findings/")

        assert page.text.count("pH of the finished drink ≤ 4.2 pH · ") == 1
        assert [row[0] for row in page.rows if row[1:2] == ["outside"]] == [first.code, second.code]

    def test_says_too_close_where_it_is(self, browse, operator, guidance):
        lot = bottled(operator, "4.19")

        (row,) = [row for row in browse(operator).open("/findings/").rows if lot.code in row]

        assert row[1] == "too close, measure again"

    def test_is_narrowed_by_culture_line_rule_set_and_urgency(self, browse, operator, guidance):
        line = factories.culture_line(operator, "Estuary")
        starter = factories.culture(operator, line=line)
        batch = factories.batch(operator, starter=starter, when=at(3))
        factories.reading(operator, batch, "3.40", when=at(8))
        of_it = factories.bottles(operator, batch=batch, drawn="34 L", when=at(12))
        factories.reading(operator, of_it, "4.60", when=at(14), stage="finished")
        other = bottled(operator)
        browser = browse(operator)

        page = browser.open("/findings/", line=line.pk)
        assert of_it.code in page.links
        assert other.code not in page.links
        assert other.code in browser.open("/findings/", rules=guidance.pk).links
        assert other.code not in browser.open("/findings/", urgency=3).links

    def test_takes_the_same_queries_for_one_lot_and_for_three(self, browse, operator, guidance):
        browser = browse(operator)
        counts = []
        for more in (1, 2):
            for _ in range(more):
                bottled(operator)
            with CaptureQueriesContext(connection) as queries:
                assert browser.open("/findings/").status == 200
            counts.append(len(queries))

        assert counts == [QUERIES, QUERIES]

    def test_takes_few_queries_once_the_watch_has_run(self, browse, operator, guidance):
        browser = browse(operator)
        counts = []
        for more in (1, 2):
            for _ in range(more):
                bottled(operator)
            look_through()
            with CaptureQueriesContext(connection) as queries:
                page = browser.open("/findings/")
            counts.append(len(queries))

        assert len([row for row in page.rows if row[1:2] == ["outside"]]) == 3
        assert counts == [KEPT_QUERIES, KEPT_QUERIES]

    def test_says_as_of_when_it_is_where_too_much_was_written_since(
        self, browse, operator, guidance, monkeypatch
    ):
        first = bottled(operator)
        bottled(operator, "3.40")
        look_through()
        monkeypatch.setattr("compliance.domain.keeping.MOST_AT_ONCE", 1)
        second = bottled(operator)
        bottled(operator)

        page = browse(operator).open("/findings/")

        assert "More was written since than is looked at again here" in page.text
        assert first.code in page.links
        assert second.code not in page.links

    def test_downloads_what_is_shown(self, browse, operator, guidance):
        lot = bottled(operator)

        answer = browse(operator).client.get("/findings/download.csv")

        text = answer.content.decode("utf-8-sig")
        assert text.startswith("What,Lot,Standing,What was found,Limit,Since,Rule set")
        assert f"pH of the finished drink,{lot.code},outside" in text


QUERIES = 42
# Of what is kept, whatever there is.
KEPT_QUERIES = 15


@pytest.mark.django_db
class TestOneFinding:
    def address(self, lot, guidance, key="ph-finished"):
        return reverse("finding-detail", args=[lot.pk, guidance.limits.get(key=key).pk])

    def test_opens_to_the_rule_the_figures_and_the_readings(self, browse, operator, guidance):
        lot = bottled(operator)
        reading = lot.readings.get()

        page = browse(operator).open(self.address(lot, guidance))

        for words in (
            "outside",
            "A second reading inside the limit by more than the meter's uncertainty.",
            "Value 4.6 pH",
            "Margin 0.4 pH outside",
            "Probability that it conforms",
            "Nummer 2013; Niagara Region read in the source",
            "Not legal advice",
        ):
            assert words in page.text
        assert reverse("record-detail", args=["checkpoint", reading.pk]) in page.links.values()

    def test_leads_to_the_check_that_would_clear_it_and_back(self, browse, operator, guidance):
        lot = bottled(operator)
        address = self.address(lot, guidance)
        browser = browse(operator)
        reading = browser.open(address).links["Take a reading"]

        form = browser.open(reading).fields

        assert (form["lot"], form["measurand"], form["stage"]) == (lot.code, "ph", "finished")
        assert form["then"] == address

    def test_of_a_missing_laboratory_result_leads_to_its_form(self, browse, operator, manager):
        lot = bottled(operator)
        quarter = {"measurand": "alcohol", "lot_kind": "bottling", "operator": "<="}
        limit = helpers.limit(manager, "lab_age", value="92", unit="days", **quarter)

        page = browse(operator).open(reverse("finding-detail", args=[lot.pk, limit.pk]))

        assert page.links["Write the result"].startswith(reverse("entry", args=["lab-result"]))
        assert "Take a reading" not in page.links

    def test_says_so_where_nothing_is_found(self, browse, operator, guidance):
        lot = bottled(operator, "3.40")

        page = browse(operator).open(self.address(lot, guidance))

        assert "Nothing is found there now" in page.text

    def test_writes_no_hold(self, browse, operator, guidance):
        lot = bottled(operator)

        browse(operator).open(self.address(lot, guidance))
        browse(operator).open("/findings/")
        browse(operator).open("/")

        assert not Hold.objects.exists()


@pytest.mark.django_db
class TestTheLotsOwnPage:
    def test_shows_its_findings_how_it_stands_and_what_is_awaited(self, browse, operator, guidance):
        lot = bottled(operator)

        page = browse(operator).open(reverse("lot-detail", args=[lot.code]))

        assert "draft, not released outside" in page.text
        assert "4.6 pH; the limit is ≤ 4.2 pH" in page.text
        assert "1 reading waits for a review, due" in page.text
        assert reverse("lot-release", args=[lot.code]) in page.links.values()

    def test_says_until_when_a_reading_is_awaited(self, browse, operator, guidance):
        batch = factories.batch(operator, when=factories.now(-2))

        page = browse(operator).open(reverse("lot-detail", args=[batch.code]))

        assert "Still to come: pH 4.2 within 7 days: reading due by" in page.text

    def test_takes_the_same_queries_however_many_readings_there_are(
        self, browse, operator, guidance
    ):
        batch = factories.batch(operator, when=at(3))
        browser = browse(operator)
        counts = []
        # A course needs several to be drawn.
        for more in (8, 9):
            for minute in range(more):
                factories.reading(operator, batch, "3.40", at(8, more, minute))
            with CaptureQueriesContext(connection) as queries:
                browser.open(reverse("lot-detail", args=[batch.code]))
            counts.append(len(queries))

        assert counts == [LOT_QUERIES, LOT_QUERIES]


LOT_QUERIES = 68


@pytest.mark.django_db
def test_the_start_page_leads_to_the_finding(browse, reviewer, guidance):
    lot = bottled(reviewer)

    page = browse(reviewer).open("/")

    assert f"{lot.code} pH of the finished drink" in page.text
    finding = reverse("finding-detail", args=[lot.pk, assess_lot(lot).findings[0].limit.pk])
    assert f'href="{finding}"' in page.response.content.decode()
    assert "1 reading nobody has reviewed." in page.text


@pytest.mark.django_db
def test_temperatures_are_said_in_each_readers_unit(browse, operator, manager):
    helpers.limit(
        manager, "value", measurand="temperature", operator="<=", value="5", unit="°C",
        title="Kept cold", consequence="critical", cause="other",
    )  # fmt: skip
    lot = factories.bottles(operator, when=at(12))
    factories.reading(operator, lot, "9 °C", when=at(14), measurand="temperature")
    browser = browse(operator)
    limit = assess_lot(lot).findings[0].limit
    pages = ("/findings/", reverse("finding-detail", args=[lot.pk, limit.pk]))

    metric = [browser.open(page).text for page in pages]
    units = reverse("entry", args=["units"])
    browser.send(units, browser.fill(units, units="us"))
    customary = [browser.open(page).text for page in pages]

    for figure in (
        "Value 48.2 °F (9 °C)",
        "Limit ≤ 41 °F (5 °C)",
        "Margin 7.2 °F (4 °C) outside",
        "± 0.9 °F (0.5 °C)",
    ):
        assert figure in customary[1]
    assert "Value 9 °C" in metric[1]
    assert all("9.0 °C" in page for page in metric)
    assert all("48.2 °F" in page and "41.0 °F" in page for page in customary)
    assert not any("9.0 °C" in page for page in customary)


@pytest.mark.django_db
def test_dates_in_sentences_are_in_the_order_of_who_reads_and_are_stored_in_none(
    browse, operator, reviewer, guidance
):
    batch = factories.batch(operator, when=at(3))
    factories.reading(operator, batch, "4.60", when=at(5))
    (hold,) = watch([batch])
    finding, deviation = assess_lot(batch).findings[0], hold.deviations.get()
    pages = (
        reverse("finding-detail", args=[batch.pk, finding.limit.pk]),
        reverse("hold-list"),
        reverse("hold-detail", args=[hold.pk]),
        reverse("record-detail", args=["deviation", deviation.pk]),
        reverse("record-history", args=["hold", hold.pk]),
    )
    set_units(actor=reviewer, units="us", date_order="month")

    day_first = [browse(operator).open(page).text for page in pages]
    month_first = [browse(reviewer).open(page).text for page in pages]

    assert "4.6 pH on 2026-03-05 09:00" in hold.reason
    assert "4.6 pH on 2026-03-05 09:00" in deviation.title
    assert all("4.6 pH on 5 Mar 2026 09:00" in page for page in day_first)
    assert all("4.6 pH on Mar 5, 2026 09:00" in page for page in month_first)


@pytest.mark.django_db
def test_worked_out_amounts_are_said_in_each_readers_unit(browse, operator, guidance):
    batch = factories.batch(operator, "40 L", starter_amount="1 L", when=at(3))
    limit = guidance.limits.get(kind="starter_share")
    browser = browse(operator)
    page = reverse("finding-detail", args=[batch.pk, limit.pk])

    metric = browser.open(page).text
    set_units(actor=operator, units="us")

    assert "(1 L of 40 L)" in metric
    assert "(33.81 fl oz of 10.57 gal)" in browser.open(page).text
