"""Planned against filled, as its page and the bottling day use it."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError

from brewlog.calculations.planned_and_filled import against
from tests import factories as make
from tests.calculations.answers import table_rows
from tests.factories import at

pytestmark = pytest.mark.django_db


class TestPlannedAgainstFilled:
    def test_counts_and_litres_of_a_batch(self, filled):
        answer = against(lot=filled)

        # 62 + 40 bottles of 330 mL less 0.66 L of juice: 33.00 L of the 34 L drawn.
        assert answer.headline == "102 filled, 102 planned; 1.00 L unexplained."
        assert [row[1:] for row in table_rows(answer, "Planned and filled")] == [
            ("60", "62", "+2"),
            ("42", "40", "-2"),
        ]
        assert answer.verdict == "more than the measuring explains"

    def test_of_one_bottling_lot(self, operator):
        lot = make.bottles(operator, 100, make.batch(operator), "33.2 L")

        answer = against(lot=lot)

        assert table_rows(answer, "Planned and filled")[0][1:] == ("not planned", "100", "")
        assert answer.verdict == "within what measuring explains"

    def test_of_a_batch_not_bottled_cannot_be_told(self, operator):
        with pytest.raises(ValidationError, match="Nothing was filled"):
            against(lot=make.batch(operator))

    def test_bottles_that_hold_more_flavouring_than_anything_are_a_slip(self, manager, small):
        lot = make.bottles(manager, 10, make.batch(manager), "3.3 L", format=small)
        syrup = make.ingredient_lot(manager, "50 L")
        make.use(manager, syrup, lot, "4 L", at(21), purpose="flavouring")

        with pytest.raises(ValidationError, match="holds no drink, only flavouring"):
            against(lot=lot)
