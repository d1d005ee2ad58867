"""The other logs, and complaints with what they set off."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from brewlog.domain import lots
from brewlog.models import ReviewFlag
from brewlog.recording import Refused
from brewlog.when import on_day
from compliance.domain import logs
from compliance.models import Complaint, Deviation, LogEntry
from tests import factories
from tests.factories import at

pytestmark = pytest.mark.django_db

WHOLE = {
    "cleaning": {"agent": "caustic 2 %", "subject": "filler"},
    "sanitiser": {"agent": "peracetic", "value_text": "150 ppm", "subject": "bucket"},
    "training": {"checked_by": "Rui", "subject": "Ana"},
    "pest": {"subject": "bait box 3"},
    "water": {"value_text": "0 per 100 mL", "subject": "tap 2"},
    "maintenance": {"subject": "lamp over the filler"},
    "other": {"subject": "visitor"},
}


def write(actor, log="cleaning", **changes):
    details = {"what": "as planned", "when": at(5), **WHOLE[log]}
    return logs.write_log(actor=actor, log=log, **{**details, **changes})


def complain(actor, kind="taste", **changes):
    details = {"said_by": "Corner shop", "what": "too sour", "when": at(25)}
    return logs.record_complaint(actor=actor, kind=kind, **{**details, **changes})


@pytest.mark.parametrize("log", LogEntry.Log.values)
def test_every_log_keeps_its_line(operator, log):
    entry = write(operator, log)

    kept = LogEntry.objects.get(pk=entry.pk)
    assert (kept.log, kept.subject, kept.done_by) == (log, WHOLE[log]["subject"], operator)
    assert kept.is_good


@pytest.mark.parametrize(
    ("log", "field"),
    [
        ("cleaning", "agent"),
        ("sanitiser", "agent"),
        ("sanitiser", "value_text"),
        ("training", "checked_by"),
        ("water", "value_text"),
        ("pest", "subject"),
    ],
)
def test_what_a_log_cannot_do_without_is_asked_for(operator, log, field):
    with pytest.raises(Refused) as refused:
        write(operator, log, **{field: " "})

    assert list(refused.value.error_dict) == [field]
    assert not LogEntry.objects.exists()


def test_a_vessel_or_a_place_says_what_it_is_about(operator):
    vessel = factories.vessel(operator, "Jar 7")
    place = factories.location(operator, "Back room")

    assert write(operator, vessel=vessel, subject="").subject == "Jar 7"
    assert write(operator, "pest", location=place, subject="").subject == "Back room"


def test_what_was_not_as_it_should_be_says_what_was_done(operator):
    with pytest.raises(Refused, match="what was done about it"):
        write(operator, "sanitiser", is_good=False)

    assert not write(operator, "sanitiser", is_good=False, note="mixed anew").is_good


def test_nothing_is_logged_that_is_still_to_come(operator):
    with pytest.raises(Refused, match="still to come"):
        write(operator, when=on_day(timezone.localdate() + dt.timedelta(days=2)))


@pytest.mark.parametrize(
    ("kind", "flags", "deviations"),
    [("illness", 1, 1), ("injury", 1, 1), ("mould", 1, 0), ("taste", 0, 0), ("other", 0, 0)],
)
def test_what_a_complaint_sets_off_follows_its_kind(operator, kind, flags, deviations):
    lot = factories.bottles(operator)

    found = complain(operator, kind, lot=lot)

    assert isinstance(found[0], Complaint)
    assert ReviewFlag.objects.filter(lot=lot).count() == flags
    assert Deviation.objects.filter(kind="complaint", lots__lot=lot).count() == deviations
    assert len(found) == 1 + flags + deviations


def test_illness_without_a_known_lot_opens_a_deviation_all_the_same(operator):
    complain(operator, "illness")

    assert not ReviewFlag.objects.exists()
    assert Deviation.objects.get().title.endswith("someone fell ill")


def test_a_lot_that_was_not_made_yet_or_is_voided_is_refused(operator, manager):
    lot = factories.bottles(operator, when=at(20))
    with pytest.raises(Refused):
        complain(operator, lot=lot, when=at(19))
    lots.void(actor=manager, record=lot, reason="typed twice")
    with pytest.raises(Refused, match="void"):
        complain(operator, lot=lot)

    assert not Complaint.objects.exists()


def test_what_came_of_it_is_written_and_the_earlier_word_kept(reviewer):
    (complaint,) = complain(reviewer)
    logs.note_outcome(actor=reviewer, complaint=complaint, outcome="asked for the bottle")
    logs.note_outcome(actor=reviewer, complaint=complaint, outcome="within limits")

    words = list(complaint.history.order_by("history_id").values_list("outcome", flat=True))
    assert words == ["", "asked for the bottle", "within limits"]
    with pytest.raises(Refused, match="what was found"):
        logs.note_outcome(actor=reviewer, complaint=complaint, outcome=" ")


def test_a_voided_complaint_has_no_outcome(reviewer):
    (complaint,) = complain(reviewer)
    lots.void(actor=reviewer, record=complaint, reason="another brewery's bottle")

    with pytest.raises(Refused, match="is voided: another brewery's bottle"):
        logs.note_outcome(actor=reviewer, complaint=complaint, outcome="nothing")
