"""The other logs: cleaning, sanitiser, training, pests, water, maintenance; and complaints."""

from __future__ import annotations

from typing import Any

from brewlog.domain.lots import flag, refuse_future, save_changed, save_new
from brewlog.domain.refusals import refuse_before, refuse_void
from brewlog.models import Customer, Location, Lot, ReviewFlag, User, Vessel
from brewlog.models.base import Guarded
from brewlog.recording import Refused, recording
from brewlog.when import When
from compliance.domain.deviations import open_deviation
from compliance.models import Complaint, Deviation, LogEntry

_L = LogEntry.Log
# What a line of each log cannot do without besides what was done: the field, and the words
# that ask for it.
NEEDED: dict[str, dict[str, str]] = {
    _L.CLEANING: {"agent": "Write the chemical and its strength, or that it was water alone."},
    _L.SANITISER: {
        "agent": "Write which sanitiser.",
        "value_text": "Write the strength as the test strip showed it, like 100 ppm.",
    },
    _L.TRAINING: {"checked_by": "Write who trained them."},
    _L.WATER: {"value_text": "Write the result with its unit, like 0 coliform per 100 mL."},
}
# Complaints that someone was harmed, and what a reviewer has to see besides.
_HARM = {Complaint.Kind.ILLNESS, Complaint.Kind.INJURY}
_TO_SEE = {*_HARM, Complaint.Kind.MOULD}


def write_log(
    *,
    actor: User,
    log: str,
    what: str,
    when: When,
    subject: str = "",
    vessel: Vessel | None = None,
    location: Location | None = None,
    agent: str = "",
    value_text: str = "",
    is_good: bool = True,
    checked_by: str = "",
    document: Any = "",
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> LogEntry:
    """Write a line of one of the logs. What it is about is the vessel or the place where one
    is named. Raises `Refused` by field for what that log cannot do without, and where
    something was not as it should be and nothing says what was done about it."""
    refuse_future(when)
    about = subject.strip() or str(vessel or location or "")
    if not about:
        raise Refused({"subject": "Say what, where or who it is about."})
    given = {"agent": agent, "value_text": value_text, "checked_by": checked_by}
    asked = NEEDED.get(log, {})
    wanting = {name: words for name, words in asked.items() if not given[name].strip()}
    if wanting:
        raise Refused(wanting)
    if not is_good and not note.strip():
        raise Refused({"note": "It was not as it should be: write what was done about it."})
    with recording(actor, reason):
        entry = LogEntry(
            log=log,
            subject=about,
            vessel=vessel,
            location=location,
            what=what,
            is_good=is_good,
            document=document,
            done_by=done_by or actor,
            note=note,
            **given,
        )
        entry.when = when
        save_new(entry)
        return entry


def record_complaint(
    *,
    actor: User,
    kind: str,
    said_by: str,
    what: str,
    when: When,
    lot: Lot | None = None,
    customer: Customer | None = None,
    done_by: User | None = None,
    note: str = "",
    reason: str = "",
) -> list[Guarded]:
    """Write down what a customer said. The complaint comes first in the list, then what it
    set off.

    Illness and injury open a deviation and, like mould, put the lot before a reviewer. Raises
    `Refused` for a voided lot, or one that was not made yet.
    """
    refuse_future(when)
    if lot is not None:
        refuse_void(lot)
        refuse_before(lot, when)
    with recording(actor, reason):
        complaint = Complaint(
            kind=kind,
            said_by=said_by,
            what=what,
            lot=lot,
            customer=customer,
            done_by=done_by or actor,
            note=note,
        )
        complaint.when = when
        save_new(complaint)
        return [complaint, *_set_off_by(actor, complaint)]


def _set_off_by(actor: User, complaint: Complaint) -> list[Guarded]:
    found: list[Guarded] = []
    words = f"Complaint of {complaint.when}: {complaint.get_kind_display()}"
    if complaint.kind in _HARM:
        found.append(
            open_deviation(
                actor=actor,
                kind=Deviation.Kind.COMPLAINT,
                title=words,
                what_happened=complaint.what,
                lots=[complaint.lot] if complaint.lot else [],
                when=complaint.when,
                done_by=complaint.done_by,
            )
        )
    if complaint.lot is not None and complaint.kind in _TO_SEE:
        found.append(flag(complaint.lot, ReviewFlag.Kind.OTHER, words))
    return found


def note_outcome(*, actor: User, complaint: Complaint, outcome: str, reason: str = "") -> Complaint:
    """Write what came of a complaint. An earlier word on it stays in the history."""
    if not outcome.strip():
        raise Refused({"outcome": "Write what was found and what was done."})
    with recording(actor, reason):
        complaint.reread()
        complaint.outcome = outcome.strip()
        save_changed(complaint)
        return complaint
