"""Every entry: its form fits its verb, and its labels can be column names."""

from __future__ import annotations

import inspect
from functools import partial

import pytest

from brewlog.domain import registers
from brewlog.entries import ENTRIES
from brewlog.entries.base import MANAGE, RECORD, REVIEW

BY_SLUG = pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: entry.slug)


def given(entry):
    """The names of what an entry hands to its verb."""
    texts = {getattr(field, "keep_text_as", "") for field in entry.form.base_fields.values()} - {""}
    return {*entry.form.base_fields, *texts, *(lines.name for lines in entry.lines), "actor"}


@BY_SLUG
def test_the_verb_takes_every_field_of_the_form(entry):
    if isinstance(entry.verb, partial) and entry.verb.func is registers.add:
        model = entry.verb.keywords["model"]
        assert given(entry) - {"actor"} <= {field.name for field in model._meta.get_fields()}
        return
    parameters = inspect.signature(entry.verb).parameters
    takes_any = any(each.kind == each.VAR_KEYWORD for each in parameters.values())
    assert takes_any or given(entry) <= set(parameters)


@BY_SLUG
def test_the_form_asks_for_everything_the_verb_needs(entry):
    needed = {
        name
        for name, each in inspect.signature(entry.verb).parameters.items()
        if each.default is each.empty and each.kind == each.KEYWORD_ONLY
    }
    assert needed <= given(entry)


@BY_SLUG
def test_labels_are_unique_within_a_form(entry):
    for form in (entry.form, *(lines.form for lines in entry.lines)):
        labels = [field.label for field in form.base_fields.values()]
        assert None not in labels
        assert len({label.lower() for label in labels}) == len(labels)


@BY_SLUG
def test_what_an_entry_is_about_is_a_field_of_its_form(entry):
    assert entry.about == "" or entry.about in entry.form.base_fields


def test_deciding_is_for_reviewers_and_setting_up_for_managers():
    needing = {
        permission: {entry.slug for entry in ENTRIES if entry.permission == permission}
        for permission in (REVIEW, MANAGE)
    }

    assert {"hold", "lift", "settle"} <= needing[REVIEW]
    assert {"format", "person", "role", "deactivate", "reactivate", "brewery"} <= needing[MANAGE]
    assert {entry.slug for entry in ENTRIES if entry.permission == RECORD} >= {
        "reading",
        "condition",
        "bottle",
        "ship",
        "move",
        "customer",
        "location",
        "calibrate",
    }
