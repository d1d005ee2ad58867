"""Kegs: cleaned, filled, out, back, retired."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.exceptions import ValidationError

from brewlog.domain import kegs
from brewlog.models import KegEvent, ReviewFlag
from brewlog.recording import Forbidden, Refused
from brewlog.when import on_day
from tests import factories
from tests.factories import at, keg_event

pytestmark = pytest.mark.django_db


@pytest.fixture
def keg(operator):
    return factories.keg(operator, "SN 4417")


@pytest.fixture
def lot(operator):
    in_kegs = factories.bottle_format(operator, "20 L keg", holds="20 L", container="keg")
    return factories.bottles(operator, 2, format=in_kegs, when=at(20, 8), carbonation="forced")


def test_a_keg_goes_round_with_its_lot_and_customer(operator, keg, lot):
    shop = factories.customer(operator)
    events = [
        keg_event(operator, keg, "cleaned", at(19)),
        keg_event(operator, keg, "filled", at(20, 9), lot=lot),
        keg_event(operator, keg, "out", at(22), customer=shop),
        keg_event(operator, keg, "back", at(29)),
    ]

    assert [(each.kind, each.lot_id, each.customer_id) for each in events] == [
        ("cleaned", None, None),
        ("filled", lot.pk, None),
        ("out", lot.pk, shop.pk),
        ("back", lot.pk, shop.pk),
    ]
    assert kegs.last_event(keg) == events[-1]
    assert events[0].history.get().history_user == operator


def test_times_known_to_the_day_follow_the_order_of_writing(operator, keg, lot):
    the_20th = on_day(dt.date(2026, 3, 20))
    keg_event(operator, keg, "cleaned", at(20, 9))
    keg_event(operator, keg, "filled", the_20th, lot=lot)
    keg_event(operator, keg, "out", the_20th, customer=factories.customer(operator))
    keg_event(operator, keg, "back", at(20, 17))
    keg_event(operator, keg, "cleaned", the_20th)

    assert kegs.last_event(keg).kind == "cleaned"


def test_something_written_late_does_not_become_the_last(operator, keg, lot):
    keg_event(operator, keg, "cleaned", at(19))
    keg_event(operator, keg, "filled", at(20, 9), lot=lot)
    keg_event(operator, keg, "cleaned", at(15))

    assert kegs.last_event(keg).kind == "filled"
    assert kegs.last_event(keg, at(19, 12)).when == at(19)


def test_a_retired_keg_is_out_of_use_for_good(operator, keg, lot):
    keg_event(operator, keg, "retired", at(19))

    keg.refresh_from_db()
    assert not keg.in_use
    with pytest.raises(Refused, match="was retired"):
        keg_event(operator, keg, "cleaned", at(20))


@pytest.mark.parametrize(
    ("before", "kind", "words"),
    [
        ([], "back", "is not out"),
        ([], "out", "is not filled"),
        (["cleaned"], "out", "is not filled"),
        (["cleaned", "filled", "out"], "out", "is not filled"),
        (["cleaned", "filled", "out"], "cleaned", "Record that it came back first"),
        (["cleaned", "filled", "out"], "filled", "Record that it came back first"),
        (["cleaned", "filled"], "back", "is not out"),
    ],
)
def test_what_cannot_follow_is_refused(operator, keg, lot, before, kind, words):
    shop = factories.customer(operator)
    fields = {"filled": {"lot": lot}, "out": {"customer": shop}}
    for hour, each in enumerate(before):
        keg_event(operator, keg, each, at(20, 9 + hour), **fields.get(each, {}))

    with pytest.raises(Refused, match=words):
        keg_event(operator, keg, kind, at(22), **fields.get(kind, {}))

    assert KegEvent.objects.count() == len(before)


class TestFillingOneThatWasNotCleaned:
    def test_is_forbidden(self, operator, keg, lot):
        keg_event(operator, keg, "cleaned", at(18))
        keg_event(operator, keg, "filled", at(20, 9), lot=lot)
        keg_event(operator, keg, "out", at(21), customer=factories.customer(operator))
        keg_event(operator, keg, "back", at(22))

        with pytest.raises(Forbidden, match="SN 4417 was not cleaned since it came back"):
            keg_event(operator, keg, "filled", at(23), lot=lot)

        assert kegs.last_event(keg).kind == "back"

    def test_is_recorded_and_flagged_when_it_was_done(self, operator, keg, lot):
        keg_event(operator, keg, "filled", at(23), lot=lot, already_done=True)

        flag = ReviewFlag.objects.get()
        assert (flag.lot_id, flag.text) == (
            lot.pk,
            "filled although keg SN 4417 was not cleaned here",
        )


def test_held_drink_is_not_filled_or_sent(operator, reviewer, keg, lot):
    keg_event(operator, keg, "cleaned", at(19))
    keg_event(operator, keg, "filled", at(20, 9), lot=lot)
    factories.hold(reviewer, lot, when=at(21))
    shop = factories.customer(operator)

    with pytest.raises(Forbidden, match="must not be sent out"):
        keg_event(operator, keg, "out", at(22), customer=shop)
    keg_event(operator, keg, "out", at(22), customer=shop, already_done=True)

    assert "keg SN 4417: sent out although" in ReviewFlag.objects.get().text


def test_bottles_are_not_filled_into_a_keg(operator, keg):
    bottles = factories.bottles(operator, when=at(20, 8))
    keg_event(operator, keg, "cleaned", at(19))

    with pytest.raises(Refused, match="not in kegs"):
        keg_event(operator, keg, "filled", at(20, 9), lot=bottles)


def test_a_filling_names_its_lot_and_an_outgoing_keg_its_customer(operator, keg, lot):
    keg_event(operator, keg, "cleaned", at(19))

    with pytest.raises(ValidationError, match="Name the lot"):
        keg_event(operator, keg, "filled", at(20, 9))
    keg_event(operator, keg, "filled", at(20, 9), lot=lot)
    with pytest.raises(ValidationError, match="Name the customer"):
        keg_event(operator, keg, "out", at(21))
