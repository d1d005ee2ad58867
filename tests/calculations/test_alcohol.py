"""The alcohol calculations as pages use them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from brewlog.calculations import alcohol
from brewlog.entries import BY_SLUG as ENTRY
from tests import factories


def ask(**changes):
    inputs = {
        "for_lot": None,
        "gravity": Decimal("1.014630"),
        "u_gravity": Decimal("0.0002"),
        "brix": Decimal("4.5156"),
        "u_brix": Decimal("0.05"),
        "acidity": Decimal(5),
        "u_acidity": Decimal("0.2"),
        "sugar": None,
    }
    return alcohol.estimate(**{**inputs, **changes})


class TestEstimating:
    def test_finds_the_alcohol_that_made_the_readings(self):
        # 40 g/L sucrose, 8 g/L ethanol (1.01 % vol) and 5 g/L acetic acid make SG 1.014630 and
        # 4.5156 Brix (forward model with CRC increments); tea solids and gluconic acid are
        # assumed on top, within the uncertainty.
        best = ask().results[0]

        assert best.value == pytest.approx(1.01, abs=2 * best.standard_uncertainty)

    def test_is_never_called_evidence(self):
        assert "Only a laboratory result" in ask().warnings[0]
        assert "only a laboratory result" in ask().results[0].cannot_support

    def test_with_acidity_measured_stands_before_the_one_without(self):
        names = [result.quantity for result in ask().results]

        assert names == ["alcohol from gravity, Brix and acidity", "alcohol from gravity and Brix"]

    def test_with_the_sugar_weighed_in_combines_both_ways(self):
        answer = ask(sugar=Decimal(62))

        assert answer.results[0].quantity == "alcohol, best estimate"
        uncertain = [result.standard_uncertainty for result in answer.results]
        assert uncertain[0] < uncertain[1]

    def test_warns_where_the_ways_disagree(self):
        assert any("disagree" in warning for warning in ask(sugar=Decimal(140)).warnings)
        assert not any("disagree" in warning for warning in ask(sugar=Decimal(62)).warnings)


def test_the_gravity_drop_is_told_as_an_upper_figure_only():
    answer = alcohol.upper_figure(
        original=Decimal("1.030"), final=Decimal("1.020"), u_gravity=Decimal("0.0005")
    )

    assert answer.headline.endswith("an upper figure, not an estimate.")
    assert "worse than guessing the average" in answer.warnings[0]
    assert answer.keep is None


def test_all_the_sugar_left_makes_the_most_alcohol():
    # 7.7 g/L hexose makes 0.5 % vol: 0.511 g/g over 7.8924 g/L per % vol.
    answer = alcohol.shelf_life(
        now=Decimal(0), u_now=None, sugar=Decimal("7.7") / Decimal("1.0526"), u_sugar=None,
        fraction=None,
    )  # fmt: skip

    assert answer.results[0].value == pytest.approx(0.5, abs=0.02)


@pytest.mark.django_db
class TestKeepingAnEstimate:
    def test_leads_to_its_entry_with_inputs_and_version(self, operator):
        batch = factories.batch(operator)

        keep = ask(for_lot=batch).keep

        form = ENTRY[keep.entry].form
        assert set(keep.fields) <= set(form.base_fields)
        assert keep.fields["lot"] == batch.code
        assert keep.fields["inputs"].startswith("SG 1.014630 ± 0.0002, Brix 4.5156 ± 0.05")
        assert keep.fields["calculation_version"]

    def test_is_not_offered_without_a_lot(self):
        assert ask().keep is None


@pytest.mark.django_db
class TestOwnLaboratoryResults:
    @pytest.fixture
    def recipe(self, manager):
        return factories.recipe_version(manager)

    def batch_with(self, actor, recipe, brix_from, brix_to, abv):
        batch = factories.batch(actor, recipe=recipe)
        factories.reading(actor, batch, brix_from, measurand="brix", when=factories.at(4))
        factories.reading(actor, batch, brix_to, measurand="brix", when=factories.at(9))
        factories.lab_result(actor, batch, abv, when=factories.at(9))
        return batch

    def test_replace_the_general_expectation_once_there_are_five(self, operator, recipe):
        for brix_to, abv in (("4.0", "0.40"), ("3.5", "0.51"), ("3.0", "0.58"), ("2.5", "0.71")):
            batch = self.batch_with(operator, recipe, "6.0", brix_to, abv)
        few = alcohol.learned(for_lot=batch, gone=Decimal(30), u_gone=None)
        self.batch_with(operator, recipe, "6.0", "2.0", "0.79")

        enough = alcohol.learned(for_lot=batch, gone=Decimal(30), u_gone=None)

        assert "general expectation" in few.headline
        assert "line through 5 laboratory results" in enough.headline
        spread = [each.results[0].standard_uncertainty for each in (few, enough)]
        assert spread[1] < spread[0]

    def test_of_other_recipes_do_not_count(self, manager, operator, recipe):
        self.batch_with(operator, factories.recipe_version(manager), "6.0", "3.0", "0.6")
        batch = factories.batch(operator, recipe=recipe)

        assert alcohol.recipe_pairs(batch) == []
