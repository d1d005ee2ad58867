"""Spreadsheets to hand over: what they say is what the record says."""

from __future__ import annotations

import datetime as dt
import io
import json

import openpyxl
import pytest

from brewlog.domain import lots, stock
from brewlog.models import IngredientLot, LotUse
from compliance.domain import logs
from compliance.exchange.alcohol import collect_alcohol
from compliance.exchange.organic import collect_organic
from compliance.exchange.reports import report_workbook
from compliance.exchange.scopes import FORWARD, Period, Scope
from compliance.exchange.traceability import collect_traceability
from tests import factories
from tests.compliance import rules
from tests.compliance.documents import story as told
from tests.compliance.documents.story import PRINTED_AT, base
from tests.factories import at

MARCH = Period(dt.date(2026, 3, 1), dt.date(2026, 3, 31))
YEARS_LATER = Period(dt.date(2030, 1, 1), None)


@pytest.fixture
def story(brewery, manager):
    return told.tell(manager)


def rows(report, name: str) -> list[dict]:
    (sheet,) = [sheet for sheet in report.sheets if sheet.name == name]
    return [dict(zip(sheet.heads, row, strict=True)) for row in sheet.rows]


def traceability(scope: Scope | None = None, *, listed_only: bool = False):
    return collect_traceability(
        scope or Scope(), listed_only=listed_only, printed_by="a command", printed_at=PRINTED_AT
    )


def organic(ingredient=None, period: Period = MARCH):
    return collect_organic(ingredient, period, printed_by="a command", printed_at=PRINTED_AT)


def alcohol(period: Period = MARCH, *, daily: bool = False):
    return collect_alcohol(period, daily=daily, printed_by="a command", printed_at=PRINTED_AT)


class TestTraceability:
    def test_a_delivery_has_the_eight_elements(self, story):
        (tea,) = [r for r in rows(traceability(), "Receiving") if r["our lot code"] == "R26058A"]
        assert tea | {"received at": "", "lacking": ""} == {
            "traceability lot code": "SUP-R26058A",
            "our lot code": "R26058A",
            "listed food": "no",
            "product": "Assam BOP",
            "quantity": 10,
            "unit": "kg",
            "previous source": "Łąka Herbata & Zioła, Nowhere Lane 5, 555-0142",
            "received at": "",
            "date received": "2026-03-01",
            "source of the code": "Łąka Herbata & Zioła, Nowhere Lane 5, 555-0142",
            "document type": "invoice",
            "document number": "INV-R26058A",
            "transporter": "",
            "lacking": "",
        }
        assert tea["received at"] == "Saltmarsh Ferments"
        assert tea["lacking"] == "our address or telephone"

    def test_each_use_is_a_row_and_no_other(self, story):
        found = rows(traceability(), "Transformation")
        assert len(found) == LotUse.objects.live().count()
        (starter,) = [r for r in found if r["input traceability lot code"] == "S26060A"]
        assert starter["new traceability lot code"] == "B26061A"
        assert (starter["quantity used"], starter["unit used"]) == (6, "L")
        assert (starter["quantity made"], starter["unit made"]) == (60, "L")

    def test_a_shipment_line_names_recipient_document_and_day(self, story):
        (line,) = rows(traceability(), "Shipping")
        assert line["recipient"] == "Café Ñandú, Quay 3, Saltmarsh, 555-0117"
        assert (line["document type"], line["document number"]) == ("delivery note", "DN-118")
        assert (line["quantity"], line["date shipped"]) == (96, "2026-03-16")

    def test_listed_foods_bring_what_holds_them_and_nothing_else(self, story):
        lots.correct(
            actor=story.actor, record=story.ginger.ingredient, reason="fresh, whole",
            on_traceability_list=True,
        )  # fmt: skip
        report = traceability(listed_only=True)
        assert [r["our lot code"] for r in rows(report, "Receiving")] == ["R26067A"]
        assert [r["input product"] for r in rows(report, "Transformation")] == ["Ginger, fresh"]
        assert len(rows(report, "Shipping")) == 1

    def test_scope_and_period_narrow_it(self, story):
        forward = traceability(Scope(base(story.batch), FORWARD))
        assert rows(forward, "Receiving") == []
        assert len(rows(forward, "Shipping")) == 1
        later = traceability(Scope(period=YEARS_LATER))
        assert [sheet.rows for sheet in later.sheets] == [[], [], []]
        assert [sheet.none for sheet in later.sheets] == [
            "Nothing was received.", "Nothing was made.", "Nothing was shipped.",
        ]  # fmt: skip


