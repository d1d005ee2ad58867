"""The sweet-tea calculations as pages use them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from brewlog.calculations import BY_SLUG, CALCULATIONS, about, brewing
from brewlog.domain import batches
from brewlog.domain.lots import Draw
from brewlog.science.errors import OutOfRange
from tests import factories
from tests.factories import at, quantity


def test_every_calculation_asks_a_question_and_names_its_formula():
    for each in CALCULATIONS:
        assert each.question.endswith("?"), each.slug
        assert each.formula, each.slug


@pytest.mark.django_db
class TestScaling:
    def test_by_volume_takes_each_line_times_the_litres(self, manager):
        answer = brewing.scale_recipe(
            recipe=factories.recipe_version(manager),
            volume=quantity("40 L"),
            ingredient=None,
            there=None,
            vessel=None,
            headspace=None,
        )

        assert [row[1] for row in answer.tables[0].rows] == ["200 g", "2.4 kg", "4 L"]

    def test_by_the_sugar_at_hand_goes_as_far_as_the_sugar(self, manager):
        version = factories.recipe_version(manager)
        sugar = version.lines.get(role="sugar").ingredient

        answer = brewing.scale_recipe(
            recipe=version,
            volume=quantity("100 L"),
            ingredient=sugar,
            there=quantity("3 kg"),
            vessel=None,
            headspace=None,
        )

        assert answer.headline.startswith("50 L")
        assert f"bound by {sugar}" in answer.headline

    def test_by_a_vessel_leaves_its_headspace(self, manager):
        answer = brewing.scale_recipe(
            recipe=factories.recipe_version(manager),
            volume=None,
            ingredient=None,
            there=None,
            vessel=factories.vessel(manager, capacity=quantity("50 L")),
            headspace=Decimal(20),
        )

        assert answer.headline.startswith("40 L")

    def test_by_an_ingredient_the_recipe_does_not_take_is_refused(self, manager):
        other = factories.ingredient(manager, "Ginger")

        with pytest.raises(ValidationError, match="takes no Ginger"):
            brewing.scale_recipe(
                recipe=factories.recipe_version(manager),
                volume=None,
                ingredient=other,
                there=quantity("1 kg"),
                vessel=None,
                headspace=None,
            )


def test_concentrate_and_water_end_at_the_limit():
    answer = brewing.top_up(
        volume=quantity("60 L"),
        sugar=Decimal(60),
        concentrate_temperature=Decimal(90),
        water_temperature=Decimal(12),
        limit=Decimal(28),
        ice=None,
    )

    assert answer.results[0].value == pytest.approx(28, abs=1e-6)


def test_a_limit_below_the_cold_water_is_a_sentence_not_a_number():
    with pytest.raises(OutOfRange, match="[Pp]itching limit"):
        brewing.top_up(
            volume=quantity("60 L"),
            sugar=Decimal(60),
            concentrate_temperature=Decimal(90),
            water_temperature=Decimal(25),
            limit=Decimal(20),
            ice=None,
        )


class TestHottest:
    GIVEN = {
        "volume": quantity("60 L"),
        "sugar": Decimal(60),
        "concentrate": quantity("15 L"),
        "water_temperature": Decimal(12),
        "limit": Decimal(28),
        "ice": None,
        "now": None,
    }  # fmt: skip

    def test_the_mixture_ends_at_the_limit(self):
        answer = brewing.hottest(**self.GIVEN)

        assert answer.results[0].value == pytest.approx(28, abs=1e-6)
        assert answer.headline.startswith("Not hotter than ")
        assert "ends at 28.0 °C." in answer.headline

    def test_it_agrees_with_how_much_of_such_a_concentrate_may_be_topped_up(self):
        hottest = brewing.hottest(**self.GIVEN).headline.split()[3]

        back = brewing.top_up(
            volume=quantity("60 L"),
            sugar=Decimal(60),
            concentrate_temperature=Decimal(hottest),
            water_temperature=Decimal(12),
            limit=Decimal(28),
            ice=None,
        )

        assert back.headline.startswith("At most 15.0 L of concentrate")

    @pytest.mark.parametrize(
        ("now", "verdict"),
        [(None, ""), ("60", "cool enough to top up"), ("95", "too hot, cool it first")],
    )
    def test_beside_how_hot_it_is_now(self, now, verdict):
        answer = brewing.hottest(**self.GIVEN | {"now": Decimal(now) if now else None})

        assert answer.verdict == verdict

    def test_a_little_concentrate_may_be_boiling(self):
        answer = brewing.hottest(
            **self.GIVEN | {"concentrate": quantity("6 L"), "limit": Decimal(45)}
        )

        assert answer.headline.startswith("Even boiling it is not too hot")

    def test_a_limit_below_the_cold_water_is_a_sentence_not_a_number(self):
        with pytest.raises(OutOfRange, match="[Pp]itching limit"):
            brewing.hottest(
                **self.GIVEN | {"water_temperature": Decimal(35), "concentrate": quantity("8 L")}
            )

    @pytest.mark.django_db
    def test_the_records_fill_in_the_recipe_and_the_last_temperature(self, manager, brewery):
        version = factories.recipe_version(manager)
        brew = factories.brew(manager, recipe=version, when=at(2))
        batches.record_step(
            actor=manager,
            lot=brew,
            kind="steep",
            temperature=Decimal("88"),
            temperature_text="88 °C",
            when=at(2, 10),
        )

        known = brewing.known_hottest(brew)

        assert known["sugar"].text == "60"
        assert known["now"].text.startswith("88")


class TestBrix:
    def test_of_the_sugar_weighed_in_agrees_with_an_honest_reading(self):
        # 100 g/L is 9.65 °Bx: 1.03852 kg/L, ICUMSA densities (household_sugar_brix.csv).
        answer = brewing.brix(
            sugar=quantity("1 kg"),
            volume=quantity("10 L"),
            starter=None,
            starter_brix=None,
            reading=Decimal("9.6"),
            reading_uncertainty=None,
        )

        assert answer.results[0].value == pytest.approx(9.65, abs=0.01)
        assert answer.verdict == "agrees"

    def test_a_batch_with_half_its_sugar_does_not_agree(self):
        answer = brewing.brix(
            sugar=quantity("1 kg"),
            volume=quantity("10 L"),
            starter=None,
            starter_brix=None,
            reading=Decimal("4.8"),
            reading_uncertainty=None,
        )

        assert answer.verdict == "does not agree"
        assert "dissolved" in answer.warnings[0]


@pytest.mark.django_db
class TestWhatTheRecordsKnow:
    def test_a_brews_sugar_and_volume_come_from_its_lots(self, operator):
        sugar = factories.ingredient_lot(
            operator, "25 kg", of=factories.ingredient(operator, kind="sugar")
        )
        brew = batches.start_brew(
            actor=operator,
            when=at(2),
            quantity=quantity("100 L"),
            lines=[Draw(sugar, quantity("6 kg"), "ingredient")],
        )

        known = brewing.known_brix(brew)

        assert (known["sugar"].text, known["volume"].text) == ("6 kg", "100 L")
        assert known["sugar"].source == "sugar lots used"

    def test_a_batch_without_a_recipe_fills_in_nothing(self, operator):
        assert brewing.known_scale(factories.batch(operator)) == {}

    def test_a_culture_has_no_sweet_tea_calculations(self, operator):
        slugs = {each.slug for each in about(factories.culture(operator))}

        assert slugs == {"titration"}
        assert BY_SLUG["brix"] in about(factories.brew(operator))
