"""The bottling plan, and planned against filled, as pages use them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from brewlog.calculations import bottling
from brewlog.calculations.bottling import FlavourWanted, FormatThere
from brewlog.calculations.past_bottlings import PastBottlings
from brewlog.entries import BY_SLUG as ENTRY
from brewlog.models import Batch
from tests import factories as make
from tests.calculations.answers import table_rows
from tests.factories import quantity

pytestmark = pytest.mark.django_db


def ask(flavours, formats, drink="34 L", **changes):
    inputs = {
        "batch": None,
        "drink": quantity(drink),
        "starter": None,
        "sediment": None,
        "samples": None,
        "loss": Decimal(0),
    }
    return bottling.plan(**{**inputs, **changes}, flavours=flavours, formats=formats)


class TestPlanning:
    def test_fills_whole_bottles_and_tells_what_is_left(self, plain, small):
        # 33.1 L in bottles of 330 mL: 100 bottles take 33.0 L.
        answer = ask([FlavourWanted(plain)], [FormatThere(small)], "33.1 L")

        assert table_rows(answer, "Bottles to fill") == [("Plain, Bottle 330 mL", "100")]
        assert answer.headline == "100 bottles, 0.10 L left over."

    def test_takes_starter_sediment_samples_and_loss_off_first(self, plain, small):
        # (60 - 6 - 1.5 - 0.5) L less 2 %: 50.96 L, which is 154 bottles and 0.14 L.
        answer = ask(
            [FlavourWanted(plain)],
            [FormatThere(small)],
            "60 L",
            starter=quantity("6 L"),
            sediment=quantity("1.5 L"),
            samples=quantity("500 mL"),
            loss=None,
        )

        assert answer.results[0].value == pytest.approx(50.96)
        assert answer.headline == "154 bottles, 0.14 L left over."

    def test_names_what_is_short_and_never_plans_more_than_there_is(self, plain, small):
        answer = ask([FlavourWanted(plain)], [FormatThere(small, bottles=40)], "33 L")

        assert table_rows(answer, "Bottles to fill") == [("Plain, Bottle 330 mL", "40")]
        assert answer.verdict == "something is short"
        assert "Short of Bottle 330 mL bottles: 60 more would fill all of it." in answer.warnings

    def test_one_stock_of_labels_is_shared_by_the_flavours_that_name_it(self, plain, ginger, small):
        answer = ask(
            [
                FlavourWanted(plain, label="Label, front", labels=50),
                FlavourWanted(ginger, label="Label, front", labels=50),
            ],
            [FormatThere(small)],
            "33 L",
        )

        assert sum(int(count) for *_, count in table_rows(answer, "Bottles to fill")) == 50
        assert ("Label, front", "50", "50") in table_rows(answer, "What it takes")

    def test_flavouring_in_the_bottle_leaves_drink_for_more_of_them(self, ginger, small):
        # 33 mL of ginger in each: 297 mL of drink, so 33.0 L fill 111 bottles (32.967 L).
        answer = ask([FlavourWanted(ginger, per_bottle=Decimal(33))], [FormatThere(small)], "33 L")

        assert table_rows(answer, "Bottles to fill")[0][1] == "111"

    def test_doubtful_bottles_are_named(self, manager, plain):
        jar = make.bottle_format(manager, "Jar", rating="decorative")

        answer = ask([FlavourWanted(plain)], [FormatThere(jar)])

        assert any(
            warning.startswith("Jar: reused, decorative or of unknown strength")
            for warning in answer.warnings
        )

    def test_reminds_of_alcohol_and_pressure(self, plain, small):
        warnings = " ".join(ask([FlavourWanted(plain)], [FormatThere(small)]).warnings)

        # 0.26 % vol a natural volume (common practice, and 0.511/0.489 g/g by stoichiometry).
        assert "about 0.26 % vol of alcohol" in warnings
        assert "Bottles burst" in warnings

    def test_leads_to_the_bottling_form_with_planned_counts_only(self, operator, plain, small):
        batch = make.batch(operator, code="B7")
        keep = ask([FlavourWanted(plain)], [FormatThere(small)], batch=batch).keep

        assert keep.entry == "bottle"
        assert keep.fields["draws-0-source"] == "B7"
        assert keep.fields["outputs-0-planned_count"] == "103"
        lines = {each.name: each.form.base_fields for each in ENTRY["bottle"].lines}
        assert {name for name in keep.fields if name.endswith("-count")} == set()
        assert all(
            name.endswith("-rows") or name.split("-")[2] in lines[name.split("-")[0]]
            for name in keep.fields
        )

    def test_a_flavour_twice_is_asked_about(self, plain, small):
        with pytest.raises(ValidationError, match="Plain stands twice among the flavours"):
            ask([FlavourWanted(plain), FlavourWanted(plain)], [FormatThere(small)])


class TestKnowing:
    def test_what_was_filled_last_fills_in_the_rows(self, filled):
        known = bottling.known_plan_rows(filled)

        assert [row["flavour"] for row in known["flavours"]] == ["Plain", "Ginger"]
        # 660 mL of juice in 40 bottles of 330 mL: 50 mL a litre.
        assert known["flavours"][1]["per_litre"] == "50.0"
        assert known["flavours"][0]["labels"] == "398"
        assert known["formats"] == [
            {
                "format": "Bottle 330 mL",
                "bottles": "398",
                "cap": "Crown cap 26 mm",
                "caps": "398",
            }
        ]

    def test_the_loss_is_what_did_not_come_into_bottles(self, filled):
        # 34.66 L poured, 102 bottles of 330 mL: 33.66 L.
        assert bottling.known_plan(filled)["loss"].text == f"{100 * (1 - 33.66 / 34.66):.1f}"

    def test_the_volume_is_what_is_left_on_hand(self, filled):
        assert bottling.known_plan(filled)["drink"].text == "26 L"

    def test_a_brewery_that_never_bottled_knows_nothing(self, operator):
        batch = make.batch(operator)

        assert bottling.known_plan_rows(batch) == {"flavours": [], "formats": []}
        assert set(bottling.known_plan(batch)) == {"batch", "drink"}

    def test_asks_as_much_for_many_lots_as_for_few(
        self, filled, manager, django_assert_num_queries
    ):
        def look():
            past = PastBottlings(Batch.objects.select_related("recipe").get(pk=filled.pk))
            return past.flavours(), past.formats(), past.loss()

        with django_assert_num_queries(5):
            look()
        for _ in range(4):
            make.bottles(manager, 10, filled, "3.4 L")
        with django_assert_num_queries(5):
            look()
