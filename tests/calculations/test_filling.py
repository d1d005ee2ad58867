"""Net content and yield as pages use them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from brewlog.calculations import filling
from brewlog.calculations.filling import FillForm
from brewlog.domain import batches, stock
from brewlog.models import User
from tests import factories
from tests.factories import at


def weigh(weights, **changes):
    inputs = {
        "weights": weights,
        "tare": Decimal(250),
        "tare_spread": None,
        "gravity": Decimal("1.000"),
        "label": Decimal(330),
        "shortfall": None,
    }
    return filling.fill(**{**inputs, **changes})


class TestNetContent:
    def test_is_the_weight_of_water_over_its_density_and_the_air(self):
        # 330 g of water in air at 20 °C: 330 (1 - 0.0012/8) / (0.998207 - 0.0012) = 330.94 mL.
        answer = weigh([580.0, 580.0, 580.0])

        assert dict(answer.tables[0].rows)["average fill"] == "330.9 mL"

    def test_reached_on_average_by_too_few_is_said_so(self):
        assert "so few bottles do not show it" in weigh([578.0, 581.0]).verdict

    def test_short_bottles_are_named_by_their_place(self):
        answer = weigh([580.0, 560.0, 580.0], shortfall=Decimal(10))

        assert answer.warnings[0] == "Short by more than allowed: bottle 2."

    def test_an_empty_bottle_heavier_than_a_full_one_is_refused(self):
        with pytest.raises(ValidationError, match="weighs less than the empty one"):
            weigh([240.0, 580.0])

    @pytest.mark.parametrize(
        ("typed", "read"),
        [("580 581.5\n579", [580.0, 581.5, 579.0]), ("580,5;581", [580.5, 581.0])],
    )
    def test_weights_are_read_as_people_write_them(self, typed, read):
        form = FillForm(
            {"weights": typed, "tare": "250", "gravity": "1", "label": "330"}, actor=User()
        )

        assert form.is_valid(), form.errors
        assert form.cleaned_data["weights"] == read


@pytest.mark.django_db
class TestYield:
    def test_counts_bottles_losses_and_what_neither_explains(self, operator):
        batch = factories.batch(operator, "60 L")
        factories.bottles(
            operator,
            count=100,
            batch=batch,
            drawn="34 L",
            format=factories.bottle_format(operator, holds="330 mL"),
            when=at(12),
        )
        stock.adjust(
            actor=operator,
            lot=batch,
            quantity=factories.quantity("2 L"),
            why="sediment",
            when=at(12),
        )

        rows = dict(filling.batch_yield(batch=batch).tables[0].rows)

        assert rows == {
            "in the batch": "60.00 L",
            "in bottles": "33.00 L",
            "sediment": "2.00 L",
            "unexplained": "25.00 L",
        }

    def test_of_a_batch_not_measured_yet_cannot_be_told(self, operator):
        with pytest.raises(ValidationError, match="not written down yet"):
            filling.batch_yield(batch=batches.plan_batch(actor=operator, when=at(3)))
