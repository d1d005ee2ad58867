"""A recall in earnest is closed with its figures, and opened again by a new record."""

from __future__ import annotations

import json

import pytest

from brewlog.domain import lots
from brewlog.recording import Refused
from compliance.domain import recall_closing, recalls
from compliance.domain.signing import is_intact
from compliance.models import RecallClosing, RecallRun
from tests import factories as make
from tests.compliance.rules import PASSWORD, ask_recall

pytestmark = pytest.mark.django_db


@pytest.fixture
def sent(manager):
    """A starter in bottles, 40 of them shipped to one shop and 12 to another."""
    starter = make.culture(manager, "10 L")
    batch = make.batch(manager, "60 L", starter=starter, starter_amount="6 L")
    bottles = make.bottles(manager, 100, batch, "33 L")
    shops = make.customer(manager, "Corner Larder"), make.customer(manager, "Quay Cafe")
    make.shipment(manager, bottles, "40", shops[0])
    make.shipment(manager, bottles, "12", shops[1])
    return starter, *shops


@pytest.fixture
def run(manager, reviewer, sent):
    """A recall of it, signed, to which one shop of the two answered."""
    starter, larder, _ = sent
    asked = ask_recall(manager, starter, kind="recall")
    recalls.record_response(
        actor=manager, run=asked, customer=larder, how="phone", when=make.now(),
        found=22, destroyed=10, returned=12, sold_on=18,
    )  # fmt: skip
    return sign(reviewer, asked)


def sign(actor, run):
    return recalls.sign_recall(actor=actor, run=run, learnt="nothing", password=PASSWORD)


def close(actor, run, **fields):
    given = {
        "why": "the last shop cannot be reached", "bottles": "22 poured away at the larder",
        "when": make.now(), "password": PASSWORD,
    } | fields  # fmt: skip
    return recall_closing.close_recall(actor=actor, run=run, **given)


def reopen(actor, run, **fields):
    given = {"why": "a case came to light", "when": make.now(), "password": PASSWORD} | fields
    return recall_closing.reopen_recall(actor=actor, run=run, **given)


def goes_on() -> list[RecallRun]:
    return list(recall_closing.not_ended(RecallRun.objects.live()))


def test_the_closing_keeps_and_signs_how_well_it_worked_as_it_stood(manager, reviewer, run, sent):
    closing = close(reviewer, run)
    recalls.record_response(
        actor=manager, run=run, customer=sent[2], how="phone", when=make.now(), found=0
    )

    assert closing.result == {
        "level": "A", "customers": 2, "reached": 1, "answered": 1, "needed": 2, "sent": 52,
        "found": 22, "destroyed": 10, "returned": 12, "sold_on": 18, "open": 12,
    }  # fmt: skip
    closing.refresh_from_db()
    assert (closing.result["answered"], recall_closing.effect_of(run).answered) == (1, 2)
    [said] = json.loads(closing.signature.contents).values()
    assert said["why"] == "the last shop cannot be reached"
    assert "'open': 12" in said["result"]
    assert is_intact(closing.signature)
    assert closing.signature.person == reviewer


def test_it_goes_on_until_it_is_closed_and_again_once_it_is_opened_again(reviewer, run):
    assert goes_on() == [run]

    close(reviewer, run)
    assert recall_closing.is_closed(run)
    assert goes_on() == []

    reopen(reviewer, run)
    assert not recall_closing.is_closed(run)
    assert goes_on() == [run]

    close(reviewer, run, why="that case is back")
    assert goes_on() == []
    acts = RecallClosing.objects.order_by("id").values_list("act", flat=True)
    assert list(acts) == ["closed", "reopened", "closed"]


def test_a_drill_goes_on_until_it_is_signed(manager, reviewer, sent):
    drill = ask_recall(manager, sent[0])
    assert goes_on() == [drill]

    sign(reviewer, drill)

    assert goes_on() == []
    with pytest.raises(Refused, match="A drill ends with its signed answer"):
        close(reviewer, drill)


def test_what_nobody_has_signed_is_not_closed(manager, reviewer, sent):
    with pytest.raises(Refused, match="Sign who has it first"):
        close(reviewer, ask_recall(manager, sent[0], kind="withdrawal"))


def test_it_is_closed_once_and_opened_again_only_when_closed(reviewer, run):
    with pytest.raises(Refused, match="It is not closed"):
        reopen(reviewer, run)
    close(reviewer, run)
    with pytest.raises(Refused, match="closed already"):
        close(reviewer, run)


def test_nothing_is_closed_without_a_reviewer_and_their_password(operator, reviewer, run):
    with pytest.raises(Refused, match="Only a reviewer or a manager closes a recall"):
        close(operator, run)
    with pytest.raises(Refused, match="not your password"):
        close(reviewer, run, password="wrong")
    assert not RecallClosing.objects.exists()


def test_it_is_not_closed_before_it_was_asked(reviewer, run):
    with pytest.raises(Refused, match="the last time it was acted on"):
        close(reviewer, run, when=make.now(-3))


def test_an_open_question_is_struck_out_and_a_signed_one_is_not(manager, reviewer, run, sent):
    drill = ask_recall(manager, sent[0])

    lots.void(actor=manager, record=drill, reason="asked of the wrong starter")

    assert drill not in goes_on()
    with pytest.raises(Refused, match="is signed: it is undone by a new act"):
        lots.void(actor=manager, record=run, reason="no more of this")
