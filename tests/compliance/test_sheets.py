"""Sheets of holidays, label stock and counted labels, read as every other sheet is."""

from __future__ import annotations

import pytest

from brewlog.importing.reading import read_files
from brewlog.importing.running import import_source
from brewlog.models import ReviewFlag
from compliance.domain.holidays import holidays
from compliance.domain.labels import tally
from compliance.models import LabelCount, LabelSheet
from tests import factories as make
from tests.importing import small

pytestmark = pytest.mark.django_db


def read(actor, content: small.Sheets):
    return import_source(read_files("compliance", small.files(content)), actor=actor)


def test_holidays_and_label_stock_are_read_once(manager, brewery):
    content = {
        "Holidays": [{"Day": "2026-12-25", "Name": "Christmas Day"}],
        "Label stock": [
            {"Name": "Roll 60 by 40", "Paper": "roll", "Label width, mm": "60",
             "Label height, mm": "40"}
        ],
    }  # fmt: skip
    assert read(manager, content).problems == []
    again = read(manager, content)

    assert (again.new, again.unchanged) == (0, 2)
    assert [f"{day}" for day in holidays()] == ["2026-12-25"]
    [stock] = LabelSheet.objects.all()
    assert (stock.geometry.label_width, stock.in_use) == (60, True)


def test_counted_labels_that_do_not_add_up_are_flagged_as_they_are_on_a_page(manager, brewery):
    lot = make.bottles(manager, code="L1")
    counted = {
        "When": "2026-03-21 10:00",
        "Bottling lot": "L1",
        "For": "bottles, cans or kegs",
        "Put on": "90",
        "Spoiled": "2",
    }

    outcome = read(manager, {"Label counts": [counted]})

    assert outcome.problems == []
    [found] = LabelCount.objects.all()
    assert (found.lot_id, found.what, found.put_on, found.spoiled) == (lot.pk, "bottle", 90, 2)
    assert "and 0 were printed" in ReviewFlag.objects.get(lot=lot.pk).text


def test_labels_printed_before_are_read_before_what_became_of_them(manager, brewery):
    lot = make.bottles(manager, code="L1")
    known = {"When": "2026-03-21", "Bottling lot": "L1", "For": "bottles, cans or kegs"}
    content = {
        "Label counts": [{**known, "Put on": "90", "Spoiled": "2"}],
        "Labels printed": [{**known, "How many": "92"}],
    }

    assert read(manager, content).problems == []

    assert tally(lot, "bottle").printed == 92
    assert not ReviewFlag.objects.filter(text__contains="printed").exists()


@pytest.mark.parametrize(
    ("sheet", "row", "said"),
    [
        ("Holidays", {"Day": "Christmas", "Name": "Christmas Day"}, "2026"),
        ("Label stock", {"Name": "Odd", "Paper": "A4", "Label width, mm": "300",
                         "Label height, mm": "40"}, "Measure again"),
        ("Label counts", {"When": "2026-03-21", "Bottling lot": "L9", "For": "cases",
                          "Put on": "1"}, "L9"),
    ],
)  # fmt: skip
def test_a_mistake_is_named_by_its_sheet_and_nothing_is_kept(manager, brewery, sheet, row, said):
    outcome = read(manager, {sheet: [row]})

    [problem] = outcome.problems
    assert problem.sheet == sheet
    assert said in f"{problem.value} {problem.reason}"
    assert not outcome.saved
