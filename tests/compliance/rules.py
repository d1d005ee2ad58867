"""Rule sets for tests: the shipped ones, read in and switched on as a manager does."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.urls import reverse

from brewlog.models import Lot, User
from brewlog.when import now
from compliance.domain import deviations, policies, recalls, rulesets
from compliance.domain.signing import sign
from compliance.models import Deviation, Policy, RecallRun, RuleSet, Signature

FOLDER = settings.BASE_DIR / "fixtures" / "rulesets"
PASSWORD = "living culture 7"
SINCE = dt.date(2026, 1, 1)


def address(slug: str) -> str:
    """Where an entry of that slug is filled in."""
    return reverse("entry", args=[slug])


def read_in(manager: User) -> None:
    """All rule sets that come with the program; none binds."""
    rulesets.read_rulesets(actor=manager, folder=FOLDER)


def bound(manager: User, key: str, since: dt.date = SINCE) -> RuleSet:
    """The shipped rule set of that key, binding since the beginning of 2026."""
    if not RuleSet.objects.filter(key=key).exists():
        read_in(manager)
    ruleset = RuleSet.objects.get(key=key)
    rulesets.bind(actor=manager, ruleset=ruleset, since=since)
    return ruleset


def deviation(actor: User, *lots: Lot, kind: str = "procedure", **fields) -> Deviation:
    return deviations.open_deviation(
        actor=actor,
        kind=kind,
        title=fields.pop("title", "lid left open"),
        what_happened="found open in the morning",
        lots=lots,
        **fields,
    )


def signature(actor: User) -> Signature:
    """A signature of nothing in particular."""
    return sign(
        actor=actor,
        password=PASSWORD,
        meaning=Signature.Meaning.REVIEW,
        contents={"checkpoint:1": {"value": "3.4"}},
    )


def policy(manager: User, **fields) -> Policy:
    fields.setdefault("review_within_days", 7)
    return policies.set_policy(actor=manager, reason="agreed today", **fields)


def ask_recall(actor: User, lot: Lot, **fields) -> RecallRun:
    """A recall drill of a lot, asked now."""
    given = {"kind": "drill", "question": "who has it?", "when": now()} | fields
    return recalls.start_recall(actor=actor, lot=lot, **given)
