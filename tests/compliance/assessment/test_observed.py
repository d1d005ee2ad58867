"""Limits on what was seen and done: growths, starter, steps, cultures, balances, labels."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from brewlog.domain import batches, cultures
from brewlog.domain.batches import record_step
from brewlog.domain.checkpoints import check_condition
from brewlog.domain.lots import correct, void
from brewlog.when import on_day
from compliance.decision import Verdict
from compliance.domain.labels import print_labels, printed_elsewhere
from tests import factories
from tests.compliance.assessment import helpers

pytestmark = pytest.mark.django_db

FAILS, REVIEW, CLEAR = Verdict.FAILS, Verdict.NEEDS_REVIEW, None
at = factories.at
LATER = at(20)


@pytest.fixture
def batch(manager, brewery):
    return factories.batch(manager)


class TestCondition:
    @pytest.fixture
    def culture(self, manager, brewery):
        helpers.limit(manager, "condition", cause="mould")
        return factories.culture(manager)

    def look(self, actor, lot, when, **seen):
        return check_condition(actor=actor, lot=lot, when=when, **seen)[0]

    @pytest.mark.parametrize(
        ("seen", "found", "text"),
        [
            ({"mould": "mould"}, FAILS, "mould was seen"),
            ({"mould": "unsure"}, REVIEW, "it may be mould: keep it apart and look again"),
            ({"vinegar_eels": True}, REVIEW, "vinegar eels were seen"),
            ({"flies": True}, REVIEW, "flies or larvae were seen"),
            ({"verdict": "suspect"}, REVIEW, "it looks or smells suspect"),
        ],
    )
    def test_tells_what_was_seen(self, manager, culture, seen, found, text):
        self.look(manager, culture, at(5), **seen)

        only = helpers.finding(culture)
        assert (only.verdict, only.text, only.decision) == (found, text, None)

    @pytest.mark.parametrize("seen", [{}, {"kahm_yeast": True}, {"verdict": "ready"}])
    def test_says_nothing_of_what_is_usual(self, manager, culture, seen):
        self.look(manager, culture, at(5), **seen)

        assert helpers.verdict(culture) is CLEAR

    def test_mould_is_never_cleared_by_a_later_look(self, manager, culture):
        self.look(manager, culture, at(5), mould="mould", look="green, at the rim")
        self.look(manager, culture, at(6), verdict="ready")

        found = helpers.finding(culture)
        assert found.is_critical
        assert "green, at the rim" in found.evidence[0].text

    def test_mould_that_was_entered_for_the_wrong_jar_is_voided(self, manager, culture):
        wrong = self.look(manager, culture, at(5), mould="mould")
        void(actor=manager, record=wrong, reason="it was the next jar")

        assert helpers.verdict(culture) is CLEAR

    @pytest.mark.parametrize("doubt", [{"mould": "unsure"}, {"flies": True}])
    def test_a_doubt_is_cleared_by_a_later_look_and_by_no_earlier_one(
        self, manager, culture, doubt
    ):
        self.look(manager, culture, at(5), **doubt)
        self.look(manager, culture, at(4))
        self.look(manager, culture, on_day(dt.date(2026, 3, 5)))  # perhaps in the morning
        assert helpers.verdict(culture) is REVIEW

        self.look(manager, culture, at(6))
        assert helpers.verdict(culture) is CLEAR

    def test_one_doubt_does_not_clear_another(self, manager, culture):
        self.look(manager, culture, at(5), mould="unsure")
        self.look(manager, culture, at(6), flies=True)

        assert len(helpers.finding(culture).evidence) == 2


class TestStarterShare:
    # Action, as a critical one keeps the batch from being mended but by what has happened.
    SHARE = {"operator": ">=", "value": "10", "unit": "% of the volume", "consequence": "action"}

    @pytest.mark.parametrize(
        ("starter", "sign", "found"),
        [
            ("6 L", ">=", CLEAR), ("6010 mL", ">=", CLEAR), ("5990 mL", ">=", FAILS),
            ("6 L", ">", FAILS), ("6010 mL", ">", CLEAR), ("1.6 gal", ">=", CLEAR),
            ("1.58 gal", ">=", FAILS), ("6 L", "<=", CLEAR), ("6 L", "<", FAILS),
        ],
    )  # fmt: skip
    def test_is_of_the_volume_after_it_went_in(self, manager, brewery, starter, sign, found):
        helpers.limit(manager, "starter_share", **{**self.SHARE, "operator": sign})
        batch = factories.batch(manager, "60 L", starter_amount=starter)

        assert helpers.verdict(batch) is found

    def test_opens_to_the_lots_it_is_made_of(self, manager, brewery):
        helpers.limit(manager, "starter_share", **self.SHARE)
        batch = factories.batch(manager, starter_amount="5.5 L")

        found = helpers.finding(batch)
        assert found.text == "9.17 % starter (5.5 L of 60 L); the limit is ≥ 10 % of the volume"
        assert found.decision.margin == pytest.approx(-0.833, abs=1e-3)
        assert [each.text[:8] for each in found.evidence] == ["5.5 L of"]

    def test_starter_added_later_counts_with_what_it_added(self, manager, brewery):
        helpers.limit(manager, "starter_share", **self.SHARE)
        starter = factories.culture(manager)
        batch = factories.batch(manager, starter=starter, starter_amount="5.5 L")
        factories.use(manager, starter, batch, "600 mL", when=at(4), purpose="starter")

        assert helpers.verdict(batch) is CLEAR  # 6.1 of 60.6 L

    def test_a_drink_poured_in_as_starter_counts(self, manager, brewery, batch):
        helpers.limit(manager, "starter_share", **self.SHARE)
        other = factories.batch(manager, starter_amount="5 L", when=at(5))
        factories.use(manager, batch, other, "2 L", when=at(6), purpose="starter")

        assert helpers.verdict(other) is CLEAR  # 7 of 62 L

    def test_no_starter_written_down_is_not_known_rather_than_none(self, manager, batch):
        helpers.limit(manager, "starter_share", **self.SHARE)
        (use,) = batch.uses_in.filter(purpose="starter")
        void(actor=manager, record=use, reason="it was another culture")

        found = helpers.finding(batch)
        assert (found.verdict, found.text) == (
            REVIEW, "no starter is written into it; the limit is ≥ 10 % of the volume",
        )  # fmt: skip

    def test_says_nothing_before_the_starter_goes_in(self, manager, brewery):
        helpers.limit(manager, "starter_share", **self.SHARE)

        assert helpers.verdict(batches.plan_batch(actor=manager, when=at(3))) is CLEAR


class TestStepTemperature:
    STEEP = {"measurand": "temperature", "step": "steep", "unit": "°C"}

    def steep(self, actor, brew, temperature: str | None, when=None, **fields):
        record_step(
            actor=actor, lot=brew, kind="steep", when=when or at(2),
            temperature=Decimal(temperature) if temperature else None,
            temperature_text=f"{temperature} °C" if temperature else "", **fields,
        )  # fmt: skip

    # A thermometer of resolution 0.1 and accuracy 0.5: u = 0.290, guard band 0.477.
    @pytest.mark.parametrize(
        ("sign", "temperature", "found"),
        [
            (">=", "74.48", CLEAR), (">=", "74.4", REVIEW), (">=", "74", REVIEW),
            (">=", "73.6", REVIEW), (">=", "73.5", FAILS), (">", "74", FAILS),
            (">", "73.9", FAILS), ("<=", "73.5", CLEAR), ("<=", "74.5", FAILS),
        ],
    )  # fmt: skip
    def test_is_judged_by_its_thermometer(self, manager, brewery, sign, temperature, found):
        helpers.limit(manager, "step_temperature", operator=sign, value="74", **self.STEEP)
        brew = factories.brew(manager)
        probe = factories.instrument(manager, kind="thermometer", resolution="0.1", accuracy="0.5")
        self.steep(manager, brew, temperature, instrument=probe)

        assert helpers.verdict(brew) is found

    # The usual u = 0.5 where the thermometer is not known: a guard band of 0.822.
    @pytest.mark.parametrize(("temperature", "found"), [("74.9", CLEAR), ("74.8", REVIEW)])
    def test_asks_for_more_room_of_an_unknown_one(self, manager, brewery, temperature, found):
        helpers.limit(manager, "step_temperature", operator=">=", value="74", **self.STEEP)
        brew = factories.brew(manager)
        self.steep(manager, brew, temperature)

        assert helpers.verdict(brew) is found

    def test_steeping_again_hot_enough_mends_it(self, manager, brewery):
        helpers.limit(manager, "step_temperature", operator=">=", value="74", **self.STEEP)
        brew = factories.brew(manager)
        self.steep(manager, brew, "60")
        assert helpers.verdict(brew) is FAILS

        self.steep(manager, brew, "85", when=at(2, 10))
        assert helpers.verdict(brew) is CLEAR

    def test_pitching_too_warm_is_not_mended(self, manager, brewery):
        helpers.limit(
            manager, "step_temperature", measurand="temperature", step="pitch", operator="<=",
            value="35",
        )  # fmt: skip
        batch = factories.batch(manager)
        for temperature, when in (("41", at(3)), ("25", at(3, 12))):
            record_step(
                actor=manager, lot=batch, kind="pitch", when=when,
                temperature=Decimal(temperature),
            )  # fmt: skip

        assert helpers.verdict(batch) is FAILS

    def test_what_was_not_written_down_is_missing_a_day_later(self, manager, brewery):
        helpers.limit(manager, "step_temperature", operator=">=", value="74", **self.STEEP)
        brew = factories.brew(manager, when=at(2))
        self.steep(manager, brew, None)

        assert helpers.verdict(brew, at(3, 8)) is CLEAR
        assert helpers.verdict(brew, at(3, 9)) is REVIEW

    def test_a_thermometer_that_was_out_shows_nothing_good(self, manager, brewery):
        helpers.limit(manager, "step_temperature", operator=">=", value="74", **self.STEEP)
        probe = factories.instrument(manager, kind="thermometer")
        factories.calibration(manager, probe, "out", when=at(9))
        brew = factories.brew(manager)
        self.steep(manager, brew, "95", instrument=probe)

        assert helpers.verdict(brew) is REVIEW


class TestBalance:
    # 60 bottles, so many shipped: what is beyond them in percent of 60.
    @pytest.mark.parametrize(
        ("shipped", "sign", "line", "found"),
        [
            ("60", "<=", "5", CLEAR), ("63", "<=", "5", CLEAR), ("63", "<", "5", FAILS),
            ("64", "<=", "5", FAILS), ("64", "<=", "7", CLEAR), ("61", "<=", "0", FAILS),
        ],
    )  # fmt: skip
    def test_more_left_than_was_there(self, manager, brewery, shipped, sign, line, found):
        helpers.limit(manager, "balance", operator=sign, value=line, unit="% unexplained")
        bottles = factories.bottles(manager, count=60)
        factories.shipment(manager, bottles, shipped, already_done=True)

        assert helpers.verdict(bottles) is found

    def test_tells_how_many(self, manager, brewery):
        helpers.limit(manager, "balance", operator="<=", value="2", unit="% unexplained")
        bottles = factories.bottles(manager, count=60)
        factories.shipment(manager, bottles, "64", already_done=True)

        assert helpers.finding(bottles).text == (
            "4 more left than was there (6.7 %); the limit is ≤ 2 % unexplained"
        )


class TestCultures:
    @pytest.mark.parametrize(
        ("sign", "line", "found"),
        [("<=", "1", FAILS), ("<=", "2", CLEAR), ("<", "2", FAILS), ("<", "3", CLEAR)],
    )
    def test_transfers_since_bought_are_counted(self, manager, brewery, sign, line, found):
        helpers.limit(manager, "generation", lot_kind="culture", operator=sign, value=line)
        kept = factories.culture(manager)
        for day in (5, 9):
            batch = factories.batch(manager, starter=kept, starter_amount="2 L", when=at(day))
            kept = cultures.keep_back(
                actor=manager, batch=batch, quantity=factories.quantity("5 L"), when=at(day + 3)
            )

        assert helpers.verdict(kept) is found

    # Born on 1 March at 9:00; 30 days are over on the 31st at 9:00.
    @pytest.mark.parametrize(
        ("sign", "moment", "found"),
        [
            ("<=", at(31, 8, 59), CLEAR), ("<=", at(31), CLEAR), ("<=", at(31, 9, 1), FAILS),
            ("<", at(31), FAILS),
        ],
    )  # fmt: skip
    def test_a_starter_grows_old(self, manager, brewery, sign, moment, found):
        helpers.limit(manager, "culture_age", operator=sign, value="30", unit="days")

        assert helpers.verdict(factories.culture(manager, when=at(1)), moment) is found

    def test_age_counts_from_the_end_of_a_day_alone(self, manager, brewery):
        helpers.limit(manager, "culture_age", operator="<=", value="30", unit="days")
        culture = factories.culture(manager, when=on_day(dt.date(2026, 3, 1)))

        # Thirty times 24 hours from 2 March 0:00; the clocks went forward on the 29th.
        assert helpers.verdict(culture, at(1, 0, month=4)) is CLEAR
        assert helpers.verdict(culture, at(1, 0, 1, month=4)) is FAILS

    def test_age_is_no_matter_of_one_that_is_retired_or_used_up(self, manager, brewery):
        helpers.limit(
            manager, "culture_age", operator="<=", value="3", unit="days", consequence="note"
        )
        retired, used = factories.culture(manager), factories.culture(manager, "6 L")
        cultures.retire(actor=manager, culture=retired, when=at(5), retire_reason="weak")
        factories.batch(manager, starter=used)

        assert helpers.verdict(retired, LATER) is CLEAR
        assert helpers.verdict(used, LATER) is CLEAR


class TestLabel:
    WORDS = {"lot_kind": "bottling", "words": "not more than", "consequence": "label"}
    FROM_HALF = {**WORDS, "measurand": "alcohol", "operator": "<", "value": "0.5"}

    @pytest.mark.parametrize(
        ("statement", "found"),
        [("", FAILS), ("Alcohol: Not  more\nthan 1.15 %", CLEAR), ("not much more than", FAILS)],
    )
    def test_words_that_are_always_asked(self, manager, brewery, statement, found):
        helpers.limit(manager, "label", **self.WORDS)
        flavour = factories.flavour(manager, statement=statement)

        assert helpers.verdict(factories.bottles(manager, flavour=flavour)) is found

    def test_the_text_of_the_bottling_tells_whatever_the_flavour_says_later(self, manager, brewery):
        helpers.limit(manager, "label", **self.WORDS)
        flavour = factories.flavour(manager, statement="Not more than 1.15 %")
        silent = factories.flavour(manager)
        said, unsaid = (factories.bottles(manager, flavour=each) for each in (flavour, silent))

        correct(actor=manager, record=flavour, reason="shorter", statement="")
        correct(actor=manager, record=silent, reason="asked", statement="Not more than 1 %")

        assert helpers.verdict(said) is CLEAR
        assert helpers.verdict(unsaid) is FAILS
        later = {"when": factories.now()}
        assert helpers.verdict(factories.bottles(manager, flavour=flavour, **later)) is FAILS
        assert helpers.verdict(factories.bottles(manager, flavour=silent, **later)) is CLEAR

    def test_labels_printed_anew_say_what_the_flavour_says_then(self, manager, brewery):
        helpers.limit(manager, "label", **self.WORDS)
        flavour = factories.flavour(manager)
        bottles = factories.bottles(manager, flavour=flavour)
        correct(actor=manager, record=flavour, reason="asked", statement="Not more than 1 %")
        assert helpers.verdict(bottles) is FAILS

        printed_elsewhere(actor=manager, lot=bottles, when=factories.now(), count=100)
        assert helpers.verdict(bottles) is FAILS, "what they said is not known"

        print_labels(actor=manager, lot=bottles, when=factories.now(), count=100, note="more")
        assert helpers.verdict(bottles) is CLEAR

        correct(actor=manager, record=flavour, reason="shorter", statement="")
        assert helpers.verdict(bottles) is CLEAR

    # Without a stated uncertainty u = 0.03.
    @pytest.mark.parametrize(
        ("result", "sign", "found"),
        [
            ("0.44", "<", CLEAR), ("0.47", "<", REVIEW), ("0.50", "<", FAILS),
            ("0.50", "<=", REVIEW), ("0.53", "<=", REVIEW), ("0.56", "<=", FAILS),
        ],
    )  # fmt: skip
    def test_words_that_are_asked_from_a_result_on(self, manager, brewery, result, sign, found):
        helpers.limit(manager, "label", **{**self.FROM_HALF, "operator": sign})
        silent = factories.bottles(manager)
        says = factories.bottles(
            manager, flavour=factories.flavour(manager, statement="Not more than 1.15 % vol")
        )
        for lot in (silent, says):
            factories.lab_result(manager, lot, result, when=at(21))

        assert helpers.verdict(silent) is found
        assert helpers.verdict(says) is CLEAR

    def test_no_result_asks_for_nothing(self, manager, brewery):
        helpers.limit(manager, "label", **self.FROM_HALF)

        assert helpers.verdict(factories.bottles(manager)) is CLEAR

    def test_a_result_of_the_batch_asks_for_a_look(self, manager, batch):
        helpers.limit(manager, "label", **self.FROM_HALF)
        bottles = factories.bottles(manager, batch=batch, drawn="34 L")
        factories.lab_result(manager, batch, "0.8", when=at(12))

        found = helpers.finding(bottles)
        assert (found.verdict, found.decision.value) == (REVIEW, 0.8)
        assert found.text == (
            "alcohol, % vol 0.8, North Quay Laboratory: the label must say 'not more than'"
        )