class TestOrganic:
    @pytest.fixture
    def tea(self, story) -> IngredientLot:
        """Ten kilograms of organic tea, of which a brew and a taster took some."""
        ingredient = factories.ingredient(story.actor, "Sencha")
        lot = factories.ingredient_lot(
            story.actor, "10 kg", ingredient, at(2), organic="organic", certificate_number="BIO-7",
            certificate_from=dt.date(2026, 1, 1), certificate_until=dt.date(2026, 12, 31),
        )  # fmt: skip
        brew = factories.brew(story.actor, "40 L", at(5))
        factories.use(story.actor, lot, brew, "2 kg", at(5), "ingredient")
        batch = factories.batch(story.actor, "30 L", at(6))
        factories.use(story.actor, brew, batch, "20 L", at(6), "brew")
        bottles = factories.bottles(story.actor, 40, batch, "14 L", at(20), code="L-ORG")
        factories.shipment(story.actor, bottles, "12", when=at(22))
        adjusted = {"lot": base(lot), "actor": story.actor}
        stock.adjust(**adjusted, quantity=factories.quantity("500 g"), why="tasting", when=at(8))
        return lot

    def test_the_balance_adds_up(self, tea):
        assert rows(organic(), "Balance") == [
            {
                "ingredient": "Sencha", "unit": "kg", "opening": 0, "received": 10, "used": 2,
                "sold as it is": 0, "lost or given": 0.5, "count corrections": 0, "closing": 7.5,
            }
        ]  # fmt: skip

    def test_what_was_before_the_period_is_its_opening(self, tea):
        (row,) = rows(organic(period=Period(dt.date(2026, 3, 7), None)), "Balance")
        assert (row["opening"], row["received"], row["used"]) == (8, 0, 0)
        assert (row["lost or given"], row["closing"]) == (0.5, 7.5)

    def test_the_way_of_it_into_bottles_and_back(self, tea):
        (forward,) = rows(organic(), "Where it went")
        assert (forward["bottling lot"], forward["pieces made"], forward["pieces shipped"]) == (
            "L-ORG", 40, 12,
        )  # fmt: skip
        back = [row for row in rows(organic(), "Made from") if row["ingredient"] == "Sencha"]
        assert [(row["bottling lot"], row["in it"]) for row in back] == [
            ("L-ORG", forward["in it"])
        ]
        # 2 kg in 40 L of brew, half of it in the batch, of which 14 of 30 L were drawn.
        assert forward["in it"] == pytest.approx(2 * 20 / 40 * 14 / 30, rel=1e-5)

    @pytest.mark.parametrize(
        ("first", "last", "said"),
        [
            (dt.date(2026, 1, 1), dt.date(2026, 3, 2), "yes"),
            (dt.date(2026, 1, 1), dt.date(2026, 3, 1), "NO"),
            (dt.date(2026, 3, 3), dt.date(2027, 3, 1), "NO"),
            (None, None, "not known"),
        ],
    )
    def test_a_certificate_is_held_to_the_day_of_receipt(self, story, first, last, said):
        factories.ingredient_lot(
            story.actor, when=at(2), organic="organic", certificate_from=first,
            certificate_until=last,
        )  # fmt: skip
        (row,) = rows(organic(), "Deliveries")
        assert row["valid at receipt"] == said

    def test_a_clean_down_stands_between_the_runs_or_is_missing(self, story):
        tank = factories.vessel(story.actor, "Tank 9")
        for organic_status, day, code in (("conventional", 4, "B-CON"), ("organic", 12, "B-ORG")):
            lot = factories.ingredient_lot(story.actor, when=at(2), organic=organic_status)
            batch = factories.batch(
                story.actor, "30 L", at(day), vessel=tank, code=code, already_done=True
            )
            factories.use(story.actor, lot, batch, "100 g", at(day), "ingredient")
        (row,) = rows(organic(), "Clean-downs")
        assert (row["where"], row["run that was not organic"]) == ("Tank 9", "B-CON")
        assert row["cleaned"] == "no cleaning recorded between them"
        logs.write_log(
            actor=story.actor, log="cleaning", subject="Tank 9", vessel=tank, when=at(11),
            what="rinsed, caustic, rinsed", agent="caustic soda 2 %",
        )  # fmt: skip
        (row,) = rows(organic(), "Clean-downs")
        assert (row["cleaned"], row["how"]) == (
            "2026-03-11 09:00", "rinsed, caustic, rinsed, caustic soda 2 %",
        )  # fmt: skip

    def test_nothing_organic_says_so(self, story):
        assert all(sheet.rows == [] and sheet.none for sheet in organic().sheets)


