"""Recall questions: the clock, the account, what customers said, and the signature."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from brewlog.domain import lots, shipping, stock
from brewlog.recording import Refused
from brewlog.trace import recall
from brewlog.when import When, on_day
from compliance.domain import recalls
from compliance.domain.signing import is_intact
from tests import factories as make
from tests.compliance.rules import PASSWORD, ask_recall
from tests.factories import quantity

pytestmark = pytest.mark.django_db


@pytest.fixture
def story(manager):
    """A starter in a batch of 100 bottles: 40 and 12 shipped, 3 taken as samples."""
    starter = make.culture(manager, "10 L")
    batch = make.batch(manager, "60 L", starter=starter, starter_amount="6 L")
    bottles = make.bottles(manager, 100, batch, "33 L")
    larder, cafe = make.customer(manager, "Corner Larder"), make.customer(manager, "Quay Cafe")
    make.shipment(manager, bottles, "40", larder)
    make.shipment(manager, bottles, "12", cafe)
    stock.adjust(actor=manager, lot=bottles, quantity=quantity("3"), why="sample", when=make.at(26))
    return starter, bottles, larder, cafe


def _sign(actor, run, **fields):
    given = {"learnt": "The telephone list was old.", "password": PASSWORD} | fields
    return recalls.sign_recall(actor=actor, run=run, **given)


def _respond(actor, run, customer, **fields):
    given = {"how": "phone", "when": When(timezone.now())} | fields
    return recalls.record_response(actor=actor, run=run, customer=customer, **given)


def _take_back(actor, lot, amount, customer):
    return shipping.take_back(
        actor=actor, lot=lot, quantity=quantity(amount), customer=customer, when=make.at(28)
    )


def _answers(run):
    return {each.name: each for each in recalls.answers_of(run, recall(run.lot).customers)}


def test_the_signed_answer_keeps_its_figures_and_the_minutes_it_took(reviewer, manager, story):
    starter, bottles, larder, _ = story
    asked = timezone.now() - dt.timedelta(minutes=42, seconds=10)
    run = ask_recall(manager, starter, when=When(asked))

    signed = _sign(reviewer, run, counted=44)
    make.shipment(manager, bottles, "5", larder)

    figures = recalls.signed_figures(signed)
    assert recalls.minutes_taken(signed) == 43
    assert (figures.made, figures.shipped, figures.gone, figures.on_hand) == (100, 52, 3, 45)
    assert (figures.accounted, figures.share, figures.customers) == (99, 0.99, 2)
    assert signed.result["customers"][0] == {"name": "Corner Larder", "sent": 40, "returned": 0}
    assert is_intact(signed.signature)
    assert '"learnt":"The telephone list was old."' in signed.signature.contents


def test_what_was_not_counted_is_taken_from_the_books(reviewer, manager, story):
    signed = _sign(reviewer, ask_recall(manager, story[0]))

    assert recalls.signed_figures(signed).share == 1.0


def test_nothing_made_has_no_share(reviewer, manager):
    signed = _sign(reviewer, ask_recall(manager, make.ingredient_lot(manager)))

    assert recalls.signed_figures(signed).share is None


def test_bottles_brought_back_are_counted_once(reviewer, manager, story):
    starter, bottles, larder, _ = story
    _take_back(manager, bottles, "10", larder)

    figures = recalls.figures_of(recall(starter))

    assert (figures.shipped, figures.returned, figures.on_hand) == (52, 10, 55)
    assert figures.accounted == 100


def test_a_question_is_signed_once_by_who_reviews_and_says_what_was_learnt(
    operator, reviewer, manager, story
):
    run = ask_recall(manager, story[0])

    with pytest.raises(Refused, match="Only a reviewer"):
        _sign(operator, run)
    with pytest.raises(Refused, match="what was learnt"):
        _sign(reviewer, run, learnt="  ")
    with pytest.raises(Refused, match="not your password"):
        _sign(reviewer, run, password="wrong")
    run.refresh_from_db()
    assert (run.signature, run.result) == (None, None)
    _sign(reviewer, run)
    with pytest.raises(Refused, match="signed already"):
        _sign(reviewer, run)


def test_the_clock_needs_the_minute_and_a_lot_that_stands(manager, story):
    with pytest.raises(Refused, match="Write the time too"):
        ask_recall(manager, story[0], when=on_day(timezone.localdate()))
    with pytest.raises(Refused, match="still to come"):
        ask_recall(manager, story[0], when=When(timezone.now() + dt.timedelta(hours=1)))
    tea = make.ingredient_lot(manager)
    lots.void(actor=manager, record=tea, reason="typed twice")
    with pytest.raises(Refused, match="was voided"):
        ask_recall(manager, tea)


def test_the_last_word_of_a_customer_counts(manager, operator, story):
    starter, bottles, larder, _ = story
    run = ask_recall(manager, starter)
    _respond(operator, run, larder, is_reached=False)
    _respond(operator, run, larder, how="mail")
    _respond(operator, run, larder, found=20, sold_on=15)
    _respond(operator, run, larder, found=20, destroyed=8, returned=12, sold_on=18)
    _take_back(manager, bottles, "12", larder)

    answer = _answers(run)["Corner Larder"]

    assert (answer.sent, answer.back, len(answer.tries)) == (40, 12, 4)
    assert answer.reached.how == "mail"
    assert (answer.said.destroyed, answer.open) == (8, 2)


def test_how_well_it_works_is_told_of_all_customers(manager, operator, story):
    starter, _, larder, cafe = story
    run = ask_recall(manager, starter)
    stranger = make.customer(manager, "Not By The Books")
    _respond(operator, run, larder, found=30, destroyed=10, returned=3, sold_on=10)
    _respond(operator, run, cafe)
    _respond(operator, run, stranger, found=6)

    effect = recalls.Effect(run.level, list(_answers(run).values()))

    assert (effect.customers, effect.reached, effect.answered, effect.needed) == (3, 3, 2, 3)
    assert (effect.sent, effect.total("found"), effect.recovered) == (52, 36, 13 / 52)
    # What nobody named of the 40, and all of the 12; more named than had takes nothing off.
    assert effect.open == 12
    assert _answers(run)["Not By The Books"].open == -6


@pytest.mark.parametrize(("level", "needed"), [("A", 2), ("B", 1), ("D", 1), ("E", 0)])
def test_the_level_says_how_many_have_to_answer(manager, story, level, needed):
    run = ask_recall(manager, story[0], level=level)

    assert recalls.Effect(run.level, list(_answers(run).values())).needed == needed


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"is_reached": False, "found": 3}, "has not said what they have"),
        ({"sold_on": 3}, "how many they still had"),
        ({"found": 3, "destroyed": 2, "returned": 2}, "are 4, more than they had"),
        ({"when": When(make.at(1).at)}, "The question was asked"),
    ],
)
def test_what_a_customer_cannot_have_said_is_refused(manager, operator, story, said, words):
    run = ask_recall(manager, story[0])

    with pytest.raises(ValidationError, match=words):
        _respond(operator, run, story[2], **said)


def test_a_struck_out_answer_counts_no_more(manager, operator, story):
    run = ask_recall(manager, story[0])
    wrong = _respond(operator, run, story[2], found=3)
    lots.void(actor=manager, record=wrong, reason="another customer")

    assert _answers(run)["Corner Larder"].tries == ()
