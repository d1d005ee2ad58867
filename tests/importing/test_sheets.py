"""The sheets themselves: complete, unambiguous, and true to their verbs."""

from __future__ import annotations

import inspect
from functools import partial

import pytest

from brewlog.importing.sheets import SHEETS

by_name = pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)


def _verb(sheet):
    verb = sheet.verb
    return verb.func if isinstance(verb, partial) else verb


@by_name
def test_a_sheets_columns_have_names_of_their_own(sheet):
    assert len(sheet.by_label) == len(sheet.columns)


@by_name
def test_a_sheets_name_fits_a_workbook(sheet):
    # openpyxl and the spreadsheet programs: 31 characters, none of these marks.
    assert len(sheet.name) <= 31
    assert not set(sheet.name) & set("[]:*?/\\")


@by_name
def test_a_sheets_key_time_and_needs_are_columns(sheet):
    named = {*sheet.key, *sheet.required, *({sheet.when} if sheet.when else set())}
    assert named <= set(sheet.fields)


@by_name
def test_a_row_without_anything_in_its_key_is_refused(sheet):
    needed = {name for name in sheet.key if sheet.fields[name].required or name in sheet.required}
    assert needed


@by_name
def test_what_is_reported_as_done_is_told_to_the_verb(sheet):
    known = inspect.signature(_verb(sheet)).parameters
    passed_on = {"already_done"} & set(known) or (
        # Rows with sources of their own pass everything on.
        "already_done" in sheet.form.base_fields
    )
    if passed_on:
        assert sheet.fixed.get("already_done") is True
    else:
        assert "already_done" not in sheet.fixed


def test_no_two_sheets_answer_to_one_name():
    for sheet in SHEETS:
        assert [each.name for each in SHEETS if each.is_called(sheet.name)] == [sheet.name]
        assert [each.name for each in SHEETS if each.is_called(f"03_{sheet.name.upper()}")] == [
            sheet.name
        ]


def test_dated_forms_are_dated_sheets():
    undated = {sheet.name for sheet in SHEETS if "when" in sheet.fields and sheet.when != "when"}
    assert undated == set()