class TestAlcohol:
    def test_the_register_keeps_the_peak_of_each_lot(self, story):
        factories.lab_result(story.actor, base(story.batch), "0.61", at(8))
        factories.lab_result(story.actor, base(story.batch), "0.30", at(11))
        found = {row["lot"]: row for row in rows(alcohol(), "Register")}
        assert found["B26061A"]["highest, % vol"] == 0.61
        assert (found["B26061A"]["values"], found["B26061A"]["laboratory results"]) == (2, 2)
        assert found["L26071A"]["uncertainty (k = 1)"] == 0.02
        assert found["L26071A"]["against the limit"] == "no limit"

    def test_the_daily_record_is_for_those_over_the_line_or_who_ask(self, story):
        rules.bound(story.actor, "us-federal-alcohol")
        names = [sheet.name for sheet in alcohol().sheets]
        assert names == ["Register"]
        assert "left out unless it is asked for" in alcohol().notes[2]
        assert [s.name for s in alcohol(daily=True).sheets] == ["Register", "Daily record"]
        factories.lab_result(story.actor, base(story.batch), "0.61", at(8))
        report = alcohol()
        assert [sheet.name for sheet in report.sheets] == ["Register", "Daily record"]
        over = [
            row["lot"] for row in rows(report, "Register") if row["against the limit"] == "OVER"
        ]
        assert over == ["B26061A"]

    def test_the_daily_record_holds_every_movement_once_by_heading(self, story):
        found = rows(alcohol(daily=True), "Daily record")
        by = {(row["day"], row["heading"], row["what"]): row for row in found}
        assert by["2026-03-12", "bottled", "Ginger, 330 mL swing-top"]["quantity"] == 150
        assert by["2026-03-16", "removed for sale", "Ginger, 330 mL swing-top"]["quantity"] == 96
        assert by["2026-03-15", "losses: breakage", "Ginger, 330 mL swing-top"]["quantity"] == 2
        used = [row for row in found if row["heading"] == "materials used"]
        assert {row["lots"] for row in used} >= {"R26058A", "R26058B", "S26060A", "R26067A"}
        # Written today, months later.
        assert by["2026-03-12", "bottled", "Ginger, 330 mL swing-top"]["due by"] == "2026-03-13"
        assert {row["in time"] for row in found} == {"LATE"}

    def test_nothing_measured_says_so(self, story):
        (sheet,) = alcohol(YEARS_LATER).sheets
        assert (sheet.rows, sheet.none) == (
            [],
            "No alcohol was measured or estimated in the period.",
        )


def test_workbook_and_json_hold_the_same_rows_and_are_the_same_every_time(story):
    report = traceability()
    content = report_workbook(report, PRINTED_AT)
    assert content == report_workbook(traceability(), PRINTED_AT)
    book = openpyxl.load_workbook(io.BytesIO(content))
    assert book.sheetnames == ["About", "Receiving", "Transformation", "Shipping"]
    said = json.loads(report.to_json())
    for sheet in said["sheets"]:
        heads, *lines = book[sheet["name"]].iter_rows(values_only=True)
        assert [list(row.values()) for row in sheet["rows"]] == [
            ["" if value is None and row_value == "" else value
             for value, row_value in zip(line, row.values(), strict=True)]
            for line, row in zip(lines, sheet["rows"], strict=True)
        ]  # fmt: skip
        assert book[sheet["name"]].auto_filter.ref
    assert len(heads) == 13
