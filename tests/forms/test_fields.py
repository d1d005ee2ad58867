"""Text and amounts as they are typed and pasted, before any verb sees them."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError

from brewlog.forms.checkpoints import ReadingForm
from brewlog.forms.fields import CodeField, LotField, QuantityField, TextField
from tests import factories as make


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("  Jar  7 \n", "Jar 7"),
        ("Jar\u200b 7\u200f", "Jar 7"),
        ("\ufeffJar 7", "Jar 7"),
        ("Jar \u202e7", "Jar 7"),
        ("Family \U0001f469\u200d\U0001f33e", "Family \U0001f469\u200d\U0001f33e"),
        ("می\u200cخواهم", "می\u200cخواهم"),
        ("شاي أخضر", "شاي أخضر"),
    ],
)
def test_text_is_kept_without_marks_that_nobody_sees(typed, kept):
    assert TextField().clean(typed) == kept


@pytest.mark.parametrize("typed", ["\u200b", "\u200d \u200d", " \u202e "])
def test_a_name_of_nothing_is_none(typed):
    with pytest.raises(ValidationError):
        TextField().clean(typed)


def test_too_long_a_text_says_how_long_it_may_be():
    with pytest.raises(ValidationError, match="At most 60 characters are kept; these are 300."):
        TextField(max_length=60).clean("n" * 300)


@pytest.mark.django_db
def test_a_pasted_code_finds_its_lot(manager):
    lot = make.ingredient_lot(manager, code="R1")

    assert LotField().clean("\u200fr1 \u200b").pk == lot.pk
    assert CodeField().clean("R1\u200b") == "R1"


@pytest.mark.parametrize("typed", ["4,2", "4.2", "0.5"])
def test_an_amount_without_a_unit_is_asked_for_one_and_taken_for_no_pieces(typed):
    with pytest.raises(ValidationError, match="has no unit. Write it like 12.5 kg"):
        QuantityField().clean(typed)


@pytest.mark.django_db
def test_degrees_in_doubt_are_asked_about_of_drink_and_not_of_a_kettle(operator):
    batch, brew = make.batch(operator), make.brew(operator)

    def asked(lot, value):
        typed = {"lot": lot.code, "measurand": "temperature", "value": value}
        return ReadingForm(typed | {"when": "2026-03-20 10:00", "reason": "late"}, actor=operator)

    assert asked(batch, "75").errors == {"value": ["Is '75' in °C or in °F? Write 75 C or 75 F."]}
    assert asked(batch, "75 F").is_valid()
    assert asked(brew, "95").is_valid()
